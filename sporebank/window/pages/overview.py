"""The bank in one look: how alive each taxon is by year, what to renew, and what hangs on one weak vial."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import TYPE_CHECKING, Any, ClassVar

from PySide6.QtWidgets import QSizePolicy, QStackedWidget, QWidget

from sporebank.bank import queries
from sporebank.core import overview
from sporebank.core.advice import Lines, percent
from sporebank.core.overview import LastVial, Renewal, Span, TaxonShares, Totals
from sporebank.core.settings import Settings
from sporebank.window.context import Context
from sporebank.window.lane import Ticket
from sporebank.window.overview_lists import Listed, Listing, by_taxon, last_ones, to_renew
from sporebank.window.page import Page
from sporebank.window.widgets.shares import StateBar
from sporebank.window.widgets.simple import Chips, Empty, label

if TYPE_CHECKING:
    from sporebank.bank.bank import Bank

MOST_YEARS = 10
"""Columns of years that a small laptop shows side by side; older years stand together in the last of them."""

TAXA, RENEW, LAST = "taxa", "renew", "last"
_LISTS = ((TAXA, "How alive, by year"), (RENEW, "To renew"), (LAST, "Last weak vials"))


class OverviewPage(Page):
    """Where the bank stands, as totals and three lists of which one is in sight."""

    kinds: ClassVar[frozenset[str]] = frozenset(
        {"vial", "batch", "clone", "taxon", "movement", "stay", "test", "packet", "setting", "keeping"}
    )
    primary = "store_batch"

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(context, parent)
        self._which = TAXA
        self._spans: tuple[Span, ...] = ()
        self._limits = _lines(Settings())
        self._asked: list[Ticket] = []
        self._answered: set[str] = set()
        self._notes = dict.fromkeys((TAXA, RENEW, LAST), "")
        self.heading = label("The bank in one look", "heading")
        self.summary = label(role="mute", wrap=True)
        self.bar = StateBar()
        self.chips = Chips("Show", _LISTS)
        self.note = label(role="mute", wrap=True)
        self.told = label(wrap=True)
        self.told.setMinimumHeight(self.told.fontMetrics().lineSpacing() * 2)
        self.empty = Empty("overview", "", "", "Store a batch", lambda: context.go("store"))
        self.lists = {
            TAXA: self._listing(by_taxon(())),
            RENEW: self._listing(to_renew(lambda: self._limits)),
            LAST: self._listing(last_ones()),
        }
        self._body = QStackedWidget()
        self._body.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Ignored)  # a low window: a low list
        self._body.setMinimumHeight(160)
        for widget in (*self.lists.values(), self.empty):
            self._body.addWidget(widget)
        parts = (self.heading, self.summary, self.bar, self.chips, self.note, self._body, self.told)
        for part in parts:
            self.body.addWidget(part, int(part is self._body))
        for part in (self.summary, self.bar, self.chips):
            part.hide()
        self.chips.chosen.connect(self._choose)
        self._choose(TAXA)

    def refresh(self) -> None:
        """Ask each question anew, behind the keeper's own work; the answers come one by one."""
        for ticket in self._asked:
            ticket.cancel()
        self._asked = [
            self.context.read(_totals, lambda got: self._show_totals(*got)),
            self.context.read(queries.taxon_shares, self._show_shares, background=True),
            self.context.read(_renewals, lambda got: self._show_list(RENEW, "To renew", *got), background=True),
            self.context.read(_last_vials, lambda got: self._show_list(LAST, "Last weak vials", *got), background=True),
        ]

    def first_focus(self) -> QWidget:
        """Return the list in sight, or what leads on where there is none."""
        if self._body.currentWidget() is not self.empty:
            return self.lists[self._which]
        return self.empty.button if self.empty.button.isVisible() else self.chips.buttons[self._which]

    # -- what is shown

    def _show_totals(self, totals: Totals, limits: Lines) -> None:
        self._limits = limits
        self.summary.setText(overview.in_all(totals))
        self.bar.show_counts(totals.states())
        for widget in (self.summary, self.bar, self.chips):
            widget.setVisible(bool(totals.vials))
        self._choose(self._which)

    def _show_shares(self, rows: Sequence[TaxonShares]) -> None:
        spans = overview.spans((year for row in rows for year in row.years), MOST_YEARS)
        kept = self.lists[TAXA].in_hand()
        if spans != self._spans:
            self._spans = spans
            self._replace(TAXA, self._listing(by_taxon(spans)))
        self.lists[TAXA].show_rows(rows, kept)
        self._show_answer(TAXA)

    def _show_list(self, which: str, title: str, rows: Sequence[Any], total: int) -> None:
        chip = self.chips.buttons[which]
        chip.setText(f"{title} {total:,}" if total else title)
        chip.setAccessibleName(f"Show: {chip.text()}")
        self._notes[which] = f"The {len(rows):,} most urgent of {total:,}." if total > len(rows) else ""
        self.lists[which].show_rows(rows)
        self._show_answer(which)

    def _show_answer(self, which: str) -> None:
        self._answered.add(which)
        self._choose(self._which)

    def _listing(self, what: Listed[Any]) -> Listing:
        made = Listing(what, lambda: self._limits, self.context.state)
        made.told.connect(self._tell)
        made.opened.connect(lambda focus: self.context.go("vials", **focus))
        return made

    def _replace(self, which: str, made: Listing) -> None:
        """Put a list with other columns in the place of one, the keyboard going with it."""
        old = self.lists[which]
        had_focus = old.hasFocus()
        self.lists[which] = made
        self._body.addWidget(made)
        self._body.removeWidget(old)
        old.deleteLater()
        if had_focus:
            self._choose(self._which)
            made.setFocus()

    def _choose(self, which: str) -> None:
        self._which = which
        shown = self.lists[which]
        empty = which in self._answered and shown.lines.rowCount() == 0
        if empty:
            self._say_empty()
        self._body.setCurrentWidget(self.empty if empty else shown)
        self.note.setText(self._notes[which])
        self.note.setVisible(bool(self._notes[which]) and not empty)
        self.told.setVisible(not empty)
        self._tell()

    def _tell(self) -> None:
        self.told.setText(self.lists[self._which].sentence())

    def _say_empty(self) -> None:
        nothing = TAXA in self._answered and self.lists[TAXA].lines.rowCount() == 0
        self.empty.button.setVisible(nothing)
        self.empty.say(*(("No spore in the bank yet", _FIRST) if nothing else self._none(self._which)))

    def _none(self, which: str) -> tuple[str, str]:
        alive, spent = percent(self._limits.alive), percent(self._limits.spent)
        if which == RENEW:
            return (
                "Nothing to renew",
                f"Every clone that is modelled has a vial at least {alive} alive that stays above {spent} for a year.",
            )
        return "No last weak vial", "No clone is down to one vial that is fading, spent or nearly empty."


_FIRST = (
    "Store a batch first. This page then shows how alive each taxon is by year, what to collect again, "
    "and what you are about to lose."
)


def _lines(settings: Settings) -> Lines:
    return Lines(settings.alive_line, settings.cull_line)


def _totals(bank: Bank) -> tuple[Totals, Lines]:
    return queries.totals(bank), _lines(bank.settings)


def _renewals(bank: Bank) -> tuple[list[Renewal], int]:
    today = bank.today()
    return queries.renewals(bank, today, today + timedelta(days=overview.SOON_DAYS), _lines(bank.settings))


def _last_vials(bank: Bank) -> tuple[list[LastVial], int]:
    return queries.last_vials(bank, bank.settings.packet_ug)
