"""The keeper's own layouts, sheets and printers."""

from dataclasses import replace

import pytest

from sporebank.core.errors import Refusal
from sporebank.core.layout import Kind
from sporebank.core.sheets import PrinterFit, Sheet, roll
from sporebank.formats.label_layouts import load_label_layouts
from sporebank.formats.label_sheets import load_label_sheets
from sporebank.jobs import undo
from sporebank.jobs.label_stock import (
    Printer,
    free_name,
    keep_layout,
    keep_printer,
    keep_sheet,
    remove_layout,
    remove_printer,
    remove_sheet,
    row_of,
    stock,
)

BUILT_IN = load_label_layouts()[0]
LEFTOVER = Sheet("", "Leftover sheets", 210.0, 297.0, 3, 8, 60.0, 30.0, 10.0, 12.5, 65.0, 34.0)


def test_a_new_bank_has_what_travels_with_the_program(bank):
    found = stock(bank)
    assert (found.layouts, found.sheets) == (load_label_layouts(), load_label_sheets())
    assert (found.printers, dict(found.next_cells)) == ((), {})
    assert found.layout("vial-24") == BUILT_IN
    assert found.layout("own-9") is None


@pytest.mark.parametrize("layout", load_label_layouts(), ids=lambda layout: layout.id)
def test_every_layout_can_be_copied_and_is_read_as_it_was_kept(bank, layout):
    own = keep_layout(bank, replace(layout, title="Mine"))
    kept = stock(bank).layout(own)
    assert kept == replace(layout, id=own, title="Mine")


def test_an_own_layout_is_changed_renamed_removed_and_all_of_it_taken_back(bank):
    own = keep_layout(bank, replace(BUILT_IN, title="Mine"))
    larger = replace(stock(bank).layout(own), title="Mine, larger", width=30.0)
    assert keep_layout(bank, larger) == own
    assert stock(bank).layout(own) == larger
    remove_layout(bank, larger)
    assert stock(bank).layout(own) is None
    undo.undo(bank)
    assert stock(bank).layout(own) == larger
    undo.undo(bank)
    assert stock(bank).layout(own).title == "Mine"
    undo.undo(bank)
    assert stock(bank).layout(own) is None


@pytest.mark.parametrize(("far", "scale"), [(25.0, 1.1), (-25.0, 0.9)])
def test_a_printer_is_kept_up_to_the_very_limits_that_are_told(bank, far, scale):
    fit = PrinterFit(far, far, scale, scale)
    keep_printer(bank, Printer(0, "Office", fit))
    assert [one.fit for one in stock(bank).printers] == [fit]
    with pytest.raises(Refusal, match="lies between 0.9 and 1.1"):
        PrinterFit(scale_x=scale + (scale - 1) / 100)


def test_what_travels_with_the_program_is_never_changed(bank):
    with pytest.raises(Refusal, match="already") as refused:
        keep_layout(bank, replace(BUILT_IN, width=30.0))
    assert refused.value.field == "name"
    with pytest.raises(Refusal, match="stays"):
        remove_layout(bank, BUILT_IN)
    with pytest.raises(Refusal, match="stays"):
        remove_sheet(bank, load_label_sheets()[0])


def test_numbers_that_contradict_each_other_are_not_kept(bank):
    narrow = replace(BUILT_IN, title="Mine", width=12.0)
    with pytest.raises(Refusal, match="outside the label by"):
        keep_layout(bank, narrow)
    assert stock(bank).layouts == load_label_layouts()


@pytest.mark.parametrize("name", ["", "   "])
def test_a_name_is_wanted(bank, name):
    for refused in (
        lambda: keep_layout(bank, replace(BUILT_IN, title=name)),
        lambda: keep_sheet(bank, replace(LEFTOVER, title=name)),
        lambda: keep_printer(bank, Printer(0, name, PrinterFit())),
    ):
        with pytest.raises(Refusal, match="name of your own"):
            refused()


def test_a_name_is_given_once(bank):
    keep_sheet(bank, LEFTOVER)
    keep_printer(bank, Printer(0, "Office", PrinterFit()))
    with pytest.raises(Refusal, match="already"):
        keep_sheet(bank, replace(LEFTOVER, title="LEFTOVER  sheets"))
    with pytest.raises(Refusal, match="already"):
        keep_printer(bank, Printer(0, "office", PrinterFit()))


@pytest.mark.parametrize(
    "sheet", [LEFTOVER, roll("", "Roll of dots", 12.0, 12.0, round=True)], ids=lambda one: one.title
)
def test_an_own_sheet_is_read_as_it_was_kept(bank, sheet):
    own = keep_sheet(bank, sheet)
    assert stock(bank).sheet(own) == replace(sheet, id=own)
    again = replace(stock(bank).sheet(own), title="Another name")
    assert keep_sheet(bank, again) == own
    remove_sheet(bank, again)
    assert stock(bank).sheet(own) is None
    undo.undo(bank)
    assert stock(bank).sheet(own) == again


def test_a_printer_is_kept_with_how_it_is_put_right(bank):
    fit = PrinterFit(0.6, -1.2, 1.004, 0.997, 203)
    printer_id = keep_printer(bank, Printer(0, "Office", fit))
    (kept,) = stock(bank).printers
    assert kept == Printer(printer_id, "Office", fit)
    better = replace(kept, fit=fit.measured(100.5, 99.0))
    assert keep_printer(bank, better) == printer_id
    assert stock(bank).printers == (better,)
    remove_printer(bank, better)
    assert stock(bank).printers == ()


def test_nothing_is_removed_twice(bank):
    layout = replace(BUILT_IN, title="Mine", id=keep_layout(bank, replace(BUILT_IN, title="Mine")))
    sheet = replace(LEFTOVER, id=keep_sheet(bank, LEFTOVER))
    printer = Printer(keep_printer(bank, Printer(0, "Office", PrinterFit())), "Office", PrinterFit())
    for remove, one, name in (
        (remove_layout, layout, "label layout “Mine”"),
        (remove_sheet, sheet, "label sheet “Leftover sheets”"),
        (remove_printer, printer, "printer “Office”"),
    ):
        remove(bank, one)
        with pytest.raises(Refusal, match=f"{name} is removed already"):
            remove(bank, one)
        undo.undo(bank)
        remove(bank, one)


def test_a_copy_gets_a_free_name():
    assert free_name("Bag", {"Bag"}) == "Bag, own"
    assert free_name("Bag", {"Bag", "bag, OWN", "Bag, own 2"}) == "Bag, own 3"


def test_own_ones_are_told_from_those_of_the_program(bank):
    assert row_of("vial-24") == 0
    assert row_of(keep_layout(bank, replace(BUILT_IN, title="Mine"))) == 1
    assert stock(bank).layout("own-1").kind is Kind.VIAL
