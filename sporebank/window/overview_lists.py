"""The three lists of the bank in one look: their columns, what they say of the line in hand, and what they open."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Generic, TypeVar

from PySide6.QtCore import QItemSelectionModel, QModelIndex, Signal
from PySide6.QtWidgets import QAbstractItemView

from sporebank.core import amounts, codes, names, overview
from sporebank.core.advice import Lines
from sporebank.core.dates import day_label
from sporebank.core.overview import Held, LastVial, Renewal, Span, TaxonShares, held_words
from sporebank.window.columns import Column, taxon_column
from sporebank.window.models import RowsModel
from sporebank.window.state import WindowState
from sporebank.window.table import LinesTable
from sporebank.window.widgets.shares import HeldDelegate, how_many
from sporebank.window.words import likely

R = TypeVar("R")
Focus = dict[str, object]
Pick = Callable[[Any], Held | None]


@dataclass(frozen=True)
class Listed(Generic[R]):
    """What a list is: its columns and order, what tells a line from others, what it says and opens.

    `say` and `focus` get a line and the key of a column; `focus` is what Vials is turned to. The columns in `held` are
    drawn as shares of vials, and then each cell is chosen by itself; `small` has what some of them say in small.
    """

    key: str
    name: str
    columns: tuple[Column[R], ...]
    sort: str
    which: Callable[[R], int]
    say: Callable[[R, str], str]
    focus: Callable[[R, str], Focus]
    held: Mapping[str, Pick] = field(default_factory=dict)
    small: Mapping[str, Callable[[Held], str]] = field(default_factory=dict)


class Listing(LinesTable):
    """A list. Signals: `told` when something else is in hand, `opened(focus)` when it shall be shown on Vials."""

    told = Signal()
    opened = Signal(object)

    def __init__(self, what: Listed[Any], lines: Callable[[], Lines], state: WindowState) -> None:
        self.lines: RowsModel[Any] = RowsModel(what.columns)
        super().__init__(self.lines, state, f"overview-{what.key}")
        self.lines.setParent(self)
        self._what = what
        self.setAccessibleName(what.name)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        for number, column in enumerate(what.columns):
            if column.key in what.held:
                small = what.small.get(column.key, how_many)
                self.setItemDelegateForColumn(number, HeldDelegate(what.held[column.key], small, lines, self))
        if what.held:
            self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectItems)
            self.horizontalHeader().setStretchLastSection(False)  # a year is not wider for being the last
        self.enable_sorting(what.sort)
        self.selectionModel().currentChanged.connect(lambda *_: self.told.emit())
        self.lines.layoutChanged.connect(lambda *_: self.told.emit())
        self.activated.connect(self._open)
        self.doubleClicked.connect(self._open)

    def in_hand(self) -> tuple[int, str] | None:
        """Return which line is in hand, and the key of the column."""
        at = self.currentIndex()
        if not at.isValid():
            return None
        row, key = self._at(at)
        return self._what.which(row), key

    def show_rows(self, rows: Sequence[Any], kept: tuple[int, str] | None = None) -> None:
        """Show other lines, with what was `kept` or is in hand still in hand, or as near as can be."""
        which, key = kept or self.in_hand() or (0, "")
        was_at = self.currentIndex().row()
        self.lines.set_rows(rows)
        order = [self._what.which(row) for row in self.lines.rows]
        number = order.index(which) if which in order else min(max(was_at, 0), len(order) - 1)
        keys = [column.key for column in self._what.columns]
        at = self.lines.index(number, keys.index(key) if key in keys else 0)
        flags = QItemSelectionModel.SelectionFlag.ClearAndSelect
        if not self._what.held:
            flags |= QItemSelectionModel.SelectionFlag.Rows
        self.selectionModel().setCurrentIndex(at, flags)

    def sentence(self) -> str:
        """Return what is in hand, in a sentence."""
        at = self.currentIndex()
        return self._what.say(*self._at(at)) if at.isValid() else ""

    def _open(self, at: QModelIndex) -> None:
        self.opened.emit(self._what.focus(*self._at(at)))

    def _at(self, at: QModelIndex) -> tuple[Any, str]:
        return self.lines.rows[at.row()], self._what.columns[at.column()].key


# -- shares by taxon and year


def by_taxon(spans: Sequence[Span]) -> Listed[TaxonShares]:
    """Return the list of taxa, with a column for each span of years."""
    years: dict[str, Pick] = {_key(span): lambda row, span=span: overview.within(row, span) for span in spans}  # type: ignore[misc]  # the default binds this span
    held: dict[str, Pick] = {"whole": lambda row: row.whole, "weakest": lambda row: row.weakest, **years}
    when = {_key(span): span.title for span in spans}

    def say(row: TaxonShares, key: str) -> str:
        some = held.get(key, held["whole"])(row)
        year = str(some.year) if some and some.year else when.get(key, "")
        return f"{names.text(row.name)}{', ' * bool(year)}{year}: {held_words(some)}."

    def focus(row: TaxonShares, key: str) -> Focus:
        some = held[key](row) if key in held else None
        year: Focus = {"year": some.year} if some and some.year else {}
        return {"taxon_id": row.taxon_id, **year}

    columns = (
        taxon_column(max(212, 520 - 35 * len(spans)), "name"),
        _held_column("whole", "In all", held["whole"], 76),
        _held_column("weakest", "Weakest year", held["weakest"], 97),
        Column(
            "left", "Left", lambda row: amounts.show(row.whole.left), 72, right=True, order=lambda row: row.whole.left
        ),
        *(_held_column(_key(span), span.title, held[_key(span)], 70 if len(span.years) == 1 else 88) for span in spans),
    )  # fmt: skip
    small = {"weakest": lambda some: str(some.year)}
    return Listed(
        "taxa", "How alive, by taxon and year", columns, "name", lambda row: row.taxon_id, say, focus, held, small
    )


def _key(span: Span) -> str:
    return f"y{span.years[0]}" if len(span.years) == 1 else "older"


def _held_column(key: str, title: str, pick: Pick, width: int) -> Column[TaxonShares]:
    return Column(
        key, title, lambda row: held_words(pick(row)), width, order=lambda row: overview.rank(pick(row)),
        tip=lambda row: held_words(pick(row)),
    )  # fmt: skip


# -- what to renew


def to_renew(lines: Callable[[], Lines]) -> Listed[Renewal]:
    """Return the list of clones to collect again."""
    columns: tuple[Column[Renewal], ...] = (
        Column("deed", "What to do", overview.deed, 150, order=overview.turn),
        Column("day", "Past the line", _day, 94, order=lambda row: row.day or date.max),
        taxon_column(190, "name"),
        Column("clone", "Clone", lambda row: row.clone, 72),
        Column(
            "best", "Best vial", lambda row: overview.short_share(row.best), 72, right=True, order=lambda row: row.best
        ),
        Column("left", "Left", lambda row: amounts.show(row.left), 78, right=True, order=lambda row: row.left),
        Column("why", "Why", lambda row: overview.why(row, lines()), 440),
    )  # fmt: skip

    def say(row: Renewal, _: str) -> str:
        return f"{names.text(row.name)}, {row.clone}: {overview.why(row, lines())} {overview.deed(row)}."

    def focus(row: Renewal, _: str) -> Focus:
        return {"clone_id": row.clone_id}

    return Listed("renew", "Clones to renew", columns, "deed", lambda row: row.clone_id, say, focus)


def _day(row: Renewal) -> str:
    return "" if row.day is None else day_label(row.day)


# -- down to one weak vial


def last_ones() -> Listed[LastVial]:
    """Return the list of the vials that alone are left of their clone, and weak."""
    columns: tuple[Column[LastVial], ...] = (
        taxon_column(190, "name"),
        Column("clone", "Clone", lambda row: row.clone, 72),
        Column("vial", "Vial", lambda row: codes.grouped(row.code), 122),
        Column(
            "alive", "Alive now", lambda row: likely(row.share, row.state), 200, delegate="band",
            order=lambda row: row.share.middle if row.share else 2.0,
        ),
        Column("left", "Left", lambda row: amounts.show(row.left), 78, right=True, order=lambda row: row.left),
        Column("why", "What to do", overview.last_words, 420),
    )  # fmt: skip

    def say(row: LastVial, _: str) -> str:
        return f"{names.text(row.name)}. {overview.last_words(row)}"

    def focus(row: LastVial, _: str) -> Focus:
        return {"code": row.code}

    return Listed("last", "Clones down to one weak vial", columns, "alive", lambda row: row.vial_id, say, focus)
