"""Scans from the key to the bank: through the window's own watcher, in every mode, on the page of the mode."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QApplication, QComboBox, QDialog, QPushButton
from pytestqt.qtbot import QtBot

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import codes
from sporebank.core.dates import PartDate
from sporebank.core.looks import LookKind, Pot
from sporebank.core.scanning import BEEPS, MODES_OF_PAGE, Fault, Mode
from sporebank.jobs import figures
from sporebank.jobs.culling import cull
from sporebank.jobs.receiving import take_in
from sporebank.jobs.settings import change_settings
from sporebank.jobs.sharing import Wish, keep_fill, propose
from sporebank.jobs.sowing import SowForm, sow
from sporebank.window import scan_sound
from sporebank.window.context import Context
from sporebank.window.dialogs.stocktake import StocktakeDialog
from sporebank.window.dialogs.vials import TakeDialog
from sporebank.window.main import FRAME, MainWindow
from sporebank.window.notice import NoticeOver
from sporebank.window.pages import PAGES
from tests.builders import asked, clone, counted, fridge, stored
from tests.window.conftest import Told
from tests.window.desk import Desk, Settle, Show
from tests.window.keys import at, bring_to_front
from tests.window.test_receiving import parcel

KEYS = ("vials", "places", "share", "cull", "sow", "settings")


def fill(bank: Bank) -> None:
    """Store a dead batch of two, a living one of three of which two packets are wished, and one vial apart."""
    figures.keep_fresh(bank)
    fridge(bank, boxes=2, rows=3, columns=4)
    dead = stored(bank, vials=2, collected=PartDate(2023), stored_on=date(2023, 8, 20))
    counted(bank, dead.batch_id, 1, 300, on=date(2026, 4, 10))
    alive = stored(bank, "Osmunda regalis", clone=clone("C-02"), vials=3)
    counted(bank, alive.batch_id, 95, 100, on=date(2026, 4, 10))
    stored(bank, "Adiantum venustum", clone=clone("C-03"), vials=1)
    request = asked(bank, Wish(2, 2_000, taxon_id=2))
    keep_fill(bank, request, propose(bank, request))


def _fill_another(bank: Bank) -> None:
    request = asked(bank, Wish(1, 2_000, taxon_id=2), who="Piet Veenstra")
    keep_fill(bank, request, propose(bank, request))


def _sow(bank: Bank) -> list[Pot]:
    """Sow three pots of the living batch."""
    vial = next(row for _, row in queries.box_vials(bank, _boxes(bank)[0].id) if row.clone == "C-02")
    form = SowForm(vial.id, "Lean-to", date(2026, 4, 1), 3, 300)
    return queries.pots(bank, sow(bank, form))


def _boxes(bank: Bank) -> list[Any]:
    return [place for place, _, _ in queries.places(bank) if place.rows]


class Scanner(Desk):
    """The window, a scanner that types into it, and what is heard of the system's sound."""

    def __init__(self, qtbot: QtBot, context: Context, settle: Settle, show: Show, told: Told) -> None:
        super().__init__(qtbot, context, settle, told)
        self.said = told
        self.read(figures.keep_fresh)
        self.window: Any = show(MainWindow(context, tuple(spec for spec in PAGES if spec.key in KEYS)))
        self.now = 0.0
        self.window.wedge._clock = lambda: self.now
        self.beeps: list[int] = []
        self.scans = self.window.scans
        self.scans.sound._beep = lambda: self.beeps.append(1)
        self.settle()
        inside = self.read(lambda bank: [queries.box_vials(bank, place.id) for place in _boxes(bank)])
        rows = [row for box in inside for _, row in box]
        self.dead = [row for row in rows if row.clone == "C-01"]
        self.alive = [row for row in rows if row.clone == "C-02"]
        self.apart = next(row for row in rows if row.clone == "C-03")

    def boxes(self) -> list[Any]:
        return self.read(_boxes)

    def type(self, text: str, gap: float) -> None:
        """Type a text into whatever has the keyboard, so many seconds from key to key."""
        bring_to_front(self.qtbot, self.window)
        for character in text:
            self.now += gap
            here = at(self.window)
            if character == "\n":
                self.qtbot.keyClick(here, Qt.Key.Key_Return)
            else:
                self.qtbot.keyClicks(here, character)

    def type_over(self, dialog: QDialog, text: str, gap: float) -> None:
        """Type a text into a dialog over the window."""
        bring_to_front(self.qtbot, dialog)
        for character in text:
            self.now += gap
            if character == "\n":
                self.qtbot.keyClick(at(dialog), Qt.Key.Key_Return)
            else:
                self.qtbot.keyClicks(at(dialog), character)

    def scan(self, *texts: str) -> None:
        for text in texts:
            self.type(f"{text}\n", 0.005)
        self.settle()

    def turn(self, page: str, mode: Mode) -> None:
        """Open a page and go down to a mode."""
        self.window.show_page(page)
        self.settle()
        choice: QComboBox = self.scans.choice
        self.qtbot.keyClick(choice, Qt.Key.Key_Home)
        while self.scans.mode() is not mode:
            self.qtbot.keyClick(choice, Qt.Key.Key_Down)
        self.window.page().first_focus().setFocus()
        self.settle()

    def pack(self) -> list[int]:
        """Open the parcel that is filled, to pack for it, and return the vials of its packets."""
        self.turn("share", Mode.PACK)
        page = self.window.page()
        self.qtbot.mouseClick(page.chips.buttons["filled"], Qt.MouseButton.LeftButton)
        self.settle()
        return [packet.vial_id for line in page.chosen().lines for packet in line.filled]

    def packets(self) -> list[str]:
        """Return the codes of the packets of the request chosen."""
        return [packet.code for packet in self.window.page().chosen().packets]

    def heard(self, times: int) -> bool:
        """Return whether the sound was played just so many times; the count begins anew."""
        self.settle()
        played, self.beeps[:] = len(self.beeps), []
        return played == times

    def lines(self) -> list[str]:
        """Return what the strip shows of the last scans."""
        return [text.text() for row, text, _ in self.scans.strip._rows if row.isVisible()]

    def refusal(self) -> str:
        """Return why the last scan did nothing, said once: above the page where a scan finds, else in the strip."""
        if self.scans.mode() is Mode.FIND:
            assert self.lines() == []
            return str(self.said.errors[-1])
        assert self.said.errors == []
        return next(line for line in self.lines() if line.startswith("Not done: "))

    def undo_button(self) -> QPushButton:
        return next(button for row, _, button in self.scans.strip._rows if row.isVisible())

    def row(self, vial_id: int) -> Any:
        return self.read(lambda bank: queries.vial_row(bank, vial_id))

    def selected(self) -> list[str]:
        page = self.window.page()
        return [page.model.row_at(number).code for number in page.table.chosen_rows()]


@pytest.fixture
def desk(
    qtbot: QtBot,
    make_context: Callable[..., Context],
    settle: Settle,
    show: Show,
    told: Told,
    monkeypatch: pytest.MonkeyPatch,
) -> Iterator[Scanner]:
    monkeypatch.setattr(scan_sound, "BETWEEN_MS", 0)  # so that nothing needs to be waited for
    made = Scanner(qtbot, make_context(stock=fill), settle, show, told)
    yield made
    assert told.bugs == []
    made.window.close()


def wrong(code: str) -> str:
    return code[:-1] + ("0" if code[-1] != "0" else "1")


@pytest.mark.parametrize("page", ["settings", "cull", "places"])
def test_find_goes_to_the_vial_from_any_page(desk: Scanner, page: str) -> None:
    desk.window.show_page(page)
    desk.settle()
    desk.scan(desk.apart.code)
    assert desk.selected() == [desk.apart.code]
    assert desk.scans.strip.isHidden()


def test_a_place_is_found_on_places(desk: Scanner) -> None:
    box = desk.boxes()[1]
    desk.scan(box.code)
    assert desk.window.page() is desk.window._pages["places"]


def test_a_half_typed_field_is_left_as_it_is_by_a_scan(desk: Scanner) -> None:
    field = desk.window.find_field
    field.setFocus()
    desk.type("Osmu", 0.15)
    desk.qtbot.waitUntil(lambda: field.text() == "Osmu")
    field.setCursorPosition(2)
    desk.turn("vials", Mode.TAKE)
    field.setFocus()
    field.setCursorPosition(2)
    desk.qtbot.keyClicks(desk.scans.strip.amount.line, "2")
    field.setFocus()
    field.setCursorPosition(2)
    desk.scan(desk.alive[0].code)
    assert (field.text(), field.cursorPosition()) == ("Osmu", 2)
    assert desk.window.focusWidget() is field
    assert desk.row(desk.alive[0].id).left == desk.alive[0].left - 2_000


def test_each_scan_takes_out_and_the_last_is_taken_back(desk: Scanner) -> None:
    desk.turn("vials", Mode.TAKE)
    first, second = desk.alive[:2]
    desk.scan(first.code)
    assert "how much each scan takes out" in desk.refusal()
    assert desk.row(first.id).left == first.left
    desk.qtbot.keyClicks(desk.scans.strip.amount.line, "1.5 mg")
    assert desk.scans.strip.what.text().startswith("Scan: take 1.5 mg for")
    desk.scan(first.code, second.code, first.code)
    assert [desk.row(one.id).left for one in (first, second)] == [first.left - 3_000, second.left - 1_500]
    assert len(desk.lines()) == 3
    assert codes.grouped(first.code) in desk.lines()[0]
    desk.qtbot.mouseClick(desk.undo_button(), Qt.MouseButton.LeftButton)
    desk.settle()
    assert desk.row(first.id).left == first.left - 1_500
    assert desk.said.infos[-1][0].startswith("Taken back: ")
    assert len(desk.lines()) == 2


def test_what_is_taken_back_elsewhere_leaves_the_strip_and_a_refusal_leaves_the_button(desk: Scanner) -> None:
    desk.turn("vials", Mode.TAKE)
    desk.qtbot.keyClicks(desk.scans.strip.amount.line, "1 mg")
    first, second = desk.alive[:2]
    desk.scan(first.code, second.code)
    desk.scan(wrong(first.code))
    assert [line.startswith("Not done: ") for line in desk.lines()] == [True, False, False]
    assert [not button.isHidden() for _, _, button in desk.scans.strip._rows] == [False, True, False]
    desk.window.commands.by_id["undo"].trigger()
    desk.settle()
    assert desk.row(second.id).left == second.left
    assert len(desk.lines()) == 2
    desk.scans.strip.take_back()
    desk.settle()
    assert desk.row(first.id).left == first.left
    assert [line.startswith("Not done: ") for line in desk.lines()] == [True]


@pytest.mark.parametrize(("page", "mode"), [("vials", Mode.FIND), ("vials", Mode.TAKE), ("places", Mode.MOVE)])
def test_a_culled_vial_is_said_to_be_culled_whatever_a_scan_does(desk: Scanner, page: str, mode: Mode) -> None:
    desk.read(lambda bank: cull(bank, [desk.dead[0].id], bank.today()))
    desk.turn(page, mode)
    if mode is Mode.TAKE:
        desk.qtbot.keyClicks(desk.scans.strip.amount.line, "1 mg")
    desk.scan(desk.dead[0].code)
    assert "was culled on 4 May 2026" in desk.refusal()
    assert desk.heard(1)


def test_another_deed_in_between_keeps_a_scan_from_being_taken_back(desk: Scanner) -> None:
    desk.turn("vials", Mode.TAKE)
    desk.qtbot.keyClicks(desk.scans.strip.amount.line, "1 mg")
    desk.scan(desk.alive[0].code)
    desk.read(lambda bank: stored(bank, "Blechnum spicant", clone=clone("C-09"), vials=1))
    desk.qtbot.mouseClick(desk.undo_button(), Qt.MouseButton.LeftButton)
    desk.settle()
    assert "Something else has been done since" in desk.refusal()
    assert desk.row(desk.alive[0].id).left == desk.alive[0].left - 1_000


def test_a_place_holds_for_the_vials_scanned_right_after_it(desk: Scanner) -> None:
    desk.turn("places", Mode.MOVE)
    first, second = desk.boxes()
    desk.scan(desk.alive[0].code)
    assert "Scan the place first" in desk.refusal()
    texts = [second.code, desk.alive[0].code, desk.alive[1].code, first.code, desk.alive[1].code, second.code]
    for text in (*texts, desk.apart.code):
        desk.type(f"{text}\n", 0.005)  # none waits for the one before
    desk.settle()
    where = [desk.row(one.id).place for one in (desk.alive[0], desk.alive[1], desk.apart)]
    assert [place.split(" / ")[-2] for place in where] == ["Box 2", "Box 1", "Box 2"]
    assert desk.scans.strip.what.text().endswith("Box 2 · 1 vial moved")
    desk.qtbot.mouseClick(desk.undo_button(), Qt.MouseButton.LeftButton)
    desk.settle()
    assert desk.row(desk.apart.id).place == desk.apart.place
    assert desk.scans.strip.what.text().endswith("0 vials moved")


def test_packing_counts_packets_and_refuses_what_is_not_on_the_list(desk: Scanner) -> None:
    held = desk.pack()
    listed = desk.row(held[0]).code
    packets = desk.packets()
    desk.scan(listed)
    assert "2 packets of" in desk.refusal()  # which of the two it is only its own label says
    desk.scan(packets[0])
    assert f"· 1 of {len(held)} packets" in desk.scans.strip.what.text()
    times = held.count(held[0])
    assert f"packet 1 of {times} packed" in desk.lines()[0]
    desk.scan(packets[0])
    assert "is in this parcel already" in desk.refusal()
    desk.scan(*[listed] * times)
    assert f"All {times} packets of" in desk.refusal()
    assert f"· {times} of {len(held)} packets" in desk.scans.strip.what.text()
    assert all(packet.packed for packet in desk.window.page().chosen().packets)
    desk.scan(desk.apart.code)
    assert "no wish of this request is for it" in desk.refusal()
    assert desk.lines()[0].startswith("Not done: ")
    desk.qtbot.mouseClick(desk.scans.strip._stop, Qt.MouseButton.LeftButton)
    assert desk.scans.mode() is Mode.FIND
    assert desk.scans.strip.isHidden()


def test_a_packed_packet_is_unpacked_by_undoing_the_scan(desk: Scanner) -> None:
    held = desk.pack()
    desk.scan(desk.packets()[0])
    desk.qtbot.mouseClick(desk.undo_button(), Qt.MouseButton.LeftButton)
    desk.settle()
    assert f"· 0 of {len(held)} packets" in desk.scans.strip.what.text()
    assert desk.lines() == []


def test_culling_only_ticks_what_is_on_the_list(desk: Scanner) -> None:
    desk.turn("cull", Mode.CULL)
    page = desk.window.page()

    def ticked() -> set[int]:
        return {page.model.rows[number].candidate.vial.id for number in page.table.chosen_rows()}

    page.table.clearSelection()
    desk.scan(desk.dead[0].code, desk.dead[1].code)
    assert ticked() == {one.id for one in desk.dead}
    assert desk.row(desk.dead[0].id).culled_on is None
    desk.qtbot.mouseClick(desk.undo_button(), Qt.MouseButton.LeftButton)
    assert ticked() == {desk.dead[0].id}
    desk.scan(desk.alive[0].code)
    assert "is not past viability" in desk.refusal()
    assert ticked() == {desk.dead[0].id}


@pytest.mark.parametrize(
    ("page", "mode"),
    [
        ("vials", Mode.TAKE),
        ("places", Mode.MOVE),
        ("share", Mode.PACK),
        ("cull", Mode.CULL),
        ("sow", Mode.LOOK),
        ("vials", Mode.FIND),
    ],
)
def test_every_fault_has_its_sentence_and_its_sound_in_every_mode(desk: Scanner, page: str, mode: Mode) -> None:
    desk.turn(page, mode)
    tag = desk.context.tag
    faults = {
        Fault.MISTAKE: (wrong(desk.alive[0].code), "has a mistake in it"),
        Fault.UNKNOWN: (codes.make("V", tag, 99_999), "nothing here carries it"),
        Fault.FOREIGN: (codes.make("V", "000" if tag != "000" else "001", 3), "is a vial of another bank"),
    }
    before = desk.read(lambda bank: bank.revision)
    for fault, (text, says) in faults.items():
        desk.scan(text)
        assert says in desk.refusal()
        assert desk.heard(BEEPS[fault]), fault
    assert len([*desk.said.errors, *desk.lines()]) == 3
    assert desk.read(lambda bank: bank.revision) == before
    assert all(line.startswith("Not done: ") for line in desk.lines())


def _see(desk: Scanner, kind: LookKind) -> None:
    """Go down to what is seen, in the strip."""
    seen = desk.scans.strip.seen
    desk.qtbot.keyClick(seen, Qt.Key.Key_Home)
    while seen.value() is not kind:
        desk.qtbot.keyClick(seen, Qt.Key.Key_Down)


def _looks(desk: Scanner, pots: list[Pot]) -> list[list[LookKind]]:
    found = desk.read(lambda bank: queries.pots_by_id(bank, [pot.id for pot in pots]))
    return [[look.what for look in pot.looks] for pot in found]


def test_every_pot_scanned_gets_the_look_that_is_shown_and_once_only(desk: Scanner) -> None:
    pots = desk.read(_sow)
    desk.turn("sow", Mode.LOOK)
    assert desk.scans.strip.what.text() == "Scan: record “green film” today · 0 pots"
    _see(desk, LookKind.PROTHALLI)
    desk.window.page().search.setFocus()
    for pot in (pots[0], pots[2], pots[0]):
        desk.type(f"{pot.code}\n", 0.005)  # none waits for the one before
    desk.settle()
    assert _looks(desk, pots) == [[LookKind.PROTHALLI], [], [LookKind.PROTHALLI]]
    assert desk.scans.strip.what.text() == "Scan: record “prothalli” today · 2 pots"
    assert "prothalli is on record for today already. Nothing was written." in desk.lines()[0]
    page = desk.window.page()
    assert [pot.code for pot in page.pots.selected()] == [pots[0].code]
    assert [one.last and one.last.what for one in page.pots.model.rows] == [
        LookKind.PROTHALLI,
        None,
        LookKind.PROTHALLI,
    ]
    assert desk.window.focusWidget() is page.search
    desk.scans.strip.take_back()
    desk.settle()
    assert _looks(desk, pots) == [[LookKind.PROTHALLI], [], []]
    assert desk.scans.strip.what.text() == "Scan: record “prothalli” today · 1 pot"


def test_what_was_seen_last_is_offered_next_and_another_kind_is_another_look(desk: Scanner) -> None:
    pots = desk.read(_sow)
    desk.turn("sow", Mode.LOOK)
    _see(desk, LookKind.MOULD)
    desk.scan(pots[0].code)
    desk.turn("vials", Mode.FIND)
    desk.turn("sow", Mode.LOOK)
    assert desk.scans.strip.what.text() == "Scan: record “mould” today · 0 pots"
    _see(desk, LookKind.LOST)
    desk.scan(pots[0].code)
    assert _looks(desk, pots[:1]) == [[LookKind.LOST, LookKind.MOULD]]


def test_a_look_is_not_recorded_as_something_chosen_after_the_scan(desk: Scanner) -> None:
    pots = desk.read(_sow)
    desk.turn("sow", Mode.LOOK)
    desk.scans.take(pots[0].code)
    _see(desk, LookKind.STRANGER)
    desk.settle()
    assert "You turned to something else before" in desk.refusal()
    assert _looks(desk, pots) == [[], [], []]


def test_only_pots_are_looked_at_and_none_that_is_taken_back(desk: Scanner) -> None:
    pots = desk.read(_sow)
    desk.turn("sow", Mode.LOOK)
    desk.scan(desk.alive[0].code)
    assert "here each scan should be of a pot (record a look)" in desk.refusal()
    desk.window.commands.by_id["undo"].trigger()
    desk.settle()
    desk.scan(pots[0].code)
    assert "nothing here carries it" in desk.refusal()


def test_no_sound_where_the_keeper_wants_none(desk: Scanner) -> None:
    desk.read(lambda bank: change_settings(bank, replace(bank.settings, scan_sound="off")))
    desk.settle()
    desk.scan(wrong(desk.alive[0].code))
    assert len(desk.said.errors) == 1
    assert desk.heard(0)


def test_another_page_begins_with_finding(desk: Scanner) -> None:
    desk.turn("cull", Mode.CULL)
    desk.window.show_page("vials")
    assert desk.scans.mode() is Mode.FIND
    assert desk.scans.strip.isHidden()
    desk.scan(desk.dead[0].code)
    assert desk.selected() == [desk.dead[0].code]


def test_a_dialog_in_the_way_is_told_and_the_scan_waits(desk: Scanner) -> None:
    desk.scan(desk.apart.code)

    def look() -> None:
        dialog = QApplication.activeModalWidget()
        desk.now += 1
        desk.window.wedge.scanned.emit(desk.dead[0].code)
        dialog.reject()

    QTimer.singleShot(50, desk.window, look)
    desk.context.dialog("help")
    assert "A dialog is open" in desk.said.infos[-1][0]
    offer = desk.said.infos[-1][1]
    assert offer is not None
    offer.do()
    desk.settle()
    assert desk.selected() == [desk.dead[0].code]


@pytest.mark.parametrize(
    ("page", "mode"), [("vials", Mode.TAKE), ("places", Mode.MOVE), ("share", Mode.PACK), ("cull", Mode.CULL)]
)
@pytest.mark.parametrize("turn", ["another page", "finding"])
def test_a_scan_falls_where_the_page_turns_before_it_is_looked_up(
    desk: Scanner, page: str, mode: Mode, turn: str
) -> None:
    listed = desk.row(desk.pack()[0]).code
    desk.turn(page, mode)
    if mode is Mode.TAKE:
        desk.qtbot.keyClicks(desk.scans.strip.amount.line, "1 mg")
    if mode is Mode.MOVE:
        desk.scan(desk.boxes()[1].code)
    before = desk.read(lambda bank: bank.revision)
    desk.type(f"{desk.dead[0].code if mode is Mode.CULL else listed}\n", 0.005)
    if turn == "finding":
        desk.qtbot.mouseClick(desk.scans.strip._stop, Qt.MouseButton.LeftButton)
    else:
        desk.window.show_page("settings")
    desk.settle()
    assert "You turned to something else before" in desk.refusal()
    assert desk.read(lambda bank: bank.revision) == before
    assert desk.said.bugs == []


def test_a_packet_is_not_packed_for_the_request_turned_to_meanwhile(desk: Scanner) -> None:
    desk.read(_fill_another)
    listed = desk.row(desk.pack()[0]).code
    page, first = desk.window.page(), desk.window.page().chosen().id
    desk.scans.take(listed)
    other = next(number for number, row in enumerate(page.model.rows) if row.id != first)
    page.table.choose_rows([other])
    desk.settle()
    assert page.chosen().id != first
    assert "You turned to something else before" in desk.refusal()
    assert "· 0 of" in desk.scans.strip.what.text()


def test_what_is_no_label_takes_nothing_out_and_is_told_over_the_dialog(desk: Scanner) -> None:
    vial = desk.alive[0]
    dialog = TakeDialog(desk.context, desk.window, vial_ids=(vial.id,))
    dialog.open()
    desk.settle()
    desk.type_over(dialog, "2", 0.15)
    for text, says in (("4006381333931", "is no label of this bank"), (desk.apart.code, "Close it first")):
        desk.now += 1
        desk.type_over(dialog, f"{text}\n\n", 0.005)
        over = dialog.findChild(NoticeOver)
        assert over.isVisible()
        assert says in over.label.text()
        assert text in over.label.text()
        assert over.geometry().right() < dialog.width()
        assert desk.heard(BEEPS[Fault.MISTAKE])
        assert dialog.amount.line.text() == "2"
    assert dialog.isVisible()
    assert desk.row(vial.id).left == vial.left
    dialog.reject()


@pytest.mark.parametrize(("page", "mode"), [("vials", Mode.FIND), ("vials", Mode.TAKE), ("cull", Mode.CULL)])
def test_what_is_no_label_is_refused_on_a_page(desk: Scanner, page: str, mode: Mode) -> None:
    desk.turn(page, mode)
    before = desk.read(lambda bank: bank.revision)
    desk.scan("4006381333931")
    assert "“4006381333931” is no label of this bank" in desk.refusal()
    assert desk.heard(BEEPS[Fault.MISTAKE])
    assert desk.read(lambda bank: bank.revision) == before
    assert desk.said.asked == []


def test_what_a_wish_still_lacks_can_be_put_on_the_list_and_is_packed_by_the_next_scan(desk: Scanner) -> None:
    desk.read(lambda bank: asked(bank, Wish(1, 1_000, taxon_id=3), who="Piet Veenstra"))
    desk.turn("share", Mode.PACK)
    desk.qtbot.mouseClick(desk.window.page().chips.buttons["open"], Qt.MouseButton.LeftButton)
    desk.settle()
    desk.scan(desk.apart.code)
    assert desk.refusal().endswith(" is not on the packing list.")
    assert desk.said.infos[-1][0] == "A wish still lacks such a packet."
    offer = desk.said.infos[-1][1]
    assert offer is not None
    assert offer.text == "Put it on the list"
    offer.do()
    desk.settle()
    assert "on the packing list of Piet Veenstra now" in desk.lines()[0]
    desk.scan(desk.apart.code)
    assert "packet 1 of 1 packed" in desk.lines()[0]


def test_a_stocktake_over_the_window_takes_the_scans(desk: Scanner) -> None:
    box = desk.boxes()[0]
    dialog = StocktakeDialog(desk.context, desk.window, place_id=box.id)
    dialog.open()
    desk.settle()
    bring_to_front(desk.qtbot, dialog)
    codes_scanned = (box.code, desk.dead[0].code, "4006381333931", wrong(desk.dead[1].code), desk.dead[1].code.lower())
    for code in codes_scanned:
        desk.type_over(dialog, f"{code}\n\n", 0.005)
    assert dialog.taken is not None
    assert list(dialog.taken.found) == [one.code for one in desk.dead]
    assert "has a mistake in it" in dialog.earlier.text()
    assert desk.said.errors == []
    dialog.reject()
    desk.settle()


@pytest.mark.parametrize(
    ("page", "modes"), [(page, len(modes)) for page, modes in MODES_OF_PAGE.items() if page in KEYS]
)
def test_what_a_scan_does_is_never_cut_short_in_the_smallest_window(desk: Scanner, page: str, modes: int) -> None:
    desk.window.show_page(page)
    desk.settle()
    desk.window.resize(desk.window.minimumSizeHint())
    desk.settle()
    choice = desk.scans.choice
    assert choice.count() == modes
    assert choice.width() >= choice.sizeHint().width()
    assert desk.window.minimumSizeHint().width() < 1366 / 1.5 - FRAME.width()


def test_the_label_that_spore_came_with_does_what_its_own_would(desk: Scanner) -> None:
    whole = parcel()
    (first, *_) = desk.read(lambda bank: take_in(bank, whole))
    own = desk.read(lambda bank: queries.vial_row(bank, first).code)
    desk.turn("vials", Mode.TAKE)
    desk.qtbot.keyClicks(desk.scans.strip.amount.line, "1 mg")
    desk.scan(whole.items[0].code)
    assert codes.grouped(own) in desk.lines()[-1]
    assert desk.read(lambda bank: queries.vial_row(bank, first).left) == whole.items[0].micrograms - 1_000
