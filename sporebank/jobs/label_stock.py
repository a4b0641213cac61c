"""What labels are printed on: layouts, sheets and printers, those that travel with the program and the keeper's own.

An own layout or sheet goes by `own-` and its row, so that a print run can name either kind.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from sporebank.bank.bank import Bank
from sporebank.bank.queries import labels as reading
from sporebank.bank.queries.labels import Own, OwnPrinter
from sporebank.bank.tables import Layout as LayoutRow
from sporebank.bank.tables import Printer as PrinterRow
from sporebank.bank.tables import Sheet as SheetRow
from sporebank.core.errors import Refusal
from sporebank.core.layout import Kind, Layout, problems, suits
from sporebank.core.sheets import PrinterFit, Sheet
from sporebank.formats.label_layouts import as_entry, layout_from, load_label_layouts
from sporebank.formats.label_sheets import load_label_sheets

_OWN = "own-"
Table = type[LayoutRow] | type[SheetRow] | type[PrinterRow]


@dataclass(frozen=True)
class Printer:
    """A printer by its name; `id` is 0 for one that is not kept."""

    id: int
    name: str
    fit: PrinterFit


@dataclass(frozen=True)
class Stock:
    """Everything there is to choose from, and for every sheet its first free label from 0."""

    layouts: tuple[Layout, ...]
    sheets: tuple[Sheet, ...]
    printers: tuple[Printer, ...]
    next_cells: Mapping[str, int]

    def layout(self, layout_id: str) -> Layout | None:
        """Return a layout by its id, or None when there is none any more."""
        return next((one for one in self.layouts if one.id == layout_id), None)

    def sheets_for(self, kind: Kind) -> tuple[Sheet, ...]:
        """Return the sheets that suit a kind of label, and all of the keeper's own."""
        return tuple(one for one in self.sheets if row_of(one.id) or suits(self.layouts, kind, one))

    def sheet(self, sheet_id: str) -> Sheet | None:
        """Return a sheet by its id, or None when there is none any more."""
        return next((one for one in self.sheets if one.id == sheet_id), None)


def stock(bank: Bank) -> Stock:
    """Return layouts, sheets and printers, the keeper's own after those of the program."""
    own_printers = (
        Printer(one.id, one.name, PrinterFit(one.across, one.down, one.scale_x, one.scale_y, one.dpi))
        for one in reading.printers(bank)
    )
    return Stock(
        (*load_label_layouts(), *(_layout(one) for one in reading.own_layouts(bank))),
        (*load_label_sheets(), *(_sheet(one) for one in reading.own_sheets(bank))),
        tuple(own_printers),
        reading.next_cells(bank),
    )


def _layout(own: Own) -> Layout:
    return replace(layout_from(own.value), id=f"{_OWN}{own.id}", title=own.name, kind=Kind(own.kind))


def _sheet(own: Own) -> Sheet:
    return Sheet(id=f"{_OWN}{own.id}", title=own.name, **own.value)


def row_of(stock_id: str) -> int:
    """Return the row of an own layout or sheet; 0 for one that travels with the program."""
    return int(stock_id.removeprefix(_OWN)) if stock_id.startswith(_OWN) else 0


def keep_layout(bank: Bank, layout: Layout) -> str:
    """Keep a layout: an own one as it is now, another as a copy. Return the id it goes by.

    Raises:
        Refusal: it has no name, its name is taken, or its numbers contradict each other.
    """
    name = _named(layout.title, {one.title: one.id for one in stock(bank).layouts}, layout.id, "layout")
    if wrong := problems(layout):
        raise Refusal(" ".join(wrong))
    value = json.dumps(as_entry(layout))
    return _keep(bank, LayoutRow, f"label layout {name}", layout.id, name=name, kind=layout.kind.value, value=value)


def keep_sheet(bank: Bank, sheet: Sheet) -> str:
    """Keep a sheet: an own one as it is now, another as a copy. Return the id it goes by.

    Raises:
        Refusal: it has no name, or its name is taken; `Sheet` itself refuses its numbers.
    """
    name = _named(sheet.title, {one.title: one.id for one in stock(bank).sheets}, sheet.id, "sheet")
    plain: dict[str, Any] = {key: value for key, value in asdict(sheet).items() if key not in ("id", "title")}
    return _keep(bank, SheetRow, f"label sheet {name}", sheet.id, name=name, value=json.dumps(plain))


def keep_printer(bank: Bank, printer: Printer) -> int:
    """Keep a printer and how it has to be put right; return its id.

    Raises:
        Refusal: it has no name, or its name is taken.
    """
    taken = {one.name: f"{_OWN}{one.id}" for one in stock(bank).printers}
    name = _named(printer.name, taken, f"{_OWN}{printer.id}", "printer")
    fit = printer.fit
    kept = _keep(
        bank, PrinterRow, f"printer {name}", f"{_OWN}{printer.id}" if printer.id else "", name=name,
        across_mm=fit.across, down_mm=fit.down, scale_x=fit.scale_x, scale_y=fit.scale_y, dpi=fit.dpi,
    )  # fmt: skip
    return row_of(kept)


def remove_layout(bank: Bank, layout: Layout) -> None:
    """Remove an own layout.

    Raises:
        Refusal: it travels with the program, or is removed already.
    """
    _remove(bank, LayoutRow, "label layout", layout.title, row_of(layout.id), reading.own_layouts(bank))


def remove_sheet(bank: Bank, sheet: Sheet) -> None:
    """Remove an own sheet.

    Raises:
        Refusal: it travels with the program, or is removed already.
    """
    _remove(bank, SheetRow, "label sheet", sheet.title, row_of(sheet.id), reading.own_sheets(bank))


def remove_printer(bank: Bank, printer: Printer) -> None:
    """Remove a printer.

    Raises:
        Refusal: it is removed already.
    """
    _remove(bank, PrinterRow, "printer", printer.name, printer.id, reading.printers(bank))


def free_name(title: str, taken: set[str]) -> str:
    """Return a name for a copy: `Vial wrap, own`, then `Vial wrap, own 2`."""
    wanted, number = f"{title}, own", 1
    while wanted.casefold() in {one.casefold() for one in taken}:
        number += 1
        wanted = f"{title}, own {number}"
    return wanted


def _named(text: str, taken: Mapping[str, str], own: str, what: str) -> str:
    """Return the name as it is kept."""
    name = " ".join(text.split())
    if not name:
        raise Refusal(f"Give the {what} a name of your own.", field="name")
    other = {title.casefold(): stock_id for title, stock_id in taken.items()}.get(name.casefold())
    if other is not None and not (other == own and row_of(own)):
        raise Refusal(f"There is a {what} called “{name}” already; choose another name.", field="name")
    return name


def _keep(bank: Bank, table: Table, called: str, stock_id: str, **columns: object) -> str:
    row_id = row_of(stock_id)
    with bank.change(f"{'Change' if row_id else 'Add'} {called}") as tx:
        if row_id:
            tx.update(table, row_id, **columns)
        else:
            row_id = tx.insert(table, **columns)
    return f"{_OWN}{row_id}"


def _remove(
    bank: Bank, table: Table, what: str, name: str, row_id: int, kept: Sequence[Own] | Sequence[OwnPrinter]
) -> None:
    if not row_id:
        raise Refusal("This one travels with the program and stays. Copy it, and change the copy.")
    if row_id not in {one.id for one in kept}:
        raise Refusal(f"The {what} “{name}” is removed already; nothing was changed. Undo brings it back.")
    with bank.change(f"Remove {what} {name}") as tx:
        tx.update(table, row_id, void=1)
