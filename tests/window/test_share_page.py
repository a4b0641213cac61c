"""The Share page, by what a keeper does and sees: from a wish to a parcel that is gone, and back again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from sporebank.bank import queries
from sporebank.core import names
from sporebank.core.dates import PartDate
from sporebank.core.layout import Kind
from sporebank.core.records import Contact, Permission, RequestState
from sporebank.jobs import figures, labels
from sporebank.jobs.settings import change_settings
from sporebank.jobs.sharing import RequestForm, Wish, add_request, dispatch, keep_fill, propose, save_contact
from sporebank.jobs.today import agenda
from sporebank.window.actions import Needs
from sporebank.window.context import Context
from sporebank.window.dialogs.heed import HeedDialog
from sporebank.window.dialogs.labels import LabelsDialog
from sporebank.window.dialogs.people import ContactsDialog
from sporebank.window.dialogs.request import DispatchDialog, RequestDialog
from sporebank.window.pages.share import SharePage
from sporebank.window.pages.today import TodayPage
from sporebank.window.share_view import LineCard
from tests.builders import clone, counted, fridge, stored
from tests.documents.examples import pictures, symbols, text_of
from tests.window.conftest import Told
from tests.window.desk import PageDesk, Settle, Show
from tests.window.keys import doubled_letters, write

LEFT = Qt.MouseButton.LeftButton


class Shop(PageDesk):
    """A bank with three batches and two requests, and the page on it."""

    kind, size = SharePage, (1000, 600)

    def request(self, request_id: int) -> Any:
        return self.read(lambda bank: queries.request(bank, request_id))

    def drawn(self, request_id: int) -> list[list[int]]:
        return [[packet.vial_id for packet in line.filled] for line in self.request(request_id).lines]

    def left(self, vial_id: int) -> int:
        return self.read(lambda bank: queries.vial_row(bank, vial_id).left)


def build(bank: Any) -> None:
    """Dryopteris with two clones, Osmunda that may not be shared; a request of two wishes, and a smaller, later one."""
    figures.keep_fresh(bank)
    fridge(bank)
    stored(bank, vials=2)
    old = stored(bank, clone=clone("C-02"), vials=1, collected=PartDate(2024, 8))
    counted(bank, old.batch_id, 90, 100)
    stored(bank, "Osmunda regalis", clone=clone("C-09", permission=Permission.UNKNOWN), vials=1)
    marit = save_contact(bank, Contact(0, "Marit Olden", "Storvann garden", country="NO"))
    piet = save_contact(bank, Contact(0, "Piet Veenstra", country="NL"))
    wishes = (Wish(2, 2_000, taxon_id=1), Wish(1, 2_000, taxon_id=2))
    add_request(bank, RequestForm(marit, date(2026, 4, 1), wishes, "in time for the meeting"))
    add_request(bank, RequestForm(piet, date(2026, 4, 20), (Wish(1, 1_000, clone_id=1),)))


@pytest.fixture
def shop(make_context: Any, show: Show, settle: Settle, qtbot: QtBot, told: Told) -> Shop:
    made = Shop(make_context(stock=build), show, settle, qtbot, told)
    made.read(figures.keep_fresh)
    return made


def cards(page: SharePage) -> Sequence[LineCard]:
    return [one for one in page.view.findChildren(LineCard) if one.isVisible()]


def filled(shop: Shop, request_id: int) -> None:
    shop.read(lambda bank: keep_fill(bank, request_id, propose(bank, request_id)))


def test_an_empty_bank_says_what_to_do_first(make_context, show, settle, qtbot, told) -> None:
    shop = Shop(make_context(), show, settle, qtbot, told)
    page = shop.open()
    assert page.empty.isVisible()
    shop.click(page.empty.button)
    assert shop.dialogs[0][0] == "new_request"
    assert not page.has(Needs.BY_HAND)


def test_open_requests_come_first_and_the_chosen_one_is_told(shop: Shop) -> None:
    page = shop.open()
    assert [row.contact.name for row in page.model.rows] == ["Marit Olden", "Piet Veenstra"]
    assert page.view.isVisible()
    assert page.view.who.text() == "Marit Olden"
    assert "Storvann garden · NO · received 1 Apr 2026" in page.view.about.text()
    assert page.view.note.text() == "in time for the meeting"
    assert "<i>Dryopteris affinis</i>" in cards(page)[0].what.text()
    shop.key(page.table, Qt.Key.Key_Down)
    assert page.view.who.text() == "Piet Veenstra"
    assert "clone C-01" in cards(page)[0].what.text()


def test_chips_count_and_narrow_by_state(shop: Shop) -> None:
    filled(shop, 1)
    page = shop.open()
    assert page.chips.buttons[""].text() == "All 2"
    assert [row.id for row in page.model.rows] == [2]
    shop.click(page.chips.buttons["filled"])
    assert [row.id for row in page.model.rows] == [1]
    shop.click(page.chips.buttons["sent"])
    assert page.none.isVisible()
    assert page.hint.isVisible()
    assert not page.has(Needs.ONE)


def test_a_proposal_is_kept_with_the_keyboard_and_nothing_leaves_the_ledger(shop: Shop) -> None:
    page = shop.open()
    page.fill_request()
    shop.settle()
    assert page.editor.isVisible()
    assert "Permission to share is not on record" in page.editor.cards[1].summary.text()
    page.editor.keep.setFocus()
    shop.key(page.editor.keep, Qt.Key.Key_Space)
    assert shop.drawn(1) == [[3, 3], []]
    assert [shop.left(vial) for vial in (1, 2, 3)] == [10_000, 10_000, 10_000]
    assert shop.request(1).state is RequestState.FILLED
    assert page.chips.buttons["filled"].isChecked()
    assert page.view.isVisible()
    assert "Permission to share is not on record" in cards(page)[1].unmet.text()
    text, offer = shop.told.infos[-1]
    assert text == "2 packets are held back for Marit Olden; nothing has left the ledger."
    offer.do()
    shop.settle()
    assert shop.drawn(1) == [[], []]


def test_a_vial_is_changed_and_one_taken_out_before_it_is_kept(shop: Shop) -> None:
    page = shop.open()
    page.fill_request()
    shop.settle()
    card = page.editor.cards[0]
    (row,) = card.rows
    assert row.count.value() == 2
    row.count.setFocus()
    shop.key(row.count, Qt.Key.Key_Down)
    page.fill_request()
    shop.settle()
    assert card.summary.text() == "1 of 2 packets chosen by hand."
    shop.click(card.more)
    second = card.rows[1]
    assert second.vial.value() == 1
    shop.key(second.vial, Qt.Key.Key_Down)
    assert second.vial.value() == 2
    shop.click(page.editor.keep)
    assert shop.drawn(1) == [[3, 2], []]
    page.fill_request()
    shop.settle()
    card = page.editor.cards[0]
    assert [pick.vial.value() for pick in card.rows] == [3, 2]
    drop = next(one for one in card.rows[0].findChildren(QWidget) if "Take this vial out" in one.accessibleName())
    shop.click(drop)
    shop.click(page.editor.keep)
    assert shop.drawn(1) == [[2], []]
    assert cards(page)[0].unmet.text() == "1 of 2 packets chosen by hand."
    page.fill_request()
    shop.settle()
    shop.click(page.editor.propose)
    assert [pick.vial.value() for pick in page.editor.cards[0].rows] == [3]


def test_what_speaks_against_a_vial_is_said_beside_it(shop: Shop) -> None:
    page = shop.open()
    page.fill_request()
    shop.settle()
    card = page.editor.cards[1]
    shop.click(card.more)
    assert "Permission to share: unknown" in card.rows[0].about.text()
    assert card.summary.text() == "All packets are chosen."
    shop.click(page.editor.cancel)
    assert page.view.isVisible()
    assert shop.drawn(1) == [[], []]


def test_more_packets_than_wished_are_refused_on_the_page(shop: Shop) -> None:
    page = shop.open()
    page.fill_request()
    shop.settle()
    card = page.editor.cards[0]
    shop.key(card.rows[0].count, Qt.Key.Key_Down)
    shop.click(card.more)
    shop.key(card.rows[0].count, Qt.Key.Key_Up)
    assert card.summary.text() == "3 packets are chosen, 2 are wished. Take some out."
    shop.click(page.editor.keep)
    assert "Wish 1 is for 2 packets, 3 are chosen" in page.editor.message.text()
    assert page.editor.isVisible()
    assert shop.drawn(1) == [[], []]


def test_a_parcel_is_dispatched_after_its_cautions_and_taken_back(shop: Shop) -> None:
    filled(shop, 1)
    page = shop.open()
    page.focus_on(request_id=1)
    shop.settle()
    assert page.has(Needs.PACKED)
    shop.click(page.view.buttons["dispatch"])
    key, arguments = shop.dialogs[-1]
    assert key == "dispatch"
    dialog = DispatchDialog(shop.context, page, **arguments)
    shop.show(dialog)
    shop.settle()
    assert "to Marit Olden, NO: 2 packets, 4 mg" in dialog.about.text()
    assert "Ask the authorities of both countries" in dialog.cautions.text()
    dialog.on.line.selectAll()
    shop.qtbot.keyClicks(dialog.on.line, "5 May 2026")
    shop.key(dialog.on.line, Qt.Key.Key_Return)
    assert "not come yet" in dialog.form.fields["on"].error
    assert shop.left(3) == 10_000
    dialog.on.line.selectAll()
    shop.qtbot.keyClicks(dialog.on.line, "3 May 2026")
    shop.key(dialog.on.line, Qt.Key.Key_Return)
    assert not dialog.isVisible()
    assert shop.left(3) == 6_000
    assert page.chips.buttons["sent"].isChecked()
    assert "Sent on 3 May 2026: 2 of 3 packets." in page.view.state.text()
    assert not page.view.buttons["dispatch"].isEnabled()
    text, offer = shop.told.infos[-1]
    assert (text, offer.text) == ("The parcel to Marit Olden is dispatched.", "Undo")
    offer.do()
    shop.settle()
    assert shop.left(3) == 10_000
    assert shop.request(1).state is RequestState.FILLED
    assert page.chips.buttons["filled"].isChecked()
    assert page.chosen().id == 1


def test_papers_open_for_the_parcel(shop: Shop) -> None:
    filled(shop, 1)
    page = shop.open()
    page.focus_on(request_id=1)
    shop.settle()
    for method in ("print_packet_labels", "print_packing_list", "print_manifest"):
        shop.click(page.view.buttons[method])
    assert [arguments["title"] for _, arguments in shop.dialogs] == ["Packet labels", "Packing list", "Manifest"]
    page.focus_on(request_id=2)
    shop.settle()
    assert not any(page.view.buttons[method].isEnabled() for method in ("print_manifest", "dispatch"))
    assert not page.has(Needs.PACKETS)
    assert page.has(Needs.UNCLOSED)


def choose_label(shop: Shop, down: int) -> list[tuple[str, dict[str, Any]]]:
    """Open the menu of other labels, go down so many times, and return all that the window was asked for."""
    button = shop.page.view.others
    button.setFocus()
    shop.key(button, Qt.Key.Key_Space)
    for _ in range(down):
        shop.key(button.menu(), Qt.Key.Key_Down)
    shop.key(button.menu(), Qt.Key.Key_Return)
    return shop.dialogs


def test_parcel_and_address_are_labelled_from_a_menu_and_read_back(shop: Shop) -> None:
    filled(shop, 1)
    page = shop.open()
    page.focus_on(request_id=1)
    shop.settle()
    _, arguments = choose_label(shop, 1)[-1]
    assert (arguments["kind"], arguments["find"](None)) == (Kind.PARCEL, [1])
    dialog = LabelsDialog(shop.context, page, **arguments)
    shop.show(dialog)
    shop.qtbot.waitUntil(dialog.save_button.isEnabled, timeout=20_000)
    assert symbols(pictures(dialog.pdf, 300)) == [shop.request(1).parcel]
    assert "Marit Olden" in text_of(dialog.pdf)
    dialog.close()
    _, arguments = choose_label(shop, 2)[-1]
    assert (arguments["kind"], arguments["find"](None)) == (Kind.ADDRESS, [shop.request(1).contact.id])
    dialog = LabelsDialog(shop.context, page, **arguments)
    shop.show(dialog)
    shop.qtbot.waitUntil(dialog.save_button.isEnabled, timeout=20_000)
    assert "Storvann garden" in text_of(dialog.pdf)
    page.focus_on(request_id=2)
    shop.settle()
    assert [entry.isEnabled() for entry in page.view.others.entries] == [False, True]


def test_what_is_filled_waits_for_its_labels_and_no_longer_when_it_is_taken_back(shop: Shop) -> None:
    before = shop.read(labels.waiting_count)
    page = shop.open()
    page.fill_request()
    shop.settle()
    shop.key(page.editor.keep, Qt.Key.Key_Space)
    assert len(shop.read(labels.waiting)[Kind.PACKET]) == 2
    today = TodayPage(shop.context)
    shop.show(today)
    shop.settle()
    assert f"{before + 2} labels wait to be printed." in today.summary.text()
    _, offer = shop.told.infos[-1]
    offer.do()
    shop.settle()
    assert Kind.PACKET not in shop.read(labels.waiting)
    assert f"{before} labels wait to be printed." in today.summary.text()


def test_a_request_is_closed_after_asking_once(shop: Shop) -> None:
    filled(shop, 1)
    page = shop.open()
    page.focus_on(request_id=1)
    shop.settle()
    shop.click(page.view.buttons["close_request"])
    assert shop.request(1).state is RequestState.FILLED
    shop.told.answer = "Close it"
    shop.click(page.view.buttons["close_request"])
    assert shop.request(1).state is RequestState.CLOSED
    assert shop.told.infos[-1][0] == "The request of Marit Olden is closed."


def test_a_scanned_parcel_turns_to_its_request(shop: Shop) -> None:
    filled(shop, 1)
    page = shop.open()
    page.focus_on(code=shop.request(1).parcel)
    shop.settle()
    assert page.chosen().id == 1
    page.focus_on(code="R00000000X")
    shop.settle()
    assert "No parcel with the code" in shop.told.infos[-1][0]


def test_a_page_asked_for_a_request_before_it_was_ever_shown_turns_to_it(shop: Shop) -> None:
    filled(shop, 1)
    page = SharePage(shop.context)
    page.focus_on(request_id=1)
    shop.show(page)
    shop.settle()
    assert page.chosen().id == 1
    assert page.chips.buttons["filled"].isChecked()


def test_a_request_opened_in_the_editor_stays_there_when_something_else_changes(shop: Shop) -> None:
    page = shop.open()
    page.fill_request()
    shop.settle()
    with shop.qtbot.waitSignal(shop.context.changed):
        shop.context.do(lambda bank: save_contact(bank, Contact(0, "Jonas Falk")))
    shop.settle()
    assert page.editor.isVisible()
    shop.key(page.table, Qt.Key.Key_Down)
    assert page.view.isVisible()
    assert page.view.who.text() == "Piet Veenstra"


def test_what_waits_is_counted(shop: Shop) -> None:
    filled(shop, 1)
    assert shop.read(agenda).waiting()["share"] == 2


def ask(shop: Shop) -> RequestDialog:
    shop.open()
    shop.page.new_request()
    dialog = RequestDialog(shop.context, shop.page, **shop.dialogs[-1][1])
    shop.show(dialog)
    shop.settle()
    return dialog


def test_a_request_of_somebody_new_is_written_with_the_keyboard(shop: Shop) -> None:
    dialog = ask(shop)
    assert not dialog.person.country.isVisible()
    shop.qtbot.keyClicks(dialog.person.who, "Ilse Brandt")
    assert dialog.person.country.isVisible()
    shop.qtbot.keyClicks(dialog.person.country, "de")
    first = dialog.wishes.rows[0]
    shop.qtbot.keyClicks(first.what, "Osmunda regalis")
    shop.settle()
    assert first.each.value() == 2_000
    shop.click(dialog.wishes.more)
    second = dialog.wishes.rows[1]
    shop.qtbot.keyClicks(second.what, "C-02")
    shop.settle()
    assert second.what.text() == "Dryopteris affinis"
    assert second.clone.currentText() == "C-02"
    shop.key(second.packets, Qt.Key.Key_Up)
    shop.key(second.what, Qt.Key.Key_Up, Qt.KeyboardModifier.AltModifier)
    shop.qtbot.keyClicks(dialog.note, "for the spring fair")
    dialog.go.setFocus()
    shop.key(dialog.go, Qt.Key.Key_Space)
    assert not dialog.isVisible()
    kept = shop.read(lambda bank: queries.requests(bank))[-1]
    assert (kept.contact.name, kept.contact.country, kept.note) == ("Ilse Brandt", "DE", "for the spring fair")
    assert [(names.text(one.name), one.clone, one.packets, one.packet_ug) for one in kept.lines] == [
        ("Dryopteris affinis", "C-02", 2, 2_000),
        ("Osmunda regalis", "", 1, 2_000),
    ]
    assert shop.page.chosen().id == kept.id


def test_somebody_known_is_not_kept_twice(shop: Shop) -> None:
    dialog = ask(shop)
    shop.qtbot.keyClicks(dialog.person.who, "marit olden")
    assert not dialog.person.country.isVisible()
    shop.qtbot.keyClicks(dialog.wishes.rows[0].what, "Osmunda regalis")
    shop.click(dialog.go)
    assert len(shop.read(lambda bank: queries.contacts(bank))) == 2
    assert shop.read(lambda bank: queries.requests(bank))[-1].contact.id == 1


def test_what_is_wrong_stands_beside_its_field_or_in_its_row(shop: Shop) -> None:
    dialog = ask(shop)
    row = dialog.wishes.rows[0]
    shop.click(dialog.go)
    assert "Say who asks" in dialog.form.fields["name"].error
    shop.qtbot.keyClicks(dialog.person.who, "Ilse Brandt")
    shop.click(dialog.go)
    assert "Name a taxon or a clone" in row.error.text()
    assert dialog.form.fields["wishes"].error == ""
    shop.qtbot.keyClicks(row.what, "Quercus robur")
    shop.click(dialog.go)
    assert "The bank knows no “Quercus robur”" in row.error.text()
    row.what.clear()
    shop.qtbot.keyClicks(row.what, "Osmunda regalis")
    row.each.line.clear()
    shop.click(dialog.go)
    assert "how much a packet holds" in row.error.text()
    row.each.set_value(2_000)
    shop.qtbot.keyClicks(dialog.person.country, "D")
    shop.click(dialog.go)
    assert "two letters" in dialog.form.fields["country"].error
    assert len(shop.read(lambda bank: queries.requests(bank))) == 2


def test_a_wish_is_taken_out_and_one_row_always_stays(shop: Shop) -> None:
    dialog = ask(shop)
    shop.click(dialog.wishes.more)
    first, second = dialog.wishes.rows
    assert not first.up.isEnabled()
    assert first.down.isEnabled()
    shop.click(first.drop)
    assert dialog.wishes.rows == [second]
    shop.click(second.drop)
    assert len(dialog.wishes.rows) == 1
    assert dialog.wishes.rows[0].is_empty()


def test_contacts_are_found_added_and_changed(shop: Shop) -> None:
    shop.open().open_contacts()
    assert shop.dialogs[-1][0] == "contacts"
    dialog = ContactsDialog(shop.context, shop.page)
    shop.show(dialog)
    shop.settle()
    assert dialog.model.rowCount() == 2
    shop.qtbot.keyClicks(dialog.search, "storvann")
    shop.qtbot.waitUntil(lambda: dialog.model.rowCount() == 1)
    assert dialog.form.organisation.text() == "Storvann garden"
    shop.qtbot.keyClicks(dialog.form.email, "m@example.org")
    shop.click(dialog.keep)
    assert shop.read(lambda bank: queries.contact(bank, 1)).email == "m@example.org"
    shop.click(dialog.address)
    key, arguments = shop.dialogs[-1]
    assert (key, arguments["kind"], arguments["find"](None)) == ("labels", Kind.ADDRESS, [1])
    shop.click(dialog.new)
    assert dialog.title.text() == "New contact"
    assert not dialog.address.isEnabled()
    shop.click(dialog.keep)
    assert "Give a name" in dialog.form.fields["name"].error
    shop.qtbot.keyClicks(dialog.form.name, "Jonas Falk")
    shop.click(dialog.keep)
    shop.click(dialog.keep)
    assert [one.name for one in shop.read(lambda bank: queries.contacts(bank))] == [
        "Jonas Falk", "Marit Olden", "Piet Veenstra",
    ]  # fmt: skip


@pytest.mark.parametrize("what", ["view", "editor"])
def test_every_control_has_a_name(shop: Shop, what: str) -> None:
    page = shop.open()
    if what == "editor":
        page.fill_request()
        shop.settle()
    assert getattr(page, what).isVisible()
    for widget in page.findChildren(QWidget):
        if widget.focusPolicy() & Qt.FocusPolicy.TabFocus and widget.isVisible():
            named = widget.accessibleName() or getattr(widget, "text", lambda: "")()
            assert named, f"{type(widget).__name__} has no name"
    assert doubled_letters(page) == []


def test_every_letter_of_the_dialogs_leads_to_one_thing(shop: Shop) -> None:
    dialog = ask(shop)
    shop.qtbot.keyClicks(dialog.person.who, "Ilse Brandt")
    contacts = ContactsDialog(shop.context, shop.page)
    shop.show(contacts)
    assert doubled_letters(dialog) == []
    assert doubled_letters(contacts) == []


def test_a_state_that_is_none_is_passed_over(qtbot: QtBot, make_context: Callable[[], Context]) -> None:
    context = make_context()
    context.state.put("share/state", "moon")
    page = SharePage(context)
    qtbot.addWidget(page)
    assert page.chips.buttons["open"].isChecked()


def test_cautions_are_told_and_acknowledged_before_the_parcel_goes(shop: Shop, show: Show) -> None:
    shop.read(lambda bank: change_settings(bank, replace(bank.settings, country="NL")))
    filled(shop, 1)
    page = shop.open()
    shop.click(page.chips.buttons["filled"])
    (card,) = page.view.cautions.cards
    assert page.view.cautions.head.text() == "Cautions: 1 not answered yet"
    assert card.answer.text() == "Not answered yet."
    shop.click(card.button)
    key, arguments = shop.dialogs.pop()
    dialog = HeedDialog(shop.context, **arguments)
    show(dialog)
    assert dialog.windowTitle() == "Plant health, Norway"
    assert "Ask the authorities of both countries first" in dialog.about.text()
    shop.click(dialog.go)
    assert "Write the number of a paper" in dialog.form.fields["note"].error
    write(shop.qtbot, dialog, "Paper or note", "Certificate 77/2026")
    shop.click(dialog.go)
    assert key == "heed"
    (card,) = page.view.cautions.cards
    assert card.answer.text() == "Answered: Certificate 77/2026"
    assert page.view.cautions.head.text() == "Cautions"
    shop.read(lambda bank: dispatch(bank, 1, bank.today()))
    shop.settle()
    assert page.view.cautions.cards[0].button.isHidden()
