"""The place of the decay chart in a panel or a dialog."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QSize
from PySide6.QtWidgets import QSizePolicy, QWidget

from sporebank.core import chart as charts
from sporebank.core.chart import Chart
from sporebank.window.theme import Tokens
from sporebank.window.widgets.late import Late

if TYPE_CHECKING:
    from sporebank.window.widgets.decline import DeclinePlot

_SMALL, _LARGE = QSize(280, 178), QSize(640, 380)


class DeclineChart(Late[Chart, "DeclinePlot"]):
    """Shows a decline; what it says is also its accessible description.

    Args:
        parent: what it stands in.
        large: whether it can be zoomed, and takes all the room there is.
    """

    def __init__(self, parent: QWidget | None = None, *, large: bool = False) -> None:
        super().__init__(parent)
        self._large = large
        self.setAccessibleName("How the share alive declines")
        upwards = QSizePolicy.Policy.Expanding if large else QSizePolicy.Policy.Fixed
        self.setSizePolicy(QSizePolicy.Policy.Expanding, upwards)

    def sizeHint(self) -> QSize:
        """Return a height that leaves room for the words around it."""
        return _LARGE if self._large else _SMALL

    def show_chart(self, chart: Chart | None) -> None:
        """Show a chart, or nothing."""
        self.show_record(chart, "" if chart is None else charts.words(chart))

    def make(self, colours: Tokens) -> DeclinePlot:
        """Return the plot."""
        from sporebank.window.widgets.decline import DeclinePlot  # brings pyqtgraph

        large = self._large
        return DeclinePlot(colours, zooms=large, terse=not large, size=1.0 if large else 0.88)

    def fill(self, plot: DeclinePlot, record: Chart) -> None:
        """Draw a chart."""
        plot.show_chart(record)
