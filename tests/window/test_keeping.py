"""How spore keeps and what befell it, written with the keyboard alone."""

from __future__ import annotations

from datetime import date

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core.records import Before, MishapKind, SporeClass
from sporebank.core.storage import INITIAL
from sporebank.formats.tables import load_storage
from sporebank.jobs import figures, keeping, undo
from sporebank.window.theme import Theme
from tests.builders import clone, fridge, stored
from tests.window.conftest import TODAY, Told
from tests.window.desk import DialogDesk, Make, Settle
from tests.window.keys import choose, doubled_letters, press, tab_to, write


def _stock(bank: Bank) -> None:
    figures.keep_fresh(bank)
    fridge(bank)
    stored(bank, clone=clone("C-01"))


@pytest.fixture
def desk(qtbot: QtBot, theme: Theme, make_context: Make, settle: Settle, told: Told) -> DialogDesk:
    made = DialogDesk(qtbot, make_context(), settle, told)
    made.context.do(_stock)
    return made


def test_a_number_is_changed_and_put_back(desk: DialogDesk, told: Told) -> None:
    dialog = desk.open("keeping")
    assert doubled_letters(dialog) == []
    table = tab_to(desk.qtbot, dialog, "Numbers")
    assert dialog.title.text() == "Fresh spore"
    assert dialog.value.line.text() == "95"
    place = next(n for n, row in enumerate(dialog.model.rows) if row.number.what == "non-green.fridge")
    for _ in range(place):
        desk.qtbot.keyClick(table, Qt.Key.Key_Down)
    assert dialog.title.text() == "Non-green, fridge"
    assert "Rumohra" in dialog.evidence.text()
    assert not dialog.reset.isEnabled()
    write(desk.qtbot, dialog, "Days to lose a probit", "1500")
    press(desk.qtbot, dialog, "Keep")
    desk.settle()
    assert told.bugs == []
    assert desk.read(keeping.table).rows[SporeClass.NON_GREEN].fridge.days == 1500
    assert dialog.model.rows[place].own
    assert "At first: 2,000 days" in dialog.evidence.text()
    press(desk.qtbot, dialog, "Reset this")
    desk.settle()
    assert desk.read(keeping.table) == load_storage()
    assert desk.read(undo.undo).startswith("How spore keeps")


def test_the_share_of_fresh_spore_is_written_in_percent(desk: DialogDesk) -> None:
    dialog = desk.open("keeping")
    write(desk.qtbot, dialog, "Alive when fresh (%)", "90")
    press(desk.qtbot, dialog, "Keep")
    desk.settle()
    assert desk.read(keeping.table).initial == pytest.approx(1.281552, abs=1e-6)
    press(desk.qtbot, dialog, "Reset all")
    desk.settle()
    assert desk.read(keeping.table) == load_storage()
    assert not dialog.reset_all.isEnabled()


@pytest.mark.parametrize(
    ("field", "text", "says"),
    [
        ("Alive when fresh (%)", "100", "between 0 and 100"),
        ("Alive when fresh (%)", "many", "not a number"),
        ("Alive when fresh (%)", "", "Give a number"),
        ("Spread", "7", "from 0.02 to 1"),
        ("Spread", "", "Give a spread"),
    ],
)
def test_nonsense_is_refused_beside_its_field(desk: DialogDesk, field: str, text: str, says: str) -> None:
    dialog = desk.open("keeping")
    assert dialog.model.rows[0].number.what == INITIAL
    write(desk.qtbot, dialog, field, text)
    press(desk.qtbot, dialog, "Keep")
    desk.settle()
    assert says in " ".join(each.error for each in dialog.form.fields.values())
    assert desk.read(queries.keeping) == {}


def test_what_befell_a_vial_is_put_on_record(desk: DialogDesk, told: Told) -> None:
    vial = desk.read(lambda bank: queries.vial_id_of_code(bank, queries.vial_row(bank, 1).code))
    dialog = desk.open("mishap", vial_ids=[vial])
    assert doubled_letters(dialog) == []
    choose(desk.qtbot, dialog, "What happened", "It got wet")
    write(desk.qtbot, dialog, "Note", "roof leaked")
    desk.enter(dialog)
    assert told.bugs == []
    (befell,) = desk.read(lambda bank: queries.mishaps(bank, [vial]))[vial]
    assert (befell.kind, befell.on, befell.note) == (MishapKind.WET, TODAY, "roof leaked")


def test_what_befell_a_place_befell_all_in_it(desk: DialogDesk) -> None:
    fridge_id = desk.read(
        lambda bank: next(place.id for place, _, _ in queries.places(bank) if place.name == "Fridge 1")
    )
    dialog = desk.open("mishap", place_id=fridge_id)
    assert dialog.about.text().endswith("Fridge 1: 3 vials")
    choose(desk.qtbot, dialog, "What happened", "It froze")
    desk.enter(dialog)
    assert set(desk.read(lambda bank: queries.mishaps(bank, [1, 2, 3]))) == {1, 2, 3}


def test_a_mishap_before_storing_is_refused(desk: DialogDesk) -> None:
    dialog = desk.open("mishap", vial_ids=[1])
    dialog.day.set_value(date(2020, 1, 1))
    desk.enter(tab_to(desk.qtbot, dialog, "Note").window())
    assert "was stored on" in dialog.form.fields["on"].error


def test_where_a_batch_lay_before_is_set_right(desk: DialogDesk) -> None:
    dialog = desk.open("change_batch", batch_id=1)
    choose(desk.qtbot, dialog, "Until stored it lay", "Not known")
    desk.enter(dialog)
    assert desk.read(lambda bank: queries.batch(bank, 1)).before is Before.UNKNOWN
