"""Sowing by keyboard: a vial, a room, pots with labels."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import codes
from sporebank.core.records import PlaceKind, Sowing, VialRow
from sporebank.jobs import figures, label_records
from sporebank.jobs.places import PlaceForm, add_place
from sporebank.jobs.sowing import dose
from sporebank.jobs.store import Portion
from sporebank.window.pages.sow import SowPage
from sporebank.window.theme import Theme
from sporebank.window.widgets.field import Form
from tests.builders import clone, fridge, stored
from tests.window.conftest import TODAY, Told
from tests.window.desk import Make, Settle, Show, WindowDesk
from tests.window.keys import at, doubled_letters, press


def _stock(bank: Bank) -> None:
    figures.keep_fresh(bank)
    fridge(bank)
    stored(bank, "Dryopteris affinis", clone=clone("D-1"))
    stored(bank, "Osmunda regalis", clone=clone("O-1"), vials=1)


class Potting(WindowDesk):
    """The window on the Sow page, and short ways to work it."""

    key = "sow"

    def settle(self) -> None:
        pauses = (self.page._pause, self.page.form._pause)
        self.qtbot.waitUntil(lambda: not any(pause.isActive() for pause in pauses))
        super().settle()

    def find(self, text: str) -> None:
        """Find a vial and take the first one met."""
        self.write("Find a vial to sow from", text)
        self.qtbot.keyClick(at(self.window), Qt.Key.Key_Return)
        self.settle()

    def sowings(self) -> list[Sowing]:
        return self.read(queries.sowings)

    def vial(self, vial_id: int) -> VialRow:
        return self.read(lambda bank: queries.vial_row(bank, vial_id))

    def forms(self) -> tuple[Form, ...]:
        return self.page.form.form, self.page.form.below


@pytest.fixture
def potting(qtbot: QtBot, theme: Theme, make_context: Make, show: Show, settle: Settle) -> Potting:
    context = make_context(stock=_stock)
    context.do(figures.keep_fresh)
    return Potting(qtbot, context, settle, show)


def test_a_vial_is_sown_and_its_spore_is_booked(potting: Potting, told: Told) -> None:
    potting.find("affinis")
    vial_id = potting.page.form.vial_id
    before = potting.vial(vial_id).left
    potting.write("Room", "Propagation house")
    potting.write("Pots", "6")
    proposed = potting.read(lambda bank: dose(bank, vial_id, 6))
    assert potting.page.form.amount.value() == proposed
    assert "6 pots of 63.6 cm²" in potting.page.form.reckoned.text()
    potting.write("Note", "fresh mix")
    potting.keep()
    assert potting.errors() == {}
    (sowing,) = potting.sowings()
    assert (sowing.vial_id, sowing.room, sowing.sown_on) == (vial_id, "Propagation house", TODAY)
    assert (len(sowing.pots), sowing.micrograms, sowing.note) == (6, proposed, "fresh mix")
    assert potting.vial(vial_id).left == before - proposed
    assert told.infos[-1][0] == "Sown in 6 pots, Propagation house."
    assert [row.id for row in potting.page.sowings.rows] == [sowing.id]
    assert at(potting.window) is potting.page.form.labels


def test_no_amount_is_proposed_where_it_is_not_known_how_much_is_alive(potting: Potting) -> None:
    def store_deep(bank: Bank) -> int:
        deep = add_place(bank, PlaceForm(PlaceKind.FREEZER, "Deep freezer", temperature=-80.0))
        more = {"portions": (Portion(10_000, deep),), "clone": clone("W-1")}
        return stored(bank, "Woodsia ilvensis", **more).vial_ids[0]

    vial_id = potting.read(store_deep)
    potting.find("Woodsia")
    assert potting.page.form.amount.value() is None
    assert potting.page.form.reckoned.text().startswith(
        "How much of it is alive is not known, so no amount is proposed"
    )
    potting.write("Room", "Lean-to")
    potting.keep()
    assert "Say how much spore" in potting.errors()["amount"]
    potting.write("Spore in all (mg)", "2")
    potting.keep()
    assert [sowing.vial_id for sowing in potting.sowings()] == [vial_id]


def test_the_pots_are_labelled_at_once(potting: Potting) -> None:
    potting.find("affinis")
    potting.write("Room", "Propagation house")
    potting.keep()
    asked: list[tuple[str, dict[str, Any]]] = []
    potting.context.dialog_wanted.disconnect()
    potting.context.dialog_wanted.connect(lambda key, arguments: asked.append((key, arguments)))
    potting.qtbot.keyClick(at(potting.window), Qt.Key.Key_Space)
    (key, arguments) = asked[0]
    assert (key, arguments["kind"]) == ("labels", "pot along")
    (sowing,) = potting.sowings()
    assert (
        tuple(
            label.code
            for label in potting.read(
                lambda bank: label_records.gather(bank, arguments["kind"], arguments["find"](bank))
            )
        )
        == sowing.pots
    )


def test_two_species_in_a_room_on_a_day_want_a_tick(potting: Potting) -> None:
    potting.find("affinis")
    potting.write("Room", "Lean-to")
    assert not potting.page.form.clash.isVisible()
    potting.keep()
    potting.find("regalis")
    assert "Dryopteris affinis was sown in Lean-to that day" in potting.page.form.clash.text()
    assert potting.page.form.clash.isVisible()
    potting.keep()
    assert set(potting.errors()) == {"room"}
    assert len(potting.sowings()) == 1
    assert at(potting.window) is potting.page.form.knowingly
    press(potting.qtbot, potting.window, "I know: sow it there all the same")
    potting.keep()
    assert len(potting.sowings()) == 2


def test_another_room_or_day_takes_the_warning_and_the_tick_away(potting: Potting) -> None:
    potting.find("affinis")
    potting.write("Room", "Lean-to")
    potting.keep()
    potting.find("regalis")
    press(potting.qtbot, potting.window, "I know: sow it there all the same")
    potting.write("Day", (TODAY - timedelta(days=1)).isoformat())
    assert not potting.page.form.clash.isVisible()
    assert not potting.page.form.knowingly.isChecked()
    potting.write("Day", TODAY.isoformat())
    assert potting.page.form.clash.isVisible()
    potting.write("Room", "Bench room")
    assert not potting.page.form.clash.isVisible()


@pytest.mark.parametrize(
    ("wrong", "field", "says"),
    [
        ({"Room": ""}, "room", "in which room"),
        ({"Spore in all (mg)": "50"}, "amount", "is free in this vial"),
        ({"Spore in all (mg)": "0"}, "amount", "how much spore"),
        ({"Spore in all (mg)": "much"}, "amount", "is not an amount"),
        ({"Day": "2027-01-01"}, "sown_on", "has not come yet"),
        ({"Day": "May 2026"}, "sown_on", "whole day"),
    ],
)
def test_nonsense_is_refused_beside_its_field(potting: Potting, wrong: dict[str, str], field: str, says: str) -> None:
    potting.find("affinis")
    for name, text in {"Room": "Lean-to", **wrong}.items():
        potting.write(name, text)
    potting.keep()
    assert set(potting.errors()) == {field}
    assert says in potting.errors()[field]
    assert potting.sowings() == []


def test_an_amount_of_ones_own_stays_when_the_pots_change(potting: Potting) -> None:
    potting.find("affinis")
    potting.write("Room", "Lean-to")
    potting.write("Spore in all (mg)", "3")
    potting.write("Pots", "9")
    assert potting.page.form.amount.value() == 3_000
    potting.keep()
    assert potting.sowings()[0].micrograms == 3_000


def test_a_scanned_label_chooses_its_vial(potting: Potting, told: Told) -> None:
    wanted = potting.read(lambda bank: queries.batch_vials(bank, queries.batches(bank, "affinis")[0].id)[2])
    potting.find(codes.grouped(wanted.code).lower())
    assert potting.page.form.vial_id == wanted.id
    potting.find(wanted.code[:-1] + ("A" if wanted.code[-1] != "A" else "B"))
    assert "last character does not fit" in str(told.errors[-1])
    potting.find(codes.make("V", potting.context.tag, 9_999))
    assert "No vial with the code" in told.infos[-1][0]


def test_a_vial_can_be_asked_for_and_a_pot_found(potting: Potting) -> None:
    (vial,) = potting.read(lambda bank: queries.batch_vials(bank, queries.batches(bank, "regalis")[0].id))
    potting.context.go("sow", vial_id=vial.id)
    potting.settle()
    assert potting.page.form.vial_id == vial.id
    assert at(potting.window).accessibleName() == "Room"
    potting.write("Room", "Lean-to")
    potting.keep()
    (sowing,) = potting.sowings()
    potting.page.sown.clearSelection()
    potting.context.go("sow", code=sowing.pots[1])
    potting.settle()
    assert potting.window.commands.by_id["print_pots"].isEnabled()


def test_rooms_are_completed_and_the_last_one_is_remembered(potting: Potting, show: Show) -> None:
    potting.find("affinis")
    potting.write("Room", "Propagation house")
    potting.write("Pots", "2")
    potting.keep()
    assert potting.page.form.room.words.stringList() == ["Propagation house"]
    again = SowPage(potting.context)
    show(again)
    potting.settle()
    assert again.form.room.text() == "Propagation house"
    assert again.form.pots.value() == 2


def test_every_letter_leads_to_one_thing(potting: Potting) -> None:
    potting.find("affinis")
    potting.write("Room", "Lean-to")
    potting.keep()
    potting.find("regalis")
    assert potting.page.form.knowingly.isVisible()
    assert doubled_letters(potting.page) == []


def test_an_empty_bank_says_what_to_do_first(
    qtbot: QtBot, theme: Theme, make_context: Make, show: Show, settle: Settle
) -> None:
    potting = Potting(qtbot, make_context(), settle, show)
    assert potting.page.empty.isVisible()
