"""The list of an exchange: what may go on it, with the reasons, and what is on it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, ClassVar

from PySide6.QtWidgets import QStackedWidget

from sporebank.core import amounts
from sporebank.core.counted import counted, lines
from sporebank.core.dates import PartDate
from sporebank.core.exchange import Exchange, Listed, Stage
from sporebank.core.offer_list import offer_line
from sporebank.core.surplus import HELD, RELEASED
from sporebank.jobs import exchange
from sporebank.jobs.exchange import Chance
from sporebank.window import printing
from sporebank.window.columns import Column, taxon_column
from sporebank.window.context import Context
from sporebank.window.exchange_tab import ExchangeTab
from sporebank.window.models import RowsModel
from sporebank.window.table import rows_chosen
from sporebank.window.widgets.simple import Chips, Empty, label

if TYPE_CHECKING:
    from sporebank.bank.bank import Bank

ON, MAY = "on", "may"


class ListRow:
    """A line of the list with its name at hand for the delegate."""

    def __init__(self, line: Listed) -> None:
        self.line, self.name = line, line.taxon.name
        self.said = offer_line(line, line.number or 0, invasive=bool(line.taxon.invasive_note))


class MayRow:
    """A clone that may go on the list, with its name at hand for the delegate."""

    def __init__(self, chance: Chance) -> None:
        self.chance, self.surplus = chance, chance.surplus
        self.name = chance.surplus.stock.name


def _why(row: MayRow) -> str:
    held = {RELEASED: "Released by hand.", HELD: ""}.get(row.surplus.stock.held, "")
    listed = "On the list." if row.chance.line is not None else ""
    return " ".join(filter(None, (listed, held, *row.surplus.reasons)))


def _asked(row: MayRow) -> str:
    one = row.chance
    return (
        f"{one.given:,} of {one.asked:,}" + (f", {one.instead:,} instead" if one.instead else "") if one.asked else ""
    )


def _marks(row: ListRow) -> tuple[str, ...]:
    short = (f"no spore for {row.line.short:,} of them",) if row.line.short else ()
    return (*short, *row.said.marks)


def _youth(row: ListRow) -> list[tuple[PartDate, PartDate]]:
    return [part.collected for part in row.line.parts if part.collected][:1]


LIST_COLUMNS: tuple[Column[ListRow], ...] = (
    Column(
        "number", "No.", lambda row: str(row.line.number or ""), 46, right=True, order=lambda row: row.line.number or 0
    ),
    taxon_column(210),
    Column("clones", "Clones", lambda row: ", ".join(part.clone for part in row.line.parts), 96),
    Column(
        "packets", "Packets", lambda row: f"{row.line.packets:,}", 66, right=True, order=lambda row: row.line.packets
    ),
    Column("left", "Not given", lambda row: f"{row.line.left:,}", 76, right=True, order=lambda row: row.line.left),
    Column(
        "size",
        "A packet",
        lambda row: amounts.show(row.line.packet_ug),
        72,
        right=True,
        order=lambda row: row.line.packet_ug,
    ),
    Column("alive", "Alive", lambda row: row.said.alive, 120),
    Column("collected", "Collected", lambda row: row.said.collected, 150, order=_youth),
    Column("marks", "Marks", lambda row: ", ".join(_marks(row)), 170),
    Column("note", "Note", lambda row: row.said.note, 140),
)

MAY_COLUMNS: tuple[Column[MayRow], ...] = (
    taxon_column(210),
    Column("clone", "Clone", lambda row: row.surplus.stock.clone, 64),
    Column(
        "packets",
        "Packets",
        lambda row: f"{row.surplus.packets:,}",
        66,
        right=True,
        order=lambda row: row.surplus.packets,
    ),
    Column(
        "size",
        "A packet",
        lambda row: amounts.show(row.surplus.stock.packet_ug),
        72,
        right=True,
        order=lambda row: row.surplus.stock.packet_ug,
    ),
    Column(
        "vials",
        "Vials",
        lambda row: f"{len(row.surplus.drawn)} of {len(row.surplus.stock.vials)}",
        60,
        right=True,
        order=lambda row: len(row.surplus.drawn),
    ),
    Column("asked", "Given so far", _asked, 110, order=lambda row: row.chance.asked),
    Column("why", "Why", _why, 420),
)


class ListTab(ExchangeTab):
    """Two tables of which one is in sight, and what is done with what is selected in it."""

    kinds: ClassVar[frozenset[str]] = frozenset(
        {
            "exchange",
            "offering",
            "part",
            "giving",
            "vial",
            "batch",
            "clone",
            "taxon",
            "test",
            "packet",
            "complaint",
            "setting",
        }
    )

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self.chips = Chips("Show", ((ON, "On the list"), (MAY, "What may go")))
        self.list: RowsModel[ListRow] = RowsModel(LIST_COLUMNS, self)
        self.may: RowsModel[MayRow] = RowsModel(MAY_COLUMNS, self)
        self.tables = {
            ON: self.table_of(self.list, "exchange-list", "On the list", "number"),
            MAY: self.table_of(self.may, "exchange-may", "What may go", "taxon"),
        }
        self.why = label(role="warn", wrap=True)
        self.why.setMinimumHeight(self.why.fontMetrics().lineSpacing() * 2 + 12)
        self.empty = Empty("share", "", "", "See what may go", lambda: self._turn_to(MAY))
        self._body = QStackedWidget()
        for widget in (*self.tables.values(), self.empty):
            self._body.addWidget(widget)
        self.column.addWidget(self.chips)
        self.column.addWidget(self._body, 1)
        self.column.addWidget(self.why)
        self.on_list = self.buttons(
            (
                ("Number and open the list", self.number), ("Change the line…", self.change_line),
                ("Pool", self.pool), ("Take off", self.drop), ("Print the list…", self.print_list),
            ),
            "Number and open the list",
        )  # fmt: skip
        self.may_go = self.buttons(
            (
                ("Put on the list", self.add), ("Hold back", lambda: self.hold(HELD)),
                ("Release", lambda: self.hold(RELEASED)), ("Let the rules decide", lambda: self.hold("")),
                ("How it is given…", self.way),
            ),
            "Put on the list",
        )  # fmt: skip
        self.chips.chosen.connect(self._turn_to)
        self._which = ON
        self._turn_to(ON)

    def read(self, one: Exchange) -> None:
        """Read the list and what may go."""
        self.context.read(lambda bank: exchange.described(bank, one), self._show_list)
        self.context.read(lambda bank: exchange.preview(bank, one.id), self._show_may)

    def _show_list(self, lines: Sequence[Listed]) -> None:
        kept = {row.line.id for row in self._chosen_lines()}
        self.list.set_rows([ListRow(line) for line in lines])
        self.tables[ON].choose_rows([place for place, row in enumerate(self.list.rows) if row.line.id in kept])
        self.chips.buttons[ON].setText(f"On the list {len(lines):,}")
        self._turn_to(self._which)

    def _show_may(self, found: Sequence[Chance]) -> None:
        kept = {row.surplus.stock.clone_id for row in self._chosen_clones()}
        self.may.set_rows([MayRow(chance) for chance in found])
        chosen = [place for place, row in enumerate(self.may.rows) if row.surplus.stock.clone_id in kept]
        self.tables[MAY].choose_rows(chosen)
        could = sum(bool(one.surplus.packets) and one.line is None for one in found)
        self.chips.buttons[MAY].setText(f"What may go {could:,} of {len(found):,}")
        self._turn_to(self._which)

    def _turn_to(self, which: str) -> None:
        self._which = which
        self.chips.set_chosen(which)
        rows = self.list.rows if which == ON else self.may.rows
        if which == ON:
            self.empty.say("Nothing is on the list yet", "See what may go, and put it on the list.")
        else:
            self.empty.say("The bank holds no spore", "What is stored may go once it is more than you keep.")
        self.empty.button.setVisible(which == ON)
        self._body.setCurrentWidget(self.tables[which] if rows else self.empty)
        for button in self.on_list.values():
            button.setVisible(which == ON and bool(self.list.rows))
        for button in self.may_go.values():
            button.setVisible(which == MAY and bool(self.may.rows))
        self.looked_at()

    def _chosen_lines(self) -> list[ListRow]:
        return rows_chosen(self.tables[ON], self.list)

    def _chosen_clones(self) -> list[MayRow]:
        return rows_chosen(self.tables[MAY], self.may)

    def looked_at(self) -> None:
        """Say why, of the one selected, and enable what can be done."""
        lines, clones = self._chosen_lines(), self._chosen_clones()
        stage = Stage.CLOSED if self.exchange is None else self.exchange.stage
        gathering, closed = stage is Stage.GATHERING, stage is Stage.CLOSED
        for text, holds in (
            ("Number and open the list", gathering and bool(self.list.rows)),
            ("Change the line…", len(lines) == 1 and not closed),
            ("Pool", gathering and len(lines) > 1),
            ("Take off", bool(lines) and not closed),
            ("Print the list…", bool(self.list.rows)),
        ):
            self.on_list[text].setEnabled(holds)
        for text, button in self.may_go.items():
            button.setEnabled(bool(clones) and not (text == "Put on the list" and closed))
        said = _why(clones[0]) if self._which == MAY and len(clones) == 1 else ""
        self.why.setText(said or " ")
        self.why.setVisible(self._which == MAY and bool(self.may.rows))

    # -- deeds

    def add(self) -> None:
        """Put the clones selected on the list."""
        ids = [row.surplus.stock.clone_id for row in self._chosen_clones()]
        self._do(lambda bank, one: exchange.add_lines(bank, one, ids), lambda count: f"{lines(count)} on the list.")

    def hold(self, held: str) -> None:
        """Hold the clones selected back, release them, or leave them to the rules."""
        ids = [row.surplus.stock.clone_id for row in self._chosen_clones()]
        said = {HELD: "held back", RELEASED: "released", "": "left to the rules"}[held]
        count = counted(len(ids), "clone is", "clones are")
        self._do(lambda bank, _: exchange.hold(bank, ids, held), lambda _: f"{count} {said}.")

    def way(self) -> None:
        """Set how the clones selected are given."""
        self.context.dialog("way", found=tuple(row.surplus for row in self._chosen_clones()))

    def change_line(self) -> None:
        """Change the line selected."""
        if self.exchange is not None:
            self.context.dialog("list_line", exchange_id=self.exchange.id, line=self._chosen_lines()[0].line)

    def pool(self) -> None:
        """Make one line of those selected."""
        ids = [row.line.id for row in self._chosen_lines()]
        self._do(lambda bank, one: exchange.pool(bank, one, ids), lambda _: f"{len(ids):,} lines are one now.")

    def drop(self) -> None:
        """Take the lines selected off the list."""
        ids = [row.line.id for row in self._chosen_lines()]
        self._do(lambda bank, one: exchange.drop_lines(bank, one, ids), lambda _: f"{lines(len(ids))} off the list.")

    def number(self) -> None:
        """Ask once, then number the list and open it."""
        sure = self.context.tell.ask(
            "Number the list and open it?", ["Number it"],
            details="Numbers follow the alphabet of names, and stay: what comes later gets the next number.",
        )  # fmt: skip
        if sure:
            self._do(exchange.number, lambda count: f"The list is out: {lines(count)}, numbered by name.")

    def print_list(self) -> None:
        """Show the list as it goes out."""
        if self.exchange is not None:
            printing.offer_list(self.context, self.exchange.id)

    def _do(self, job: Callable[[Bank, int], object], said: Callable[[int], str]) -> None:
        if self.exchange is not None:
            exchange_id = self.exchange.id
            self.context.do(lambda bank: job(bank, exchange_id), lambda got: self.context.done(said(got)))  # type: ignore[arg-type]  # each job with its own words
