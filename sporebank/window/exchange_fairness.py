"""How fair a sharing out is: both methods side by side, in figures and as a chart."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QGridLayout, QVBoxLayout, QWidget

from sporebank.core.counted import packets
from sporebank.core.errors import Refusal, Stopped
from sporebank.core.sharing_out import Outcome
from sporebank.jobs import sharing_round
from sporebank.jobs.sharing_round import Gathered, Shared
from sporebank.window.background import Cancelled, Report
from sporebank.window.context import Context
from sporebank.window.tell import tell_failure
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


_ASK = "Share out, or compare both methods, to see how even it is and what else it costs."
_WAIT = "Both methods are being worked out."
_TITLE = "Comparing both methods"


class Fairness(QWidget):
    """Both methods side by side, in figures and as a chart.

    What a round rests on is its state: its terms, its list and its orders. Once it was shared out, a comparison is
    worked out by itself when this comes into sight, unless the keeper stopped it for the same state.
    """

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._exchange_id = 0
        self._by_itself = False
        self._state: object = None
        self._sought: object = None
        """The state of the comparison that is in sight or under way."""
        self._given_up: object = None
        """The state for which it was stopped or refused."""
        self.figures = QGridLayout()
        self.figures.setHorizontalSpacing(28)
        self.figures.setVerticalSpacing(4)
        self.chart = SpreadChart()
        self.none = label(_ASK, "mute", wrap=True)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 4, 0, 0)
        column.addWidget(self.none)
        column.addLayout(self.figures)
        column.addWidget(self.chart, 1)
        column.addStretch(0)

    def stand(self, exchange_id: int, state: object, *, shared: bool) -> None:
        """Hear what an exchange rests on now; a comparison that rests on anything else is forgotten."""
        if state != self._state:
            self._state, self._sought = state, None
            self._show_none(_ASK)
        self._exchange_id, self._by_itself = exchange_id, shared
        self._seek_unasked()

    def showEvent(self, event: QShowEvent) -> None:
        """Work out what is missing."""
        super().showEvent(event)
        self._seek_unasked()

    def _seek_unasked(self) -> None:
        if self._by_itself and self.isVisible() and self._given_up is not self._state:
            self.seek()

    def seek(self) -> None:
        """Gather in the lane behind the keeper's work, work both methods out beside it, and show them."""
        if self._state is None or self._sought is self._state:
            return
        state, exchange_id = self._state, self._exchange_id
        self._sought = state
        self._show_none(_WAIT)

        def shown(shared: Shared | None) -> None:
            if self._sought is not state:
                return
            if shared is None:
                self._give_up(_ASK)
            else:
                self._show_both(shared.fair, shared.turns)

        def failed(failure: Exception) -> None:
            if self._sought is state:
                self._give_up(str(failure) if isinstance(failure, Refusal) else _ASK)
            if not isinstance(failure, Refusal):
                tell_failure(self._context.tell, failure)

        def compare(gathered: Gathered, report: Report, cancelled: Cancelled) -> Shared | None:
            try:
                return sharing_round.work_out(
                    gathered,
                    lambda done, of: report(done, of, _TITLE),
                    lambda: cancelled() or self._sought is not state,
                )
            except Stopped:
                return None

        self._context.read(
            lambda bank: sharing_round.gather_whole(bank, exchange_id),
            lambda gathered: self._context.work(
                _TITLE, lambda report, cancelled: compare(gathered, report, cancelled), shown, failed, slow=True
            ),
            failed,
            background=True,
        )

    def _give_up(self, why: str) -> None:
        self._given_up, self._sought = self._state, None
        self._show_none(why)

    def leave(self) -> None:
        """Leave off what is under way, so that it keeps nothing else waiting."""
        if self.chart.record is None:
            self._sought = None
            self._show_none(_ASK)

    def show_shared(self, state: object, shared: Shared) -> None:
        """Show what a sharing out of a whole round, which rests on a state, came to by both methods."""
        self._state = self._sought = state
        self._show_both(shared.fair, shared.turns)

    def _show_none(self, why: str) -> None:
        self.none.setText(why)
        self._show_both(None, None)

    def _show_both(self, fair: Outcome | None, turns: Outcome | None) -> None:
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
