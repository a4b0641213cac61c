"""How sure a plan of counting is, as two plots: the chance to pass, and how many are counted, by the share alive."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QVBoxLayout, QWidget

from sporebank.core import operating
from sporebank.core.operating import Operating
from sporebank.window.theme import Tokens
from sporebank.window.widgets.plot import Plot
from sporebank.window.widgets.simple import label

_PARTS = (0.0, 0.25, 0.5, 0.75, 1.0)
_UPPER, _LOWER = 170, 110
_PASSES, _FAILS = 0.15, 0.85
"""How high the words on the two ways to err stand, beside the curve where it has more room."""
_HALF = 0.45


class SuretyPlot(QWidget):
    """Draws the operating characteristic of a plan."""

    def __init__(self, colours: Tokens) -> None:
        super().__init__()
        self.passing, self.counted = Plot(colours, size=0.88), Plot(colours, size=0.88)
        inside = QVBoxLayout(self)
        inside.setContentsMargins(0, 0, 0, 0)
        inside.setSpacing(2)
        for plot, text, height in (
            (self.passing, "Chance to pass, by the share truly alive", _UPPER),
            (self.counted, "How many are counted on average", _LOWER),
        ):
            plot.setFixedHeight(height)
            plot.getAxis("bottom").setTicks([[(part, f"{part * 100:.0f} %") for part in _PARTS]])
            plot.setXRange(0.0, 1.0, padding=0.01)
            inside.addWidget(label(text, "small"))
            inside.addWidget(plot)
        self.passing.getAxis("left").setTicks([[(part, f"{part * 100:.0f} %") for part in _PARTS]])
        self.passing.setYRange(0.0, 1.0, padding=0.04)

    def show_plan(self, found: Operating) -> None:
        """Draw how sure a plan is."""
        for plot in (self.passing, self.counted):
            plot.plotItem.clear()
        self._draw_passing(found)
        self._draw_counted(found)

    def _draw_passing(self, found: Operating) -> None:
        plot, plan = self.passing, found.plan
        for part in _PARTS:
            plot.plotItem.addLine(y=part, pen=plot.pen("line"))
        plot.curve(found.shares, found.passing, plot.pen("alive", 2.4), name="passing")
        wrong = plot.pen("bad", 3.0)
        plot.curve([plan.mark] * 2, [0.0, found.at_mark.alive], wrong)
        plot.curve([plan.better] * 2, [found.at_better.alive, 1.0], wrong)
        beside, anchor = (plan.mark - 0.01, 1.0) if plan.mark >= _HALF else (plan.better + 0.01, 0.0)
        plot.say(operating.wrongly_passes(found), "bad", (beside, _PASSES), (anchor, 0.5))
        plot.say(operating.wrongly_fails(found), "bad", (beside, _FAILS), (anchor, 0.5))
        self._draw_marks(plot, found)

    def _draw_marks(self, plot: Plot, found: Operating) -> None:
        for share in (found.plan.mark, found.plan.better):
            plot.rule(share, 90, plot.pen("bad", 1.0, Qt.PenStyle.DashLine), "bad", "", 0.0)

    def _draw_counted(self, found: Operating) -> None:
        plot, plan = self.counted, found.plan
        steps = (0, plan.most // 2, plan.most)
        plot.getAxis("left").setTicks([[(step, f"{step}") for step in steps]])
        plot.setYRange(0.0, float(plan.most), padding=0.06)
        for step in steps:
            plot.plotItem.addLine(y=step, pen=plot.pen("line"))
        plot.curve(found.shares, found.counted, plot.pen("alive", 2.4), name="counted")
        self._draw_marks(plot, found)
