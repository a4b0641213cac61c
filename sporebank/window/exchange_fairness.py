"""How fair a sharing out is: both methods side by side, in figures and as a chart."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QGridLayout, QVBoxLayout, QWidget

from sporebank.core.counted import packets
from sporebank.core.sharing_out import Outcome
from sporebank.window.theme import Tokens
from sporebank.window.widgets.late import Late
from sporebank.window.widgets.simple import label

if TYPE_CHECKING:
    from sporebank.window.widgets.spread import SpreadPlot


class SpreadChart(Late[tuple[Outcome, Outcome], "SpreadPlot"]):
    """How packets spread over people by both methods."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Packets a person, by both methods")
        self.hide()

    def make(self, colours: Tokens) -> SpreadPlot:
        """Return the plot."""
        from sporebank.window.widgets.spread import SpreadPlot  # brings pyqtgraph

        return SpreadPlot(colours)

    def fill(self, plot: SpreadPlot, record: tuple[Outcome, Outcome]) -> None:
        """Draw the plot."""
        plot.show_outcomes(*record)


class Fairness(QWidget):
    """Both methods side by side, in figures and as a chart."""

    def __init__(self) -> None:
        super().__init__()
        self.figures = QGridLayout()
        self.figures.setHorizontalSpacing(28)
        self.figures.setVerticalSpacing(4)
        self.chart = SpreadChart()
        self.none = label(
            "Share out, or compare both methods, to see how even it is and what else it costs.", "mute", wrap=True
        )
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 4, 0, 0)
        column.addWidget(self.none)
        column.addLayout(self.figures)
        column.addWidget(self.chart, 1)
        column.addStretch(0)

    def show_both(self, fair: Outcome | None, turns: Outcome | None) -> None:
        """Show two outcomes, or that there are none yet."""
        while (item := self.figures.takeAt(0)) is not None:
            widget = item.widget()
            if widget is not None:
                widget.hide()
                widget.deleteLater()
        self.none.setVisible(fair is None or turns is None)
        if fair is None or turns is None:
            self.chart.show_record(None, "")
            return
        rows = (("", "Fair shares", "Turns"), *compared(fair, turns))
        for place, row in enumerate(rows):
            for column, text in enumerate(row):
                self.figures.addWidget(label(text, "mute" if not place or not column else ""), place, column)
        self.figures.setColumnStretch(3, 1)
        said = "; ".join(f"{what}: {one} by fair shares, {other} by turns" for what, one, other in rows[1:])
        self.chart.show_record((fair, turns), said)


def compared(fair: Outcome, turns: Outcome) -> tuple[tuple[str, str, str], ...]:
    """Return the figures by which two outcomes are told apart, each with its words."""

    def worst(one: Outcome) -> str:
        return "all orders are filled" if one.worst is None else packets(one.worst)

    return (
        ("Packets given", f"{fair.total:,}", f"{turns.total:,}"),
        ("First choices met", f"{fair.first:,}", f"{turns.first:,}"),
        ("The least an unfilled order gets", worst(fair), worst(turns)),
    )
