"""Orders of an exchange in the window: the tab alone, the dialog worked by the keyboard, a file taken in, the form."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QApplication, QDialogButtonBox, QFileDialog, QPlainTextEdit
from pytestqt.qtbot import QtBot

from sporebank.bank import queries
from sporebank.core.exchange import Exchange, Shape, Stage
from sporebank.core.orders import Alternatives, Standing, Wish
from sporebank.core.records import Contact
from sporebank.jobs import undo
from sporebank.jobs.sharing import save_contact
from sporebank.window.exchange_orders import CHANGE, FORM, NEW, TAKE_IN, WITHDRAW, OrdersTab
from sporebank.window.screens import room_for
from sporebank.window.theme import Theme
from tests.documents.examples import text_of
from tests.exchange_builders import allot, ordered, round_of, set_stage
from tests.window.conftest import TODAY, Told
from tests.window.desk import DialogDesk, Make, PageDesk, Settle, Show
from tests.window.keys import at, doubled_letters, keep, press, tab_to, write

OPENS, CLOSES = TODAY - timedelta(40), TODAY + timedelta(40)
DAYS: dict[str, Any] = {"opens": OPENS, "closes": CLOSES}


class Post(DialogDesk):
    """A bank with a round, and the dialogs on it."""

    exchange: Exchange

    def begin(self, **more: Any) -> Exchange:
        """Begin an exchange."""
        number = self.read(lambda bank: round_of(bank, **{**DAYS, **more}))
        self.exchange = self.read(lambda bank: queries.exchange(bank, number))
        return self.exchange

    def order(self, first: str, others: str = "", **more: Any) -> int:
        """Keep an order without a dialog."""
        values = {"received_on": TODAY, **more}
        found: int = self.read(lambda bank: ordered(bank, self.exchange.id, first, others, **values))
        return found

    def placed(self) -> list[Any]:
        """Return the orders in their stored order."""
        found: list[Any] = self.read(lambda bank: queries.placed(bank, self.exchange.id))
        return found

    def type(self, dialog: Any, name: str, text: str) -> None:
        """Tab to a field, type, and wait until it was checked."""
        write(self.qtbot, dialog, name, text)
        self.checked(dialog)

    def checked(self, dialog: Any) -> None:
        """Wait until what was typed was checked."""
        self.qtbot.waitUntil(lambda: not dialog._pause.isActive())
        self.settle()


@pytest.fixture
def post(qtbot: QtBot, theme: Theme, make_context: Make, settle: Settle, told: Told) -> Post:
    return Post(qtbot, make_context(), settle, told)


# -- typing orders


def test_orders_are_typed_one_after_the_other_by_the_keyboard_alone(post: Post) -> None:
    post.begin(alternatives=Alternatives.RANKED)
    post.read(lambda bank: save_contact(bank, Contact(0, "Ida Falk", country="SE")))
    dialog = post.open("order", exchange=post.exchange)
    assert at(dialog).accessibleName() == "Who asks"
    assert doubled_letters(dialog) == []
    post.type(dialog, "Who asks", "Marit Olden")
    write(post.qtbot, dialog, "Country", "nl")
    write(post.qtbot, dialog, "First choices", "5x2 3")
    write(post.qtbot, dialog, "Alternatives", "9 7")
    press(post.qtbot, dialog, "Is a helper")
    keep(post.qtbot, dialog)
    post.settle()
    assert dialog.isVisible()
    assert dialog.said.text() == "The order of Marit Olden is kept."
    assert at(dialog).accessibleName() == "Who asks"
    assert dialog.first.toPlainText() == ""
    assert not dialog.helper.isChecked()
    write(post.qtbot, dialog, "Who asks", "Ida Falk")
    write(post.qtbot, dialog, "First choices", "1")
    press(post.qtbot, dialog, "Keep and next")
    post.settle()
    marit, ida = post.placed()
    assert marit.order.wishes == (Wish(5, 2), Wish(3))
    assert marit.order.alternatives == (9, 7)
    assert marit.order.helper
    assert marit.contact.country == "NL"
    assert ida.order.wishes == (Wish(1),)
    assert ida.contact.country == "SE"


def test_what_is_wrong_is_told_as_one_types_with_a_reply_to_copy(post: Post) -> None:
    """The form with a number twice, one not on the list and too many; common practice, no source (story 5)."""
    post.begin(lines=24, cap=20, alternatives=Alternatives.LIST)
    dialog = post.open("order", exchange=post.exchange)
    assert "is checked here" in dialog.view.kept.text()
    assert not dialog.view.problems.isVisible()
    post.type(dialog, "Who asks", "Marit Olden")
    post.type(dialog, "First choices", " ".join(map(str, [*range(1, 24), 981, 7])))
    assert dialog.view.kept.text() == "Kept: 20 packets, 3 alternatives"
    assert dialog.view.problems.text().splitlines() == [
        "981 is not on the list, which ends at 24.",
        "7 is there more than once and counts once.",
        "23 packets are asked for, and there can be 20; 21, 22 and 23 go to the alternatives.",
    ]
    press(post.qtbot, dialog, "Copy the reply")
    copied = QGuiApplication.clipboard().text()
    assert copied.startswith("Dear Marit Olden,\n")
    assert "981 is not on the list" in copied
    keep(post.qtbot, dialog)
    post.settle()
    (order,) = post.placed()
    assert len(order.order.wishes) == 20
    assert order.order.alternatives == (21, 22, 23)


def test_more_problems_than_there_is_room_for_are_counted(post: Post) -> None:
    post.begin()
    dialog = post.open("order", exchange=post.exchange)
    post.type(dialog, "First choices", " ".join(map(str, range(101, 121))))
    assert dialog.view.problems.text().endswith("and 12 more.")
    keep(post.qtbot, dialog)
    post.settle()
    assert dialog.form.fields["name"].error == "⚠ Say who asks."


def test_whoever_has_an_order_in_a_round_is_known_at_once(post: Post) -> None:
    post.begin()
    post.order("5", who="Ida Falk")
    dialog = post.open("order", exchange=post.exchange)
    post.type(dialog, "Who asks", "Ida Falk")
    assert "has an order already" in dialog.form.fields["name"].error
    post.type(dialog, "Who asks", "Ida Falkman")
    assert dialog.form.fields["name"].error == ""
    post.type(dialog, "Who asks", "ida falk")
    write(post.qtbot, dialog, "First choices", "3")
    keep(post.qtbot, dialog)
    post.settle()
    assert "Change that one instead" in dialog.form.fields["name"].error
    assert len(post.placed()) == 1


def test_an_order_just_kept_is_taken_back_in_the_dialog(post: Post) -> None:
    post.begin()
    dialog = post.open("order", exchange=post.exchange)
    write(post.qtbot, dialog, "Who asks", "Ida Falk")
    write(post.qtbot, dialog, "First choices", "3")
    keep(post.qtbot, dialog)
    post.settle()
    post.type(dialog, "Who asks", "Ida Falk")
    assert "has an order already" in dialog.form.fields["name"].error
    press(post.qtbot, dialog, "Undo")
    post.settle()
    assert post.placed() == []
    assert dialog.form.fields["name"].error == ""


def test_an_order_that_cannot_be_kept_says_why_beside_its_field(post: Post) -> None:
    post.begin()
    dialog = post.open("order", exchange=post.exchange)
    write(post.qtbot, dialog, "Who asks", "Ida Falk")
    keep(post.qtbot, dialog)
    post.settle()
    assert "at least one number" in dialog.form.fields["first"].error
    write(post.qtbot, dialog, "First choices", "3")
    dialog.on.set_value(OPENS - timedelta(1))
    keep(post.qtbot, dialog)
    post.settle()
    assert "The list opened on" in dialog.form.fields["received_on"].error
    assert dialog.go.isEnabled()


def test_what_is_late_is_taken_only_once_that_is_ticked(post: Post) -> None:
    post.begin(closes=TODAY - timedelta(1))
    dialog = post.open("order", exchange=post.exchange)
    write(post.qtbot, dialog, "Who asks", "Ida Falk")
    write(post.qtbot, dialog, "First choices", "3")
    keep(post.qtbot, dialog)
    post.settle()
    assert "last day for wishes" in dialog.form.fields["received_on"].error
    press(post.qtbot, dialog, "Take it although it is late")
    keep(post.qtbot, dialog)
    post.settle()
    assert len(post.placed()) == 1
    tab_to(post.qtbot, dialog, "Received on")
    post.qtbot.keyClick(at(dialog), Qt.Key.Key_Down)
    assert not dialog.late.isVisible()


def test_a_standing_list_counts_what_was_had_in_the_year_of_the_day(post: Post) -> None:
    post.begin(shape=Shape.STANDING, closes=None, cap=2, opens=date(2025, 1, 1))
    post.order("1 2", who="Ida Falk")
    dialog = post.open("order", exchange=post.exchange)
    write(post.qtbot, dialog, "Who asks", "Ida Falk")
    post.type(dialog, "First choices", "3")
    assert "2 came before" in dialog.view.problems.text()
    write(post.qtbot, dialog, "Received on", "2025-12-30")
    post.checked(dialog)
    assert dialog.view.kept.text() == "Kept: 1 packet"


def test_an_order_is_changed_with_its_person_and_place(post: Post) -> None:
    post.begin(alternatives=Alternatives.PER_LINE)
    post.order("5/6 3", who="Ida Falk", note="Please call.", helper=True)
    (placed,) = post.placed()
    dialog = post.open("order", exchange=post.exchange, placed=placed)
    assert at(dialog) is dialog.first
    assert dialog.first.toPlainText() == "5/6 3"
    assert dialog.note.text() == "Please call."
    assert dialog.helper.isChecked()
    assert "188/201" in dialog.form.fields["first"]._below.text()
    post.type(dialog, "First choices", "3/7 5 1")
    assert dialog.view.kept.text() == "Kept: 3 packets, 1 alternative"
    keep(post.qtbot, dialog)
    post.settle()
    assert not dialog.isVisible()
    (after,) = post.placed()
    assert after.order.wishes == (Wish(3, 1, 7), Wish(5), Wish(1))
    assert after.note == "Please call."
    post.read(undo.undo)
    assert post.placed() == [placed]


# -- taking in a file


def table_file(folder: Path, *rows: str) -> Path:
    path = folder / "orders.csv"
    path.write_text("\n".join(("Name;E-mail;Country;First choices", *rows)), encoding="utf-8")
    return path


def test_a_file_is_seen_first_and_then_taken_in(post: Post, tmp_path: Path) -> None:
    post.begin()
    path = table_file(tmp_path, "Ida Falk;ida@example.org;SE;5 3 99", ";;SE;1", "Jon Brandt;;DE;2")
    dialog = post.open("take_in_orders", exchange=post.exchange, path=path)
    post.settle()
    assert dialog.head.text() == "2 orders can be taken in"
    assert (
        dialog.about.text() == "0 people known to the bank, 2 people new. 2 things are wrong or doubtful, listed below."
    )
    assert [(one.row, one.column) for one in dialog.model.rows] == [(2, "D"), (3, "A")]
    assert at(dialog) is dialog.table
    post.qtbot.keyClick(at(dialog), Qt.Key.Key_Down)
    assert dialog.told.text() == dialog.model.rows[dialog.table.chosen_rows()[0]].sentence
    assert doubled_letters(dialog) == []
    press(post.qtbot, dialog, "Take in 2 orders")
    post.settle()
    assert not dialog.isVisible()
    assert post.told is not None
    assert post.told.infos[-1][0] == "2 orders taken in."
    again = post.open("take_in_orders", exchange=post.exchange, path=path)
    post.settle()
    assert again.head.text() == "Nothing new is in this file"
    assert "2 orders are in already and stay as they are." in again.about.text()
    assert not again.go.isEnabled()
    assert len(post.placed()) == 2


def test_what_may_be_meant_is_accepted_by_the_keyboard(post: Post, tmp_path: Path) -> None:
    post.begin()
    path = tmp_path / "wishes.csv"
    path.write_text("Who;Cuontry;Taxon\nIda Falk;SE;Osmunda regalsi\nIda Falk;SE;Blechnum spicant\n", encoding="utf-8")
    dialog = post.open("take_in_orders", exchange=post.exchange, path=path)
    post.settle()
    assert [one.suggestion.meant for one in dialog.model.rows if one.suggestion] == ["country", "Osmunda regalis"]
    assert not dialog.accept_one.isEnabled()
    post.qtbot.keyClick(at(dialog), Qt.Key.Key_Home, Qt.KeyboardModifier.ControlModifier)
    post.qtbot.keyClick(at(dialog), Qt.Key.Key_Down)
    dialog.table.choose_rows([0])
    press(post.qtbot, dialog, "Accept selected")
    post.settle()
    assert [one.suggestion.meant for one in dialog.model.rows if one.suggestion] == ["Osmunda regalis"]
    press(post.qtbot, dialog, "Accept all")
    post.settle()
    assert dialog.model.rows == []
    assert dialog.empty.title.text() == "Nothing is doubtful"
    press(post.qtbot, dialog, "Take in 1 order")
    post.settle()
    (order,) = post.placed()
    assert order.contact.country == "SE"
    assert [wish.line for wish in order.order.wishes] == [9, 4]


def test_what_was_accepted_outlives_a_bank_that_cannot_be_written_to(post: Post, tmp_path: Path) -> None:
    post.begin()
    path = tmp_path / "wishes.csv"
    path.write_text("Who;Taxon\nIda Falk;Osmunda regalsi\nJon Brandt;Blechnum spicant\n", encoding="utf-8")
    dialog = post.open("take_in_orders", exchange=post.exchange, path=path)
    post.settle()
    press(post.qtbot, dialog, "Accept all")
    post.settle()
    post.read(lambda bank: bank.database.execute_sql("PRAGMA query_only = 1").fetchall())
    press(post.qtbot, dialog, "Take in 2 orders")
    post.settle()
    assert "may not be written to. Nothing was changed." in dialog.told.text()
    assert dialog.head.text() == "2 orders can be taken in"
    assert post.placed() == []
    post.read(lambda bank: bank.database.execute_sql("PRAGMA query_only = 0").fetchall())
    press(post.qtbot, dialog, "Take in 2 orders")
    post.settle()
    assert [wish.line for placed in post.placed() for wish in placed.order.wishes] == [9, 4]


def test_the_day_and_what_is_late_are_chosen_before(post: Post, tmp_path: Path) -> None:
    post.begin(closes=TODAY - timedelta(1))
    dialog = post.open("take_in_orders", exchange=post.exchange, path=table_file(tmp_path, "Ida Falk;;SE;5"))
    post.settle()
    assert "late" in dialog.model.rows[0].sentence
    press(post.qtbot, dialog, "Take what came late as well")
    post.settle()
    assert dialog.head.text() == "1 order can be taken in"
    press(post.qtbot, dialog, "Take what came late as well")
    write(post.qtbot, dialog, "Rows without a day came on", (TODAY - timedelta(2)).isoformat())
    post.qtbot.keyClick(at(dialog), Qt.Key.Key_Tab)
    post.settle()
    assert dialog.head.text() == "1 order can be taken in"
    write(post.qtbot, dialog, "Rows without a day came on", "some day")
    post.qtbot.keyClick(at(dialog), Qt.Key.Key_Return)
    assert "not a date" in dialog.told.text()


def test_a_file_that_is_no_table_is_refused_in_the_dialog(post: Post, tmp_path: Path) -> None:
    post.begin()
    path = tmp_path / "picture.csv"
    path.write_bytes(b"\x89PNG\0\0")
    dialog = post.open("take_in_orders", exchange=post.exchange, path=path)
    post.settle()
    assert dialog.head.text() == "This file cannot be taken in"
    assert "no table" in dialog.empty.text.text()
    assert not dialog.go.isEnabled()
    assert post.told is not None
    assert post.told.errors == []


# -- the form


def test_the_form_has_the_address_it_is_sent_to_and_goes_out_as_a_sheet(
    post: Post, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    post.begin(cap=20)
    dialog = post.open("order_form", exchange=post.exchange)
    post.qtbot.waitUntil(lambda: dialog.pdf != b"")
    write(post.qtbot, dialog, "Send it to", "12 Fen Lane")
    assert not dialog.save_button.isEnabled()
    post.qtbot.waitUntil(lambda: dialog.save_button.isEnabled())
    assert "12 Fen Lane" in text_of(dialog.pdf)
    target = tmp_path / "form.xlsx"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(target), ""))
    press(post.qtbot, dialog, "Save XLSX…")
    post.settle()
    assert openpyxl.load_workbook(target).active["B1"].value == post.exchange.name
    dialog.reject()
    again = post.open("order_form", exchange=post.exchange)
    post.qtbot.waitUntil(lambda: again.pdf != b"")
    assert "12 Fen Lane" in text_of(again.pdf)


@pytest.mark.parametrize("key", ["order", "take_in_orders", "order_form"])
def test_no_dialog_is_larger_than_its_screen(post: Post, tmp_path: Path, key: str) -> None:
    more = {"path": table_file(tmp_path, "Ida Falk;;SE;99")} if key == "take_in_orders" else {}
    post.begin(alternatives=Alternatives.RANKED)
    dialog = post.open(key, exchange=post.exchange, **more)
    post.settle()
    room = room_for(dialog)
    assert dialog.width() < room.width()
    assert dialog.height() < room.height()
    for box in dialog.findChildren(QDialogButtonBox):
        for button in box.buttons():
            assert button.visibleRegion().boundingRect().height() == button.height()
    for edit in dialog.findChildren(QPlainTextEdit):
        assert edit.tabChangesFocus()


# -- the tab


class Hall(PageDesk):
    """The tab mounted alone, and the dialogs it asked for."""

    size = (1000, 560)

    def mount(self, **more: Any) -> OrdersTab:
        """Begin an exchange and show its orders."""
        number = self.read(lambda bank: round_of(bank, **{**DAYS, **more}))
        self.number = number
        self.tab = OrdersTab(self.context)
        self.show(self.tab)
        self.tab.resize(*self.size)
        self.turn()
        return self.tab

    def turn(self) -> None:
        """Show the exchange as it is now, as the page does."""
        self.tab.show_exchange(self.read(lambda bank: queries.exchange(bank, self.number)))
        self.settle()

    def order(self, first: str, others: str = "", **more: Any) -> int:
        """Keep an order."""
        values = {"received_on": TODAY, **more}
        found: int = self.read(lambda bank: ordered(bank, self.number, first, others, **values))
        self.settle()
        return found

    def enabled(self) -> set[str]:
        """Return the buttons that may be pressed."""
        return {text for text, button in self.tab.deeds.items() if button.isEnabled()}

    def cells(self) -> list[list[str]]:
        """Return what the table shows."""
        return [[column.text(row) for column in self.tab.model.columns] for row in self.tab.model.rows]


@pytest.fixture
def hall(make_context: Make, show: Show, settle: Settle, qtbot: QtBot, told: Told) -> Hall:
    return Hall(make_context(), show, settle, qtbot, told)


def test_an_empty_list_of_orders_says_what_to_do_first(hall: Hall) -> None:
    tab = hall.mount()
    assert tab.empty.isVisible()
    assert "Type what came by letter" in tab.empty.text.text()
    assert tab.told.text() == ""
    hall.click(tab.deeds[NEW])
    assert hall.dialogs == [("order", {"exchange": tab.exchange})]
    assert hall.enabled() == {NEW, TAKE_IN, FORM}


def test_orders_stand_in_their_places_with_what_they_ask_for(hall: Hall) -> None:
    tab = hall.mount(alternatives=Alternatives.LIST, classes=(Standing.DONOR, Standing.REST))
    first = hall.order("5x2 3", "9", who="Marit Olden", note="Please call.")
    hall.order("1", who="Ida Falk")
    day = f"{TODAY.day} May 2026"
    assert hall.cells() == [
        ["1", "Marit Olden", "NL", "the rest", "3", "1", day, "", "Please call."],
        ["2", "Ida Falk", "NL", "the rest", "1", "0", day, "", ""],
    ]
    assert tab.told.text() == "2 orders ask for 4 packets."
    hall.read(lambda bank: allot(bank, first, 1))
    hall.settle()
    assert hall.cells()[0][7] == "2"
    tab.table.choose_rows([0])
    assert hall.enabled() == {NEW, TAKE_IN, FORM}
    tab.table.choose_rows([1])
    assert hall.enabled() == {NEW, TAKE_IN, FORM, CHANGE, WITHDRAW}


def test_what_came_late_says_so(hall: Hall) -> None:
    hall.mount(closes=TODAY - timedelta(1))
    hall.order("1", late=True)
    assert hall.cells()[0][6].endswith(", late")


@pytest.mark.parametrize("stage", [Stage.GATHERING, Stage.SHARED, Stage.CLOSED])
def test_only_what_the_stage_allows_is_enabled(hall: Hall, stage: Stage) -> None:
    tab = hall.mount()
    hall.order("1")
    hall.read(lambda bank: set_stage(bank, hall.number, stage))
    hall.settle()
    tab.table.choose_rows([0])
    assert hall.enabled() == set()
    assert "first." in tab.told.text()
    hall.key(tab.table, Qt.Key.Key_Return)
    assert hall.dialogs == []


def test_an_order_is_opened_by_return_and_stays_selected(hall: Hall) -> None:
    tab = hall.mount()
    hall.order("1", who="Marit Olden")
    hall.order("2", who="Ida Falk")
    tab.table.setFocus()
    hall.qtbot.keyClick(tab.table, Qt.Key.Key_Home, Qt.KeyboardModifier.ControlModifier)
    hall.key(tab.table, Qt.Key.Key_Down)
    hall.order("3", who="Jon Brandt")
    chosen = tab.chosen()
    assert chosen is not None
    assert chosen.who == "Ida Falk"
    hall.key(tab.table, Qt.Key.Key_Return)
    assert hall.dialogs == [("order", {"exchange": tab.exchange, "placed": chosen.placed})]


def test_an_order_is_withdrawn_once_that_is_confirmed(hall: Hall) -> None:
    tab = hall.mount()
    hall.order("1", who="Ida Falk")
    tab.table.choose_rows([0])
    hall.click(tab.deeds[WITHDRAW])
    assert len(tab.model.rows) == 1
    assert hall.told is not None
    hall.told.answer = "Withdraw it"
    hall.click(tab.deeds[WITHDRAW])
    assert hall.told.asked == ["Withdraw the order of Ida Falk?"] * 2
    assert hall.told.infos[-1][0] == "The order of Ida Falk is withdrawn."
    assert tab.empty.isVisible()


def test_a_file_is_asked_for_and_its_folder_remembered(
    hall: Hall, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tab = hall.mount()
    asked: list[str] = []
    files = [tmp_path / "orders.csv", tmp_path / "form.xlsx"]
    answers = iter([[], [str(file) for file in files], []])

    def ask(_parent: object, _title: str, folder: str, _kinds: str) -> tuple[list[str], str]:
        asked.append(folder)
        return next(answers), ""

    monkeypatch.setattr(QFileDialog, "getOpenFileNames", ask)
    for _ in range(3):
        hall.click(tab.deeds[TAKE_IN])
    assert asked == [str(Path.home()), str(Path.home()), str(tmp_path)]
    assert hall.dialogs == [("take_in_orders", {"exchange": tab.exchange, "path": file}) for file in files]
    hall.click(tab.deeds[FORM])
    assert hall.dialogs[-1][0] == "order_form"


def test_the_tab_reads_nothing_out_of_sight(hall: Hall) -> None:
    tab = hall.mount()
    tab.hide()
    hall.order("1")
    assert tab.model.rows == []
    tab.show()
    QApplication.sendPostedEvents(None, QEvent.Type.ShowToParent)
    hall.settle()
    assert len(tab.model.rows) == 1
