"""How fair a sharing out is: both methods side by side, in figures and as a chart."""

from __future__ import annotations

from dataclasses import dataclass
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
_CLOSED = "This round is closed. Open it again to compare both methods."
_WAIT = "Both methods are being worked out."
_TITLE = "Comparing both methods"
_KEPT = 8
"""Comparisons that are remembered, so that going to and fro between rounds works nothing out again."""


@dataclass(frozen=True)
class _Known:
    """What is known of a state: what both methods came to, or why not, which is empty where the keeper stopped it."""

    state: object
    both: tuple[Outcome, Outcome] | None
    why: str = ""


class Fairness(QWidget):
    """Both methods side by side, in figures and as a chart.

    What a round rests on is its state: its terms, its list and its orders. Once it was shared out, a comparison is
    worked out by itself when this comes into sight, unless one is remembered for this state, or was stopped.
    """

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._exchange_id = 0
        self._by_itself = self._closed = False
        self._state: object = None
        self._sought: object = None
        """The state of the comparison under way."""
        self._known: list[_Known] = []
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

    def stand(self, exchange_id: int, state: object, *, shared: bool, closed: bool) -> None:
        """Hear what an exchange rests on now; a comparison under way that rests on anything else is left off."""
        changed = (state, closed) != (self._state, self._closed)
        self._exchange_id, self._by_itself, self._closed = exchange_id, shared, closed
        if changed:
            self._state, self._sought = state, None
            self._show_known()
        self._seek_unasked()

    def showEvent(self, event: QShowEvent) -> None:
        """Work out what is missing."""
        super().showEvent(event)
        self._seek_unasked()

    def _seek_unasked(self) -> None:
        if self._by_itself and self.isVisible() and self._found() is None:
            self.seek()

    def _found(self) -> _Known | None:
        return next((known for known in self._known if known.state == self._state), None)

    def seek(self) -> None:
        """Gather in the lane behind the keeper's work, work both methods out beside it, and show them."""
        if self._state is None or self._sought is not None:
            return
        state, exchange_id = self._state, self._exchange_id
        self._sought = state
        self._show_none(_WAIT)

        def shown(shared: Shared | None) -> None:
            self._remember(state, None if shared is None else _both(shared))

        def failed(failure: Exception) -> None:
            self._remember(state, None, str(failure) if isinstance(failure, Refusal) else "")
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
                if not cancelled():
                    raise  # it was left off, and may begin again
                return None

        self._context.read(
            lambda bank: sharing_round.gather_whole(bank, exchange_id),
            lambda gathered: self._context.work(
                _TITLE, lambda report, cancelled: compare(gathered, report, cancelled), shown, failed, slow=True
            ),
            failed,
            background=True,
        )

    def _remember(self, state: object, both: tuple[Outcome, Outcome] | None, why: str = "") -> None:
        """Keep what came of a comparison, and show it where it is what is looked at."""
        self._known = [*(known for known in self._known if known.state != state), _Known(state, both, why)][-_KEPT:]
        if self._state == state:
            self._sought = None
            self._show_known()

    def leave(self) -> None:
        """Leave off what is under way, so that it keeps nothing else waiting."""
        if self._sought is not None:
            self._sought = None
            self._show_known()

    def show_shared(self, state: object, shared: Shared) -> None:
        """Show what a sharing out of a whole round, which rests on a state, came to by both methods."""
        if (both := _both(shared)) is not None:
            self._remember(state, both)

    def _show_known(self) -> None:
        """Show what is known of the state, else what can be done about that."""
        known = self._found()
        if known is not None and known.both is not None:
            self._show(known.both)
            return
        why = "" if known is None else known.why
        self._show_none(f"{why} {_CLOSED}".strip() if self._closed else why or _ASK)

    def _show_none(self, why: str) -> None:
        self.none.setText(why)
        self._show(None)

    def _show(self, both: tuple[Outcome, Outcome] | None) -> None:
        while (item := self.figures.takeAt(0)) is not None:
            widget = item.widget()
            if widget is not None:
                widget.hide()
                widget.deleteLater()
        self.none.setVisible(both is None)
        if both is None:
            self.chart.show_record(None, "")
            return
        rows = (("", "Fair shares", "Turns"), *compared(*both))
        for place, row in enumerate(rows):
            for column, text in enumerate(row):
                self.figures.addWidget(label(text, "mute" if not place or not column else ""), place, column)
        self.figures.setColumnStretch(3, 1)
        said = "; ".join(f"{what}: {one} by fair shares, {other} by turns" for what, one, other in rows[1:])
        self.chart.show_record(both, said)


def _both(shared: Shared) -> tuple[Outcome, Outcome] | None:
    return None if shared.fair is None or shared.turns is None else (shared.fair, shared.turns)


def compared(fair: Outcome, turns: Outcome) -> tuple[tuple[str, str, str], ...]:
    """Return the figures by which two outcomes are told apart, each with its words."""

    def worst(one: Outcome) -> str:
        return "all orders are filled" if one.worst is None else packets(one.worst)

    return (
        ("Packets given", f"{fair.total:,}", f"{turns.total:,}"),
        ("First choices met", f"{fair.first:,}", f"{turns.first:,}"),
        ("The least an unfilled order gets", worst(fair), worst(turns)),
    )
