"""Sharing out an exchange: who gets what, what is not met and why, and how fair that is by either method."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, ClassVar

from PySide6.QtWidgets import QScrollArea, QStackedWidget, QWidget

from sporebank.bank import queries
from sporebank.core.counted import counted, packets
from sporebank.core.exchange import Exchange, Listed, OrderLine, Placed, Shape, Stage
from sporebank.core.records import Changed, TaxonName
from sporebank.jobs import allotting, sharing_round
from sporebank.jobs.allotting import Held
from sporebank.jobs.sharing_round import BARRED, PINNED, Gathered, Shared
from sporebank.window.columns import Column, taxon_column
from sporebank.window.context import Context
from sporebank.window.exchange_fairness import Fairness
from sporebank.window.exchange_tab import ExchangeTab
from sporebank.window.models import RowsModel
from sporebank.window.table import rows_chosen
from sporebank.window.tell import tell_failure
from sporebank.window.widgets.simple import Chips, Empty, label

if TYPE_CHECKING:
    from sporebank.bank.bank import Bank

_GIVING_UP = "Dispatched parcels stay as they are. Parcels packed already are open again: take their packets out."
LINES, PEOPLE, FAIR = "lines", "people", "fair"


@dataclass(frozen=True)
class Standing:
    """What the tab shows of an exchange; `home` is false while nobody can count as abroad."""

    exchange: Exchange
    listed: tuple[Listed, ...]
    placed: tuple[Placed, ...]
    lines: tuple[OrderLine, ...]
    hand: dict[tuple[int, int], str]
    home: bool


class LineRow:
    """A line of an order, with its name at hand for the delegate."""

    def __init__(self, line: OrderLine, who: Placed, name: TaxonName, hand: str) -> None:
        self.line, self.who, self.name, self.hand = line, who, name, hand

    @property
    def pinned_one_of_several(self) -> bool:
        """Whether a pin gives one packet of a wish for more."""
        return self.hand == PINNED and self.line.packets > 1

    @property
    def met(self) -> str:
        """What came of it, in words."""
        if self.line.allotted is None:
            return "not shared out yet"
        if self.line.alternative:
            return f"{self.line.allotted} instead" if self.line.allotted else "none"
        return f"{self.line.allotted} of {self.line.packets}"


class PersonRow:
    """An order with what it came to."""

    def __init__(self, who: Placed, lines: Sequence[OrderLine], standing: str) -> None:
        firsts = [line for line in lines if not line.alternative]
        self.who, self.standing = who, standing
        self.wished = sum(line.packets for line in firsts)
        self.got = sum(line.allotted or 0 for line in lines)
        self.first = sum(line.allotted or 0 for line in firsts)
        self.held = sum(line.held for line in lines)


LINE_COLUMNS: tuple[Column[LineRow], ...] = (
    Column(
        "who",
        "Person",
        lambda row: row.who.contact.name,
        150,
        order=lambda row: (row.who.order.place, row.line.alternative),
    ),
    Column("number", "No.", lambda row: str(row.line.number), 46, right=True, order=lambda row: row.line.number),
    Column("as", "Asked as", lambda row: "alternative" if row.line.alternative else "first choice", 90),
    taxon_column(210),
    Column("met", "Packets", lambda row: row.met, 132, order=lambda row: row.line.allotted or 0),
    Column("hand", "By hand", lambda row: "1 pinned" if row.pinned_one_of_several else row.hand, 70),
    Column("why", "Why not", lambda row: row.line.unmet, 420),
)

PEOPLE_COLUMNS: tuple[Column[PersonRow], ...] = (
    Column(
        "place", "Place", lambda row: f"{row.who.order.place:,}", 56, right=True, order=lambda row: row.who.order.place
    ),
    Column("who", "Person", lambda row: row.who.contact.name, 190, order=lambda row: row.who.contact.name.casefold()),
    Column("wished", "First choices", lambda row: f"{row.wished:,}", 90, right=True, order=lambda row: row.wished),
    Column("got", "Packets", lambda row: f"{row.got:,}", 70, right=True, order=lambda row: row.got),
    Column("first", "As wished", lambda row: f"{row.first:,}", 80, right=True, order=lambda row: row.first),
    Column(
        "instead",
        "Instead",
        lambda row: f"{row.got - row.first:,}",
        70,
        right=True,
        order=lambda row: row.got - row.first,
    ),
    Column("held", "Held in vials", lambda row: f"{row.held:,}", 90, right=True, order=lambda row: row.held),
    Column("class", "Served with", lambda row: row.standing, 120),
)


class SharingTab(ExchangeTab):
    """Two tables and the fairness of it, of which one is in sight; and the deeds of sharing out."""

    kinds: ClassVar[frozenset[str]] = frozenset(
        {"exchange", "offering", "request", "line", "pin", "packet", "parcel", "contact", "donation"}
    )

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self.standing: Standing | None = None
        self.holding = False
        self.chips = Chips("Show", ((PEOPLE, "People"), (LINES, "Wishes"), (FAIR, "Fairness")))
        self.people: RowsModel[PersonRow] = RowsModel(PEOPLE_COLUMNS, self)
        self.lines: RowsModel[LineRow] = RowsModel(LINE_COLUMNS, self)
        self.tables = {
            PEOPLE: self.table_of(self.people, "exchange-people", "People", "place"),
            LINES: self.table_of(self.lines, "exchange-wishes", "Wishes", "who"),
        }
        self.fairness = Fairness(context)
        scroll = QScrollArea(widgetResizable=True)
        scroll.setWidget(self.fairness)
        scroll.setObjectName("scroll")
        self.why = label(role="warn", wrap=True)
        self.empty = Empty(
            "share", "Nobody has asked yet", "Orders are written down, or taken in from a file, under Orders."
        )
        self._body = QStackedWidget()
        self._parts: dict[str, QWidget] = {**self.tables, FAIR: scroll}
        for widget in (*self._parts.values(), self.empty):
            self._body.addWidget(widget)
        for part in (self.told, self.chips, self._body, self.why):
            self.column.addWidget(part, int(part is self._body))
        self.deeds = self.buttons(
            (
                ("Share out", self.share),
                ("Compare both methods", self.compare),
                ("Pin", lambda: self.set_hand(PINNED)),
                ("Bar", lambda: self.set_hand(BARRED)),
                ("Leave to the rules", lambda: self.set_hand("")),
                ("Hold packets back", self.hold),
                ("Give packets up", self.give_up),
                ("Take it back", self.take_back),
            ),
            "Share out",
        )
        self.chips.chosen.connect(self._turn_to)
        self._which = PEOPLE
        self._turn_to(PEOPLE)

    def show_exchange(self, exchange: Exchange) -> None:
        """Show an exchange; a standing list has nothing to compare."""
        self.chips.buttons[FAIR].setVisible(exchange.shape is Shape.ROUND)
        if exchange.shape is Shape.STANDING and self._which == FAIR:
            self._turn_to(PEOPLE)
        super().show_exchange(exchange)

    def _hear(self, changed: Changed) -> None:
        if not self.holding:  # what is held back piece by piece is read once, at the end
            super()._hear(changed)

    def read(self, one: Exchange) -> None:
        """Read how the sharing out stands."""
        exchange_id = one.id
        self.context.read(lambda bank: _standing(bank, exchange_id), self._show)

    def _show(self, found: Standing) -> None:
        self.standing = found
        by_order: dict[int, list[OrderLine]] = {one.request_id: [] for one in found.placed}
        for line in found.lines:
            by_order[line.request_id].append(line)
        rules, who = found.exchange.terms.rules, {one.request_id: one for one in found.placed}
        name = {line.id: line.taxon.name for line in found.listed}
        self.people.set_rows(
            [PersonRow(one, by_order[one.request_id], _class(rules.turn_of(one.order), found)) for one in found.placed]
        )
        kept = {row.line.id for row in self._chosen()}
        self.lines.set_rows(
            [
                LineRow(
                    line,
                    who[line.request_id],
                    name[line.offering_id],
                    found.hand.get((line.request_id, line.number), ""),
                )
                for line in found.lines
            ]
        )
        self.tables[LINES].choose_rows([place for place, row in enumerate(self.lines.rows) if row.line.id in kept])
        self.told.setText(stands(found))
        self._tell_fairness(found)
        self._turn_to(self._which)

    def _tell_fairness(self, found: Standing) -> None:
        one, shared = found.exchange, any(line.allotted is not None for line in found.lines)
        asked = _asked_of(one, found.listed, found.placed, found.hand)
        by_itself, closed = shared and one.shape is Shape.ROUND, one.stage is Stage.CLOSED
        self.fairness.stand(one.id, asked, shared=by_itself, closed=closed)

    def _turn_to(self, which: str) -> None:
        self._which = which
        self.chips.set_chosen(which)
        self._body.setCurrentWidget(self._parts[which] if self.people.rows else self.empty)
        self.chips.setVisible(bool(self.people.rows))
        for text in ("Pin", "Bar", "Leave to the rules"):
            self.deeds[text].setVisible(which == LINES)
        self.looked_at()

    def _chosen(self) -> list[LineRow]:
        return rows_chosen(self.tables[LINES], self.lines)

    def looked_at(self) -> None:
        """Say why, of the one selected, and enable what can be done."""
        chosen, found = self._chosen(), self.standing
        stage = Stage.GATHERING if found is None else found.exchange.stage
        going = found is not None and bool(found.placed) and stage in (Stage.OPEN, Stage.SHARED)
        waits = found is not None and any((line.allotted or 0) > line.held + line.sent for line in found.lines)
        shared = found is not None and any(line.allotted is not None and not line.sent for line in found.lines)
        held = found is not None and any(line.held for line in found.lines)
        round_held = held and found is not None and found.exchange.shape is Shape.ROUND
        for text, holds in (
            ("Share out", going and not round_held),
            ("Compare both methods", going and found is not None and found.exchange.shape is Shape.ROUND),
            ("Pin", going and bool(chosen)),
            ("Bar", going and bool(chosen)),
            ("Leave to the rules", going and any(row.hand for row in chosen)),
            ("Hold packets back", going and waits and not self.holding),
            ("Give packets up", held and not self.holding),
            ("Take it back", going and shared and not held and not self.holding),
        ):
            self.deeds[text].setEnabled(holds)
        said = chosen[0].line.unmet if self._which == LINES and len(chosen) == 1 else ""
        self.why.setText(said)
        self.why.setVisible(bool(said))

    # -- deeds

    def share(self) -> None:
        """Share out and keep it; pins and bars hold."""

        def kept(shared: Shared) -> None:
            if not any(line.sent for line in shared.gathered.lines):
                self.fairness.show_shared(_asked_of_gathered(shared.gathered), shared)
            total, first = shared.outcome.total, shared.outcome.first
            self.context.done(f"{packets(total)} shared out, {first:,} of them first choices.")

        one, today = self.exchange, self.context.today()
        early = one is not None and one.closes is not None and today <= one.closes
        if early and not self.context.tell.ask(
            "Share out before the last day for wishes?", ["Share out"],
            details="Orders cannot be changed while they are shared out; “Take it back” lets them be changed again.",
        ):  # fmt: skip
            return
        self.fairness.leave()
        if one is not None:
            self._work(one.id, lambda shared: self.context.do(partial(_keep, shared=shared), kept))

    def _work(self, exchange_id: int, then: Callable[[Shared], object]) -> None:
        """Gather in the lane, work out beside it with progress, and go on with what came of it."""
        title = "Sharing out"

        def work_out(gathered: Gathered) -> None:
            self.context.work(
                title,
                lambda report, cancelled: sharing_round.work_out(
                    gathered, lambda done, of: report(done, of, title), cancelled
                ),
                then,
            )

        self.context.read(lambda bank: sharing_round.gather(bank, exchange_id), work_out)

    def compare(self) -> None:
        """Work both methods out beside each other; nothing is kept."""
        self._turn_to(FAIR)
        self.fairness.seek()

    def set_hand(self, kind: str) -> None:
        """Pin the wishes selected, bar them, or leave them to the rules."""
        wanted = [(row.line.request_id, row.line.offering_id) for row in self._chosen()]
        said = {PINNED: "pinned", BARRED: "barred", "": "left to the rules"}[kind]
        count = counted(len(wanted), "wish is", "wishes are")

        def set_all(bank: Bank) -> None:
            for request_id, offering_id in wanted:
                sharing_round.set_hand(bank, request_id, offering_id, kind)

        self.context.do(
            set_all, lambda _: self.context.done(f"{count} {said}. Share out again to see what comes of it.")
        )

    def hold(self) -> None:
        """Choose the vial of every packet and hold it back, some orders at a time."""
        if self.exchange is None:
            return
        exchange_id = self.exchange.id
        self.holding = True
        self.looked_at()
        self.context.read(
            lambda bank: list(allotting.pieces(bank, exchange_id)), lambda found: self._next(found, [], len(found))
        )

    def _next(self, pieces: list[partial[Held]], done: list[Held], of: int) -> None:
        if not pieces:
            self._end_holding()
            self.context.done(_held(done))
            return
        self.told.setText(
            f"Holding packets back: {len(done) * allotting.AT_ONCE:,} of about {of * allotting.AT_ONCE:,} orders."
        )
        self.context.do(pieces[0], lambda held: self._next(pieces[1:], [*done, held], of), self._stopped)

    def _end_holding(self) -> None:
        self.holding = False
        self._read_again()

    def _stopped(self, failure: Exception) -> None:
        self._end_holding()
        tell_failure(self.context.tell, failure)

    def take_back(self) -> None:
        """Take the sharing out back, so that orders can be changed."""
        if self.exchange is not None:
            exchange_id = self.exchange.id
            self.context.do(
                lambda bank: sharing_round.take_back(bank, exchange_id),
                lambda _: self.context.done("Nothing is shared out any more; orders can be changed."),
            )

    def give_up(self) -> None:
        """Ask once, then give all packets up that are not dispatched."""
        if self.exchange is None:
            return
        exchange_id = self.exchange.id
        if self.context.tell.ask("Give up all packets held back?", ["Give them up"], details=_GIVING_UP):
            self.context.do(
                lambda bank: allotting.give_up(bank, exchange_id),
                lambda count: self.context.done(f"{packets(count)} given up; their spore is free again."),
            )


def _keep(bank: Bank, shared: Shared) -> Shared:
    sharing_round.keep(bank, shared)
    return shared


def _asked_of(
    one: Exchange, listed: Sequence[Listed], placed: Sequence[Placed], hand: Mapping[tuple[int, int], str]
) -> object:
    """Return what a comparison of the methods rests on."""
    return one.id, one.terms, [(line.id, line.packets, line.limited) for line in listed], tuple(placed), dict(hand)


def _asked_of_gathered(found: Gathered) -> object:
    pinned, barred = dict.fromkeys(found.round.pins, PINNED), dict.fromkeys(found.round.bars, BARRED)
    return _asked_of(found.exchange, found.listed, found.placed, pinned | barred)


def _standing(bank: Bank, exchange_id: int) -> Standing:
    return Standing(
        exchange=queries.exchange(bank, exchange_id),
        listed=tuple(queries.listed(bank, exchange_id)),
        placed=tuple(queries.placed(bank, exchange_id)),
        lines=tuple(queries.order_lines(bank, exchange_id)),
        hand={(request, line): kind for request, line, kind in queries.pins(bank, exchange_id)},
        home=bool(bank.settings.country),
    )


def stands(found: Standing) -> str:
    """Return how the sharing out stands, in sentences."""
    wished = sum(line.packets for line in found.lines if not line.alternative)
    unset = any("abroad" in one.value for one in found.exchange.terms.rules.classes) and not found.home
    nobody = " Your country is not set, so nobody counts as abroad; set it in Settings first." if unset else ""
    asks = counted(len(found.placed), "order asks", "orders ask")
    said = f"{asks} for {packets(wished)}.{nobody}"
    if all(line.allotted is None for line in found.lines):
        return f"{said} Nothing is shared out yet."
    given, held, sent = (sum(getattr(line, what) or 0 for line in found.lines) for what in ("allotted", "held", "sent"))
    missed = sum(bool(line.unmet) for line in found.lines)
    few = (
        "1 wish is not met in full; it says why."
        if missed == 1
        else f"{missed:,} wishes are not met in full; each says why."
    )
    why = f" {few}" if missed else ""
    gone = f", {sent:,} sent" if sent else ""
    return f"{said} {packets(given)} {'is' if given == 1 else 'are'} allotted, {held:,} held back in vials{gone}.{why}"


def _class(turn: int, found: Standing) -> str:
    classes = found.exchange.terms.rules.classes
    return classes[turn].value if turn < len(classes) else ("" if not classes else "after these")


def _held(done: Sequence[Held]) -> str:
    missing = sum(one.missing for one in done)
    short = f" For {packets(missing)} no vial was left; the wish says so." if missing else ""
    return f"{packets(sum(one.packets for one in done))} held back in their vials, and their labels wait.{short}"
