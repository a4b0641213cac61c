"""Storing a batch by keyboard, as a keeper does it."""

from __future__ import annotations

from typing import Any

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core.counting import limits
from sporebank.core.dates import PartDate
from sporebank.core.records import Basis, Batch, Cleaning, Permission, Source, SporeClass, VialRow
from sporebank.jobs import label_records
from sporebank.window.pages.store import StorePage
from sporebank.window.theme import Theme
from sporebank.window.widgets.field import Form
from tests.builders import clone, fridge, stored
from tests.window.conftest import Told
from tests.window.desk import Make, Settle, Show, WindowDesk
from tests.window.keys import at, close_list, doubled_letters, tab_to, turn_to


class Desk(WindowDesk):
    """The window on the Store page, and short ways to work it."""

    key = "store"

    def settle(self) -> None:
        self.qtbot.waitUntil(lambda: not self.page._pause.isActive())
        super().settle()

    def last(self) -> tuple[Batch, list[VialRow]]:
        """Return the batch stored last and its vials."""

        def query(bank: Bank) -> tuple[Batch, list[VialRow]]:
            batch = max(queries.batches(bank), key=lambda one: one.id)
            return batch, queries.batch_vials(bank, batch.id)

        return self.read(query)

    def forms(self) -> tuple[Form, ...]:
        return self.page.forms


@pytest.fixture
def desk(qtbot: QtBot, theme: Theme, make_context: Make, show: Show, settle: Settle) -> Desk:
    context = make_context()
    context.do(lambda bank: fridge(bank, rows=2, columns=3))
    return Desk(qtbot, context, settle, show)


def test_name_date_and_amount_are_enough(desk: Desk, told: Told) -> None:
    desk.write("Taxon", "Dryopteris affinis 'Cristata'")
    assert desk.page.what.understood.text() == "<i>Dryopteris affinis </i>&#x27;Cristata&#x27; · Dryopteridaceae"
    assert "unverified" in desk.page.what.remarks.text()
    desk.write("Collected on", "2025-08")
    desk.write("Amount in all (mg)", "26")
    assert desk.page.amount.comes_to.text().startswith("= 26 mg, about 2,4")
    desk.keep()
    batch, vials = desk.last()
    assert desk.errors() == {}
    assert batch.clone.code == "C-01"
    assert batch.clone.taxon.family == "Dryopteridaceae"
    assert not batch.clone.taxon.verified
    assert batch.collected == PartDate(2025, 8)
    assert (batch.amount_basis, batch.amount_said) == (Basis.WEIGHED, "26 mg")
    assert sum(vial.left for vial in vials) == 26_000
    assert [vial.place[-2:] for vial in vials] == ["A1", "A2", "A3"]
    assert told.infos[-1][0] == "Stored in 3 vials."
    assert desk.page.stored.isVisible()
    assert at(desk.window) is desk.page.stored.labels


def test_everything_known_is_kept(desk: Desk) -> None:
    desk.context.do(
        lambda bank: stored(bank, "Osmunda regalis", clone=clone("R-7", network_number="XX-0-ABC-1998/417"))
    )
    desk.settle()
    desk.write("Taxon", "Equisetum hyemale")
    desk.press("Name checked: I am sure that it is this")
    desk.write("Received as", "Scouring rush")
    desk.write("Old name", "Hippochaete hyemalis")
    assert desk.page.what.keeps.value() is SporeClass.GREEN
    desk.choose("How its spore keeps", "Not known")
    desk.write("Code", "X/4")
    desk.choose("Kind of source", "Received")
    desk.write("Where from", "Stream bank")
    desk.write("When it came", "2024")
    desk.write("By whom", "Marit Olden")
    desk.choose("May be shared", "Ask first")
    desk.write("Permit", "note 5")
    desk.write("Raised from clone", "R-7")
    desk.write("Collected on", "14 Apr 2026")
    desk.write("Fronds picked", "12")
    desk.write("Cleaned on", "2026-04-20")
    desk.write("Minutes it took", "25")
    desk.choose("How", "Tilted and screened")
    desk.write("Screen (µm)", "106")
    desk.choose("How clean", "By count")
    desk.write("How clean: spores counted", "190")
    desk.write("How clean: other particles counted", "10")
    desk.write("Amount in all (mg)", "3,5")
    desk.write("Number of vials", "1")
    desk.write("Stored on", "2026-05-01")
    desk.keep()
    assert desk.errors() == {}
    batch, vials = desk.last()
    plant = batch.clone
    assert plant.taxon.verified
    assert (plant.taxon.old_name, plant.received_as) == ("Hippochaete hyemalis", "Scouring rush")
    assert (plant.code, plant.source, plant.origin) == ("X/4", Source.RECEIVED, "Stream bank")
    assert (plant.acquired, plant.acquired_from) == (PartDate(2024), "Marit Olden")
    assert (plant.permission, plant.permit_note) == (Permission.ASK, "note 5")
    assert plant.network_number == "XX-0-ABC-1998/417"
    assert (batch.fronds, batch.minutes, batch.cleaning, batch.screen_um) == (12, 25, Cleaning.BOTH, 106)
    assert (batch.purity, batch.purity_basis) == (95, Basis.CHAMBER)
    assert batch.spore_class is SporeClass.UNKNOWN
    assert [vial.left for vial in vials] == [3500]
    assert desk.read(lambda bank: queries.stays(bank, [vials[0].id]))[vials[0].id][0].since.isoformat() == "2026-05-01"


def test_an_old_name_is_stored_under_the_accepted_one_and_kept_as_received(desk: Desk) -> None:
    desk.context.do(lambda bank: stored(bank, "Struthiopteris spicant", old_name="Blechnum spicant"))
    desk.settle()
    desk.write("Taxon", "Blechnum  spicant")
    assert "<i>Struthiopteris spicant</i>" in desk.page.what.understood.text()
    assert "is an old name here" in desk.page.what.remarks.text()
    assert desk.page.what.received_as.text() == "Blechnum spicant"
    assert desk.page.clone.which.currentText().startswith("C-01")
    assert not desk.page.clone.new.isVisible()
    desk.choose("Clone", "New clone")
    assert desk.page.clone.fields.code.text() == "C-02"
    desk.write("Collected on", "2025")
    desk.write("Amount in all (mg)", "5")
    desk.keep()
    batch, _ = desk.last()
    assert (batch.clone.code, batch.clone.received_as) == ("C-02", "Blechnum spicant")
    assert batch.clone.taxon.old_name == "Blechnum spicant"


def test_a_slip_in_the_genus_gets_a_hint_and_bracken_a_caution(desk: Desk) -> None:
    desk.write("Taxon", "Pteridum aquilinum")
    assert "Do you mean Pteridium" in desk.page.what.remarks.text()
    assert desk.page.what.keeps.value() is SporeClass.UNKNOWN
    desk.write("Taxon", "Pteridium aquilinum")
    assert "suspected of causing cancer" in desk.page.what.cautions.text()
    desk.write("Taxon", "Salvinia molesta")
    assert "Invasive" in desk.page.what.cautions.text()
    desk.write("Taxon", "aff.")
    assert "Write the genus before" in desk.page.what.remarks.text()


def test_names_complete_from_the_bank_and_the_table_of_genera(desk: Desk) -> None:
    desk.context.do(lambda bank: stored(bank, "Struthiopteris spicant", old_name="Blechnum spicant"))
    desk.settle()
    words = desk.page.what.taxon.words.stringList()
    assert words[:2] == ["Struthiopteris spicant", "Blechnum spicant"]
    assert "Woodwardia" in words
    line = tab_to(desk.qtbot, desk.window, "Taxon")
    desk.qtbot.keyClicks(line, "spic")
    popup = desk.page.what.taxon.completer().popup()
    assert popup.isVisible()
    desk.qtbot.keyClick(popup, Qt.Key.Key_Down)
    desk.qtbot.keyClick(popup, Qt.Key.Key_Return)
    close_list(desk.qtbot, desk.window, desk.page.what.taxon)
    desk.qtbot.waitUntil(lambda: not desk.page._pause.isActive())
    desk.settle()
    assert desk.page.what.taxon.text() == "Struthiopteris spicant"
    assert "Struthiopteris" in desk.page.what.understood.text()


def test_what_is_missing_stands_beside_its_field_and_nothing_is_lost(desk: Desk) -> None:
    desk.write("Taxon", "Dryopteris")
    desk.write("Where from", "North wall")
    desk.write("Code", " ")
    desk.choose("How", "Screened")
    desk.keep()
    assert set(desk.errors()) == {"clone_code", "collected", "screen_um", "amount"}
    assert at(desk.window).accessibleName() == "Code"
    assert desk.read(queries.batches) == []
    desk.window.show_page("vials")
    desk.settle()
    desk.window.show_page("store")
    desk.settle()
    assert desk.page.clone.fields.origin.text() == "North wall"
    assert desk.page.what.taxon.text() == "Dryopteris"
    desk.write("Code", "K-1")
    desk.write("Collected on", "03/04/2025")
    desk.write("Screen (µm)", "75")
    desk.write("Amount in all (mg)", "2 mg or so")
    desk.keep()
    errors = desk.errors()
    assert set(errors) == {"collected", "amount"}
    assert "is not a date" in errors["collected"]
    assert "is not an amount" in errors["amount"]


def test_a_wrong_name_is_refused_beside_the_name(desk: Desk) -> None:
    desk.write("Taxon", "Dryopteris affinis × borreri")
    desk.write("Collected on", "2025")
    desk.write("Amount in all (mg)", "2")
    desk.keep()
    assert set(desk.errors()) == {"taxon"}


def _begin(desk: Desk) -> None:
    desk.write("Taxon", "Dryopteris affinis")
    desk.write("Collected on", "2025")


def test_a_volume_is_turned_into_milligrams(desk: Desk) -> None:
    _begin(desk)
    turn_to(desk.qtbot, desk.window, "How it is known: Weighed", "How it is known: By volume")
    desk.write("Volume in all (mm³, which is µL)", "15")
    desk.keep()
    batch, vials = desk.last()
    assert (batch.amount_basis, batch.amount_said) == (Basis.VOLUME, "15 mm³")
    assert sum(vial.left for vial in vials) == 7_200  # 15 mm³ × 0.8 g/cm³ × 0.6, both our own choice


def test_a_chamber_count_is_turned_into_milligrams_and_says_how_sure_it_is(desk: Desk) -> None:
    _begin(desk)
    turn_to(desk.qtbot, desk.window, "How it is known: Weighed", "How it is known: Chamber count")
    desk.write("Spores in each square", "12 9 14 11")
    desk.write("Diluted (times)", "2")
    desk.write("Suspension in all (µL)", "1000")
    desk.qtbot.waitUntil(lambda: bool(desk.page.amount.surety.text()))
    low, high = limits(46)
    assert f"likely {low:.0f} to {high:.0f}" in desk.page.amount.surety.text()
    desk.keep()
    batch, vials = desk.last()
    assert batch.amount_basis is Basis.CHAMBER
    # 46 spores over 4 large squares of 0.1 µL each, diluted twice: 230 a microlitre, 230,000 in all, 33.9 ng each.
    assert sum(vial.left for vial in vials) == 7_797


def test_an_amount_by_eye_has_a_named_size(desk: Desk) -> None:
    _begin(desk)
    turn_to(desk.qtbot, desk.window, "How it is known: Weighed", "How it is known: By eye")
    desk.choose("About so much", "A pinch")
    desk.keep()
    batch, vials = desk.last()
    assert (batch.amount_basis, batch.amount_said) == (Basis.EYE, "a pinch")
    assert sum(vial.left for vial in vials) == 2_000


def test_uneven_amounts_and_places_are_the_keepers_own(desk: Desk) -> None:
    _begin(desk)
    desk.write("Number of vials", "2")
    desk.press("Uneven amounts, each written beside its vial")
    desk.write("Vial 1, amount", "7")
    desk.write("Vial 1, slot", "B3")
    desk.write("Vial 2, amount", "1.5")
    desk.choose("Vial 2, place", "Not put away")
    assert "Together 8.5 mg" in desk.page.vials.told.text()
    desk.keep()
    _, vials = desk.last()
    assert [(vial.left, vial.place[-2:]) for vial in vials] == [(7_000, "B3"), (1_500, "")]


def test_a_slot_that_is_taken_or_unheard_of_is_refused(desk: Desk) -> None:
    desk.context.do(lambda bank: stored(bank, "Osmunda regalis"))
    desk.settle()
    _begin(desk)
    desk.write("Amount in all (mg)", "4")
    desk.write("Vial 1, slot", "A2")
    desk.keep()
    assert "is not free" in desk.errors()["places"]
    desk.write("Vial 1, slot", "Z9")
    desk.keep()
    assert "is no slot of this box" in desk.errors()["places"]


def test_more_vials_than_slots_are_left_to_be_put_away(desk: Desk) -> None:
    _begin(desk)
    desk.write("Amount in all (mg)", "16")
    desk.write("Number of vials", "8")
    desk.settle()
    desk.keep()
    _, vials = desk.last()
    assert [bool(vial.place) for vial in vials] == [True] * 6 + [False] * 2


def test_a_box_chosen_is_followed_by_the_vials_after_it_and_remembered(
    qtbot: QtBot, theme: Theme, make_context: Make, show: Show, settle: Settle
) -> None:
    context = make_context()
    context.do(lambda bank: fridge(bank, boxes=2, rows=2, columns=2))
    desk = Desk(qtbot, context, settle, show)
    desk.choose("Vial 1, place", "Potting shed / Fridge 1 / Box 2")
    boxes = [line.place.currentText()[-5:] for line in desk.page.vials.lines]
    assert boxes == ["Box 2"] * 3
    assert [line.slot.text() for line in desk.page.vials.lines] == ["A1", "A2", "B1"]
    again = StorePage(context)
    show(again)
    desk.settle()
    assert again.vials.lines[0].place.currentText().endswith("Box 2")


def test_labels_are_offered_at_once(desk: Desk) -> None:
    _begin(desk)
    desk.write("Amount in all (mg)", "4")
    desk.keep()
    asked: list[tuple[str, dict[str, Any]]] = []
    desk.context.dialog_wanted.disconnect()
    desk.context.dialog_wanted.connect(lambda key, arguments: asked.append((key, arguments)))
    desk.qtbot.keyClick(at(desk.window), Qt.Key.Key_Space)
    (key, arguments) = asked[0]
    assert (key, arguments["kind"]) == ("labels", "vial")
    labels = desk.read(lambda bank: label_records.gather(bank, arguments["kind"], arguments["find"](bank)))
    _, vials = desk.last()
    assert {one.code for one in labels} == {vial.code for vial in vials}


def test_a_label_for_the_bag_is_offered_too(desk: Desk) -> None:
    _begin(desk)
    desk.write("Amount in all (mg)", "4")
    desk.keep()
    asked: list[dict[str, Any]] = []
    desk.context.dialog_wanted.disconnect()
    desk.context.dialog_wanted.connect(lambda _, arguments: asked.append(arguments))
    desk.press("A label for the bag")
    batch, _ = desk.last()
    assert (asked[0]["kind"], asked[0]["find"](None)) == ("bag", [batch.id])


def test_another_of_the_same_clone_keeps_name_and_clone(desk: Desk) -> None:
    _begin(desk)
    desk.write("Amount in all (mg)", "4")
    desk.write("Number of vials", "2")
    desk.keep()
    first, _ = desk.last()
    desk.qtbot.keyClick(at(desk.window), Qt.Key.Key_Tab)
    desk.qtbot.keyClick(at(desk.window), Qt.Key.Key_Space)
    desk.settle()
    assert at(desk.window).accessibleName() == "Collected on"
    assert desk.page.amount.weighed.line.text() == ""
    desk.write("Collected on", "2026")
    desk.write("Amount in all (mg)", "6")
    desk.keep()
    second, vials = desk.last()
    assert second.id != first.id
    assert second.clone.id == first.clone.id
    assert len(vials) == 2


def test_undo_brings_the_form_back_as_it_was_written(desk: Desk) -> None:
    _begin(desk)
    desk.write("Amount in all (mg)", "4")
    desk.keep()
    assert not desk.page.sheet.isVisible()
    desk.qtbot.keyClick(at(desk.window), Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    desk.settle()
    assert desk.read(queries.batches) == []
    assert desk.page.sheet.isVisible()
    assert desk.page.cleaning.collected.line.text() == "2025"
    desk.keep()
    assert len(desk.read(queries.batches)) == 1


def test_a_tick_that_a_name_is_checked_is_about_that_name_alone(desk: Desk) -> None:
    desk.context.do(lambda bank: stored(bank, "Osmunda regalis", verified=True))
    desk.settle()
    desk.write("Taxon", "Osmunda regalis")
    assert desk.page.what.verified.isChecked()
    desk.write("Taxon", "Osmunda japonica")
    assert not desk.page.what.verified.isChecked()
    desk.press("Name checked: I am sure that it is this")
    desk.choose("How its spore keeps", "Not green")
    desk.context.do(lambda bank: stored(bank, "Blechnum spicant", clone=clone("B-1")))
    desk.settle()
    assert desk.page.what.verified.isChecked()
    assert desk.page.what.keeps.value() is SporeClass.NON_GREEN
    desk.write("Taxon", "Osmunda lancea")
    assert not desk.page.what.verified.isChecked()
    assert desk.page.what.keeps.value() is SporeClass.NON_GREEN  # of the same genus
    desk.write("Taxon", "Equisetum hyemale")
    assert desk.page.what.keeps.value() is SporeClass.GREEN


def test_every_letter_leads_to_one_thing(desk: Desk) -> None:
    desk.write("Taxon", "Osmunda regalis")
    desk.choose("How", "Screened")
    for way in ("By volume", "Chamber count", "By eye", "Weighed"):
        desk.page.amount.ways.buttons[{"By volume": "volume", "By eye": "by eye"}.get(way, way.lower())].click()
        assert doubled_letters(desk.page) == [], way


def test_a_clone_can_be_asked_for(desk: Desk) -> None:
    clones: list[int] = []
    desk.context.do(lambda bank: queries.batch(bank, stored(bank, "Osmunda regalis").batch_id).clone.id, clones.append)
    desk.settle()
    desk.context.go("store", clone_id=clones[0])
    desk.settle()
    assert desk.page.what.taxon.text() == "Osmunda regalis"
    assert desk.page.clone.which.value() == clones[0]
    assert desk.page.what.keeps.value() is SporeClass.NON_GREEN  # as the bank has it


def test_the_wheel_turns_no_box_that_the_keyboard_is_not_in(desk: Desk) -> None:
    from PySide6.QtCore import QPoint, QPointF
    from PySide6.QtGui import QWheelEvent
    from PySide6.QtWidgets import QApplication

    tab_to(desk.qtbot, desk.window, "Collected on")
    for box in (desk.page.cleaning.cleaning, desk.page.vials.count):
        before = box.currentText() if hasattr(box, "currentText") else box.text()
        none = Qt.KeyboardModifier.NoModifier
        turn = QWheelEvent(
            QPointF(5, 5), QPointF(5, 5), QPoint(), QPoint(0, -240), Qt.MouseButton.NoButton, none,
            Qt.ScrollPhase.NoScrollPhase, False,
        )  # fmt: skip
        QApplication.sendEvent(box, turn)
        assert (box.currentText() if hasattr(box, "currentText") else box.text()) == before
