"""Looks at pots by keyboard: a sowing, its pots, what is seen in them."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import codes
from sporebank.core.looks import LookKind, Pot
from sporebank.jobs import figures
from sporebank.jobs.looks import LookForm, record
from sporebank.jobs.sowing import SowForm, sow
from sporebank.window.theme import Theme
from tests.builders import clone, fridge, stored
from tests.window.conftest import Told
from tests.window.desk import DialogDesk, Make, Settle, Show, WindowDesk
from tests.window.keys import at, bring_to_front, choose, press, tab_to, write

SHIFT = Qt.KeyboardModifier.ShiftModifier


def _sow(bank: Bank) -> None:
    """Sow four pots of one fern and one of another."""
    figures.keep_fresh(bank)
    fridge(bank)
    for number, (name, pots) in enumerate((("Dryopteris affinis", 4), ("Osmunda regalis", 1))):
        vial_id = stored(bank, name, clone=clone(f"C-{number}"), vials=1).vial_ids[0]
        sow(bank, SowForm(vial_id, "Lean-to", date(2026, 4, 1 + number), pots, 300))


def _pots(bank: Bank) -> list[Pot]:
    return queries.pots(bank, queries.sowings(bank)[1].id)


class Potting(WindowDesk):
    """The window on the Sow page, and what it asks dialogs for."""

    key = "sow"

    def __init__(self, qtbot: QtBot, make_context: Make, settle: Settle, show: Show) -> None:
        context = make_context(stock=_sow)
        context.do(figures.keep_fresh)
        super().__init__(qtbot, context, settle, show)
        self.dialogs: list[tuple[str, dict[str, Any]]] = []
        context.dialog_wanted.disconnect()
        context.dialog_wanted.connect(lambda key, arguments: self.dialogs.append((key, arguments)))

    def go_down(self, table: str, times: int) -> QWidget:
        """Tab to a table, to its first row, and go down so many."""
        here = tab_to(self.qtbot, self.window, table)
        self.qtbot.keyClick(here, Qt.Key.Key_Home, Qt.KeyboardModifier.ControlModifier)
        for _ in range(times):
            self.qtbot.keyClick(here, Qt.Key.Key_Down)
        self.settle()
        return here

    def look(self) -> None:
        """Press Ctrl and I."""
        bring_to_front(self.qtbot, self.window)
        self.qtbot.keyClick(at(self.window), Qt.Key.Key_I, Qt.KeyboardModifier.ControlModifier)
        self.settle()


@pytest.fixture
def potting(qtbot: QtBot, theme: Theme, make_context: Make, show: Show, settle: Settle) -> Potting:
    return Potting(qtbot, make_context, settle, show)


@pytest.fixture
def desk(qtbot: QtBot, theme: Theme, make_context: Make, settle: Settle, told: Told) -> DialogDesk:
    context = make_context(stock=_sow)
    context.do(figures.keep_fresh)
    return DialogDesk(qtbot, context, settle, told)


def test_a_look_is_for_all_pots_of_a_sowing_or_for_those_selected(potting: Potting) -> None:
    pots = potting.read(_pots)
    assert not potting.window.commands.by_id["record_look"].isEnabled()
    potting.go_down("The last sowings", 1)
    potting.look()
    here = potting.go_down("The pots of the sowing", 1)
    potting.qtbot.keyClick(here, Qt.Key.Key_Down, SHIFT)
    potting.look()
    assert potting.dialogs == [
        ("look", {"pot_ids": tuple(pot.id for pot in pots)}),
        ("look", {"pot_ids": (pots[1].id, pots[2].id)}),
    ]


def test_return_looks_at_the_pot_in_hand(potting: Potting) -> None:
    pots = potting.read(_pots)
    potting.go_down("The last sowings", 1)
    here = potting.go_down("The pots of the sowing", 3)
    potting.qtbot.keyClick(here, Qt.Key.Key_Return)
    assert potting.dialogs == [("look", {"pot_ids": (pots[3].id,)})]


def test_the_page_says_how_a_sowing_and_its_pots_stand(potting: Potting) -> None:
    pots = potting.read(_pots)
    ids = tuple(pot.id for pot in pots)
    potting.go_down("The last sowings", 1)
    assert "<i>Dryopteris affinis</i>, sown 1 Apr 2026, Lean-to" in potting.page.pots.about.text()
    potting.read(lambda bank: record(bank, LookForm(ids, date(2026, 4, 28), LookKind.FILM)))
    potting.read(lambda bank: record(bank, LookForm(ids[:1], date(2026, 5, 2), LookKind.SPORELINGS, 12, "very early")))
    potting.settle()

    def cells(model: Any, row: int) -> list[str]:
        return [model.data(model.index(row, column)) for column in range(model.columnCount())]

    assert cells(potting.page.sowings, 1)[2:5] == ["Sporelings in 1 of 4 pots, green film in 3", "2 May 2026", "4"]
    assert cells(potting.page.sowings, 0)[2:4] == ["", ""]
    shown = potting.page.pots.model
    assert [cells(shown, row)[2:] for row in range(2)] == [
        ["12 sporelings", "2 May 2026"],
        ["Green film", "28 Apr 2026"],
    ]
    assert shown.data(shown.index(0, 2), Qt.ItemDataRole.ToolTipRole).startswith(
        "2 May 2026, 4 weeks after sowing: 12 sporelings – very early\n"
    )


def test_a_pot_that_is_found_is_selected(potting: Potting) -> None:
    pots = potting.read(_pots)
    potting.context.go("sow", code=pots[2].code)
    potting.settle()
    assert [pot.code for pot in potting.page.pots.selected()] == [pots[2].code]
    potting.read(lambda bank: record(bank, LookForm((pots[0].id,), date(2026, 5, 2), LookKind.MOULD)))
    potting.settle()
    assert [pot.code for pot in potting.page.pots.selected()] == [pots[2].code]


def test_one_pot_is_looked_at_with_its_sporelings_counted(desk: DialogDesk) -> None:
    pot = desk.read(_pots)[0]
    desk.read(lambda bank: record(bank, LookForm((pot.id,), date(2026, 4, 20), LookKind.FILM)))
    dialog = desk.open("look", pot_ids=(pot.id,))
    assert dialog.about.text() == (
        f"{codes.grouped(pot.code)} · Dryopteris affinis, sown 1 Apr 2026, Lean-to\n"
        "20 Apr 2026, 2 weeks after sowing: green film"
    )
    assert "moss or liverwort. Do not throw them away" in at(dialog).accessibleDescription()
    assert not dialog.form.fields["count"].isVisible()
    choose(desk.qtbot, dialog, "What is seen", "Sporelings")
    write(desk.qtbot, dialog, "Day", "2026-05-02")
    write(desk.qtbot, dialog, "How many sporelings", "7")
    write(desk.qtbot, dialog, "Note", "one with a fork")
    desk.enter(dialog)
    assert dialog.isHidden()
    (last, _) = desk.read(lambda bank: queries.pots_by_id(bank, [pot.id]))[0].looks
    assert (last.on, last.said(), last.note) == (date(2026, 5, 2), "7 sporelings", "one with a fork")
    assert desk.told is not None
    assert desk.told.infos[-1][0] == "On record: sporelings in 1 pot."


def test_many_pots_get_one_look_which_is_offered_the_next_time(desk: DialogDesk) -> None:
    pots = desk.read(_pots)
    dialog = desk.open("look", pot_ids=tuple(pot.id for pot in pots[:3]))
    assert dialog.about.text() == "3 of 4 pots · Dryopteris affinis, sown 1 Apr 2026, Lean-to"
    choose(desk.qtbot, dialog, "What is seen", "Sporelings")
    assert not dialog.form.fields["count"].isVisible()
    press(desk.qtbot, dialog, "Put on record")
    desk.settle()
    found = desk.read(_pots)
    assert [pot.last and pot.last.said() for pot in found] == ["sporelings"] * 3 + [None]
    again = desk.open("look", pot_ids=tuple(pot.id for pot in pots))
    assert again.what.value() is LookKind.SPORELINGS
    assert again.about.text().startswith("All 4 pots · ")


@pytest.mark.parametrize(
    ("day", "says"),
    [("2026-03-31", "It was sown on 1 Apr 2026"), ("2026-05-05", "has not come yet"), ("", "Give the day")],
)
def test_a_day_that_cannot_be_is_refused_beside_its_field(desk: DialogDesk, day: str, says: str) -> None:
    dialog = desk.open("look", pot_ids=(desk.read(_pots)[0].id,))
    write(desk.qtbot, dialog, "Day", day)
    desk.enter(dialog)
    assert dialog.isVisible()
    assert says in dialog.form.fields["on"].error
    assert desk.read(_pots)[0].looks == ()


def test_the_looks_on_record_are_asked_for_by_key_and_by_button(potting: Potting) -> None:
    pots = potting.read(_pots)
    potting.read(lambda bank: record(bank, LookForm((pots[0].id,), date(2026, 4, 20), LookKind.FILM)))
    assert not potting.window.commands.by_id["list_looks"].isEnabled()
    potting.go_down("The last sowings", 1)
    potting.go_down("The pots of the sowing", 2)
    bring_to_front(potting.qtbot, potting.window)
    potting.qtbot.keyClick(at(potting.window), Qt.Key.Key_J, Qt.KeyboardModifier.ControlModifier)
    potting.press("Earlier looks…")
    assert potting.dialogs == [("looks", {"pot_ids": (pots[2].id,)})] * 2


def test_there_is_nothing_to_list_where_nobody_looked(potting: Potting) -> None:
    potting.go_down("The last sowings", 1)
    assert potting.page.pots.earlier.isVisible()
    assert not potting.page.pots.earlier.isEnabled()


@pytest.mark.parametrize("key", [Qt.Key.Key_Return, Qt.Key.Key_Delete])
def test_a_look_that_was_a_mistake_is_taken_back_by_keys(desk: DialogDesk, key: Qt.Key) -> None:
    ids = tuple(pot.id for pot in desk.read(_pots))
    desk.read(lambda bank: record(bank, LookForm(ids[:2], date(2026, 4, 20), LookKind.FILM)))
    desk.read(lambda bank: record(bank, LookForm(ids[:1], date(2026, 4, 28), LookKind.MOULD, note="white fluff")))
    dialog = desk.open("looks", pot_ids=ids)
    assert dialog.about.text() == "All 4 pots · Dryopteris affinis, sown 1 Apr 2026, Lean-to"
    shown = dialog.model
    assert [shown.data(shown.index(0, column)) for column in (0, 1, 3, 4)] == [
        "28 Apr 2026", "1", "Mould", "white fluff",
    ]  # fmt: skip
    assert shown.rowCount() == 3
    assert not dialog.go.isEnabled()
    table = tab_to(desk.qtbot, dialog, "Looks at these pots")
    desk.qtbot.keyClick(table, Qt.Key.Key_Down)
    desk.qtbot.keyClick(table, Qt.Key.Key_Up)
    desk.qtbot.keyClick(table, key)
    desk.settle()
    assert dialog.isHidden()
    assert [pot.last and pot.last.said() for pot in desk.read(_pots)] == ["green film"] * 2 + [None] * 2
    assert desk.told is not None
    text, offer = desk.told.infos[-1]
    assert text == "1 look is taken back."
    assert offer is not None
    offer.do()
    desk.settle()
    assert desk.read(_pots)[0].last.what is LookKind.MOULD


def test_where_no_look_is_on_record_it_is_said(desk: DialogDesk) -> None:
    ids = tuple(pot.id for pot in desk.read(_pots))
    assert desk.open("looks", pot_ids=ids[:1]).said.text() == "No look at these pots is on record."
    desk.read(lambda bank: record(bank, LookForm(ids[:1], date(2026, 4, 20), LookKind.FILM)))
    assert "Undo brings it back" in desk.open("looks", pot_ids=ids[:1]).said.text()
