"""Columns of tables, each declared once. The vial table's are here; other tables declare theirs beside them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from sporebank.core import amounts, codes, names
from sporebank.core.dates import month_label
from sporebank.core.records import VialRow
from sporebank.window.words import likely

R = TypeVar("R")


@dataclass(frozen=True)
class Column(Generic[R]):
    """One column: `sortable` ones sort by `key`; `order` sorts rows that are all in memory.

    `width` is in pixels where a line of text is 15 high; the table scales it to the user's font.

    `delegate` is "" for plain text, "path" for a place, "name" for a taxon (row.name) or "band" (row.share,
    row.state).
    """

    key: str
    title: str
    text: Callable[[R], str]
    width: int = 110
    right: bool = False
    sortable: bool = True
    shown: bool = True
    delegate: str = ""
    order: Callable[[R], object] | None = None
    tip: Callable[[R], str] | None = None


def taxon_column(width: int, key: str = "taxon") -> Column[Any]:
    """Return the column of rows that have a `name`, in the order of nomenclature."""
    return Column(
        key,
        "Taxon",
        lambda row: names.text(row.name),
        width,
        delegate="name",
        order=lambda row: names.sort_key(row.name),
    )


def _crosses(row: VialRow) -> str:
    return "" if row.crosses is None else month_label(row.crosses)


VIAL_COLUMNS: tuple[Column[VialRow], ...] = (
    Column("code", "Vial", lambda row: codes.grouped(row.code), 118),
    taxon_column(166),
    Column(
        "alive", "Alive now", lambda row: likely(row.share, row.state), 200, delegate="band",
        tip=lambda row: likely(row.share, row.state),
    ),
    Column("left", "Left", lambda row: amounts.show(row.left), 78, right=True),
    Column("clone", "Clone", lambda row: row.clone, 60),
    Column("batch", "Batch", lambda row: codes.grouped(row.batch), 124, shown=False),
    Column("collected", "Collected", lambda row: row.collected.label(), 103),
    Column("crosses", "Past the line", _crosses, 104, shown=False),
    Column("advice", "Advice", lambda row: row.advice.value.capitalize(), 100, shown=False),
    Column("surplus", "Surplus", lambda row: "yes" if row.surplus else "", 76, sortable=False, shown=False),
    Column("note", "Note", lambda row: row.note, 180, shown=False),
    Column("place", "Place", lambda row: row.place, 150, delegate="path"),
)  # fmt: skip
