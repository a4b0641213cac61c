"""Donations in the window: typed in an evening, looked up as one types, thanked for."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from sporebank.bank import queries
from sporebank.core.dates import PartDate
from sporebank.core.exchange import Exchange, Shape, Stage, Terms
from sporebank.core.records import Contact
from sporebank.jobs import exchange, figures, sharing
from sporebank.window.dialogs.donation import DonationDialog
from sporebank.window.exchange_donations import DonationsTab
from tests.builders import fridge, stored
from tests.window.conftest import Told
from tests.window.desk import DialogDesk, Settle, TabDesk
from tests.window.keys import doubled_letters, press, tab_to, write

ROUND = Exchange(
    0, "Spring round", Shape.ROUND, Stage.GATHERING, date(2026, 3, 1), date(2026, 5, 30), date(2026, 6, 10), Terms()
)


YEAR = PartDate(2025)


def build(bank: Any) -> None:
    figures.keep_fresh(bank)
    fridge(bank)
    stored(bank, "Dryopteris affinis")
    exchange.begin(bank, ROUND)
    sharing.save_contact(bank, Contact(0, "Odile Ferrand", country="FR"))


def typed(desk: DialogDesk, dialog: DonationDialog, text: str) -> None:
    """Type lines, and wait until they are looked up."""
    here = tab_to(desk.qtbot, dialog, "Packets, a line each: name; packets; collected; origin; country; note")
    for line in text.splitlines():
        desk.qtbot.keyClicks(here, line)
        desk.qtbot.keyClick(here, Qt.Key.Key_Return)
    desk.qtbot.waitUntil(lambda: not dialog._pause.isActive())
    desk.settle()


@pytest.fixture
def desk(qtbot: QtBot, make_context: Any, settle: Settle, told: Told) -> DialogDesk:
    desk = DialogDesk(qtbot, make_context(), settle, told)
    desk.read(build)
    return desk


def test_packets_are_typed_looked_up_and_taken_in_by_keyboard(desk: DialogDesk) -> None:
    dialog: DonationDialog = desk.open("donation", exchange_id=1)
    write(desk.qtbot, dialog, "Who gave it", "Odile Ferrand")
    assert not dialog.form.fields["country"].isVisible()
    typed(desk, dialog, "Dryopteris affinis; 3; 2025\nOsmunda regalis; 1; 2025\n42")
    assert [line.to_look_at for line in dialog.model.rows] == [False, True, True]
    assert dialog.count.text() == "3 lines, 2 to look at, 1 of them wrong."
    press(desk.qtbot, dialog, "Only what is new, old or odd")
    assert [line.read.number for line in dialog.model.rows] == [2, 3]
    press(desk.qtbot, dialog, "Take it in")
    desk.settle()
    assert "42" in dialog.form.fields["gifts"].error
    assert dialog.isVisible()
    assert desk.read(lambda bank: queries.donations(bank, 1)) == []


def test_somebody_new_is_kept_with_what_they_gave(desk: DialogDesk) -> None:
    dialog: DonationDialog = desk.open("donation", exchange_id=1)
    write(desk.qtbot, dialog, "Who gave it", "Bo Halvard")
    write(desk.qtbot, dialog, "Country", "DK")
    typed(desk, dialog, "Osmunda regalis; 2; 2025; garden; ; resealed")
    assert doubled_letters(dialog) == []
    press(desk.qtbot, dialog, "Take it in")
    desk.settle()
    (given,) = desk.read(lambda bank: queries.donations(bank, 1))
    assert (given.contact.name, given.contact.country, given.packets, given.resealed) == ("Bo Halvard", "DK", 2, True)
    assert desk.told is not None
    assert desk.told.infos[-1][0] == "1 packet of Bo Halvard taken in; the labels wait."


def test_nobody_gave_nothing(desk: DialogDesk) -> None:
    dialog: DonationDialog = desk.open("donation", exchange_id=1)
    press(desk.qtbot, dialog, "Take it in")
    desk.settle()
    assert dialog.form.fields["name"].error


def test_what_was_given_is_listed_and_thanked_for(qtbot: QtBot, make_context: Any, settle: Settle, told: Told) -> None:
    from sporebank.core.donations import Gift
    from sporebank.jobs import donations

    desk = TabDesk(qtbot, make_context(), settle, told)
    desk.read(build)
    tab = DonationsTab(desk.context)
    desk.show(tab)
    tab.show_exchange(desk.read(lambda bank: queries.exchange(bank, 1)))
    desk.settle()
    assert tab.empty.isVisible()
    form = donations.DonationForm(
        1, 1, date(2026, 3, 2), (Gift("Osmunda regalis", 2, YEAR), Gift("Dryopteris affinis", 1, YEAR))
    )
    desk.read(lambda bank: donations.take_in(bank, form))
    assert tab.told.text() == "1 donor, 2 names, 3 packets’ worth."
    assert not tab.deeds["Copy the thanks"].isEnabled()
    tab.table.choose_rows([0])
    tab.copy_thanks()
    desk.settle()
    assert QApplication.clipboard().text().startswith("Dear Odile Ferrand,")
    tab.print_thanks()
    desk.settle()
    assert desk.dialogs[-1].windowTitle() == "Letter of thanks"
