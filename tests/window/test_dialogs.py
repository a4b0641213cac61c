"""Small dialogs on vials, worked with the keyboard alone."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialogButtonBox, QWidget
from pytestqt.qtbot import QtBot

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.jobs.sowing import SowForm, sow
from sporebank.window.screens import room_for
from sporebank.window.theme import Theme
from tests.window.conftest import Told
from tests.window.desk import DialogDesk, Make, Settle
from tests.window.keys import at, choose, doubled_letters, tab_to, write


def _sow(bank: Bank) -> None:
    sow(bank, SowForm(1, "Lean-to", bank.today(), 2, 300))


@pytest.fixture
def desk(qtbot: QtBot, theme: Theme, make_context: Make, settle: Settle, told: Told) -> DialogDesk:
    context = make_context(60)
    context.do(_sow)
    return DialogDesk(qtbot, context, settle, told)


def _whole(widget: QWidget) -> bool:
    return widget.visibleRegion().boundingRect().height() == widget.height()


FORMS = (
    ("take_spore", {"vial_ids": (1,)}, "How much"),
    ("move_vials", {"vial_ids": (1,)}, "To"),
    ("note_vial", {"vial_id": 1}, "Note"),
    ("rename_place", {"place_id": 1}, "Name"),
    ("set_conditions", {"place_id": 1}, "Temperature, °C"),
    ("move_place", {"place_id": 3}, "To"),
    ("add_place", {}, "Name"),
    ("new_request", {}, "Who asks"),
    ("change_clone", {"clone_id": 2}, "Code"),
    ("change_batch", {"batch_id": 2}, "Collected on"),
    ("change_name", {"clone_id": 2}, "Name"),
    ("look", {"pot_ids": (1,)}, "What is seen"),
)


FORM_ARGUMENTS = [(key, arguments) for key, arguments, _ in FORMS]


@pytest.mark.parametrize(("key", "arguments", "first"), FORMS)
def test_a_form_comes_up_whole_with_the_keyboard_in_its_first_field(
    desk: DialogDesk, key: str, arguments: dict[str, object], first: str
) -> None:
    dialog = desk.open(key, **arguments)
    desk.qtbot.waitUntil(lambda: _whole(dialog.form))
    assert at(dialog).accessibleName() == first
    assert doubled_letters(dialog) == []


@pytest.mark.parametrize(
    ("key", "arguments"),
    [
        ("help", {}),
        ("contacts", {}),
        ("label_stock", {}),
        ("clone", {"clone_id": 2}),
        ("batch", {"batch_id": 2}),
        *FORM_ARGUMENTS,
    ],
)
def test_no_dialog_is_larger_than_its_screen(desk: DialogDesk, key: str, arguments: dict[str, object]) -> None:
    dialog = desk.open(key, **arguments)
    room = room_for(dialog)
    assert dialog.width() < room.width()
    assert dialog.height() < room.height()
    for button in dialog.findChildren(QDialogButtonBox)[0].buttons():
        assert _whole(button), button.text()


def test_a_refusal_under_a_field_makes_the_form_higher_not_scrolled(desk: DialogDesk) -> None:
    dialog = desk.open("take_spore", vial_ids=(1,))
    before = dialog.height()
    write(desk.qtbot, dialog, "How much", "much")
    desk.enter(dialog)
    assert "much" in dialog.form.fields["amount"].error
    desk.qtbot.waitUntil(lambda: _whole(dialog.form))
    assert dialog.height() >= before


def test_spore_is_taken_out_of_every_vial_chosen(desk: DialogDesk) -> None:
    before = [row.left for row in desk.read(lambda bank: queries.vials_by_id(bank, [5, 6]))]
    dialog = desk.open("take_spore", vial_ids=(5, 6))
    write(desk.qtbot, dialog, "How much from each", "1,5")
    choose(desk.qtbot, dialog, "For", "Gift")
    desk.enter(dialog)
    after = [row.left for row in desk.read(lambda bank: queries.vials_by_id(bank, [5, 6]))]
    assert [one - other for one, other in zip(before, after, strict=True)] == [1500, 1500]
    assert desk.told.infos[-1][0] == "1.5 mg taken for gift."
    assert not dialog.isVisible()


def test_more_than_is_left_is_refused_beside_the_amount_and_what_is_left_can_be_set_right(desk: DialogDesk) -> None:
    dialog = desk.open("take_spore", vial_ids=(5,))
    write(desk.qtbot, dialog, "How much", "900")
    desk.enter(dialog)
    assert "is left in" in dialog.form.fields["amount"].error
    choose(desk.qtbot, dialog, "For", "Correction")
    write(desk.qtbot, dialog, "How much", "0")
    desk.enter(dialog)
    assert desk.read(lambda bank: queries.vial_row(bank, 5)).left == 0


def test_a_vial_moves_to_the_slot_written_and_the_next_dialog_offers_the_same_place(desk: DialogDesk) -> None:
    dialog = desk.open("move_vials", vial_ids=(5,))
    choose(desk.qtbot, dialog, "To", "Fridge 1 / Box 1")
    write(desk.qtbot, dialog, "Slot", "Z99")
    desk.enter(dialog)
    assert dialog.form.fields["slot"].error
    write(desk.qtbot, dialog, "Slot", "I9")
    desk.enter(dialog)
    assert desk.read(lambda bank: queries.vial_row(bank, 5)).place == "Fridge 1 / Box 1 / I9"
    assert desk.open("move_vials", vial_ids=(6,)).place.currentText().startswith("Fridge 1 / Box 1")


def test_a_note_is_written(desk: DialogDesk) -> None:
    dialog = desk.open("note_vial", vial_id=7)
    desk.qtbot.keyClicks(at(dialog), "cap is cracked")
    tab_to(desk.qtbot, dialog, "Keep")
    desk.enter(dialog)
    assert desk.read(lambda bank: queries.vial_row(bank, 7)).note == "cap is cracked"


@pytest.mark.parametrize(("key", "arguments"), [("clone", {"clone_id": 2}), ("batch", {"batch_id": 2})])
def test_cards_tell_what_is_known_and_escape_closes_them(
    desk: DialogDesk, key: str, arguments: dict[str, object]
) -> None:
    dialog = desk.open(key, **arguments)
    text = " ".join(one.toPlainText() for one in dialog.findChildren(QWidget) if hasattr(one, "toPlainText"))
    assert "Dryopteris crispifolia" in text
    assert "K-001" in text
    desk.qtbot.keyClick(at(dialog), Qt.Key.Key_Escape)
    assert not dialog.isVisible()


def test_help_has_the_cautions_and_every_key(desk: DialogDesk) -> None:
    dialog = desk.open("help")
    text = " ".join(one.toPlainText() for one in dialog.findChildren(QWidget) if hasattr(one, "toPlainText"))
    for said in ("dust mask", "scalds", "Ctrl+Z", "Ctrl+N", "F6"):
        assert said in text
