"""How packets spread over people, by fair shares and by turns: bars side by side."""

from __future__ import annotations

import pyqtgraph as pg
from PySide6.QtCore import Qt
from PySide6.QtGui import QBrush
from PySide6.QtWidgets import QVBoxLayout, QWidget

from sporebank.core.sharing_out import Outcome
from sporebank.window.theme import Tokens
from sporebank.window.widgets.plot import Plot
from sporebank.window.widgets.simple import label

_WIDTH, _TICKS = 0.38, 12
FAIR, TURNS = "alive", "fading"


class SpreadPlot(QWidget):
    """Draws how many people got how many packets: fair shares filled, turns hatched."""

    def __init__(self, colours: Tokens) -> None:
        super().__init__()
        self.plot = Plot(colours)
        self.plot.setMinimumHeight(190)
        inside = QVBoxLayout(self)
        inside.setContentsMargins(0, 0, 0, 0)
        inside.setSpacing(2)
        inside.addWidget(label("People, by the packets they get: fair shares filled, turns hatched", "small"))
        inside.addWidget(self.plot, 1)

    def show_outcomes(self, fair: Outcome, turns: Outcome) -> None:
        """Draw two outcomes of one round."""
        self.plot.plotItem.clear()
        most = max((packets for one in (fair, turns) for packets, _ in one.spread), default=0)
        for outcome, token, side, brush in (
            (fair, FAIR, -_WIDTH / 2, QBrush(self.plot.tint(FAIR, 0.8))),
            (turns, TURNS, _WIDTH / 2, QBrush(self.plot.tint(TURNS), Qt.BrushStyle.BDiagPattern)),
        ):
            self.plot.addItem(
                pg.BarGraphItem(
                    x=[packets + side for packets, _ in outcome.spread],
                    height=[people for _, people in outcome.spread],
                    width=_WIDTH,
                    brush=brush,
                    pen=self.plot.pen(token),
                )
            )
        step = max(most // _TICKS, 1)
        self.plot.getAxis("bottom").setTicks([[(one, f"{one:,}") for one in range(0, most + 1, step)]])
        self.plot.setXRange(-0.6, most + 0.6, padding=0)
