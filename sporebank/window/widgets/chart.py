"""A place for the decay chart; what draws it is loaded when the first chart is shown."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QSize
from PySide6.QtWidgets import QSizePolicy, QVBoxLayout, QWidget

from sporebank.core import chart as charts
from sporebank.core.chart import Chart
from sporebank.window.theme import Tokens, tokens

if TYPE_CHECKING:
    from sporebank.window.widgets.decline import DeclinePlot

_SMALL, _LARGE = QSize(280, 178), QSize(640, 380)


class DeclineChart(QWidget):
    """Shows a decline; what it says is also its accessible description.

    Args:
        parent: what it stands in.
        large: whether it can be zoomed, and takes all the room there is.
    """

    def __init__(self, parent: QWidget | None = None, *, large: bool = False) -> None:
        super().__init__(parent)
        self.chart: Chart | None = None
        self.plot: DeclinePlot | None = None
        self._large, self._worn = large, tokens()
        self.setAccessibleName("How the share alive declines")
        upwards = QSizePolicy.Policy.Expanding if large else QSizePolicy.Policy.Fixed
        self.setSizePolicy(QSizePolicy.Policy.Expanding, upwards)
        self._inside = QVBoxLayout(self)
        self._inside.setContentsMargins(0, 0, 0, 0)

    def sizeHint(self) -> QSize:
        """Return a height that leaves room for the words around it."""
        return _LARGE if self._large else _SMALL

    def show_chart(self, chart: Chart | None) -> None:
        """Show a chart, or nothing."""
        self.chart = chart
        self.setAccessibleDescription("" if chart is None else charts.words(chart))
        self.setVisible(chart is not None)
        self._draw()

    def _draw(self) -> None:
        if self.chart is None:
            return
        if self.plot is None:
            self.plot = self._made(tokens())
        self.plot.setAccessibleDescription(self.accessibleDescription())
        self.plot.show_chart(self.chart)

    def _made(self, colours: Tokens) -> DeclinePlot:
        from sporebank.window.widgets.decline import DeclinePlot  # brings pyqtgraph

        large = self._large
        plot = DeclinePlot(colours, zooms=large, terse=not large, size=1.0 if large else 0.88)
        plot.setAccessibleName(self.accessibleName())
        self._worn = colours
        self._inside.addWidget(plot)
        self.setFocusProxy(plot)
        return plot

    def changeEvent(self, event: QEvent) -> None:
        """Draw anew in the colours now worn."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange and self.plot is not None and self._worn != tokens():
            self._inside.removeWidget(self.plot)
            self.plot.deleteLater()
            self.plot = None
            self._draw()
