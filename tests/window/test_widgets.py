from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest
from PySide6.QtCore import QLocale, Qt
from PySide6.QtWidgets import QLabel, QLineEdit, QWidget
from pytestqt.qtbot import QtBot

from sporebank.core import codes, naming
from sporebank.core.dates import PartDate
from sporebank.core.errors import Refusal
from sporebank.window.theme import Theme
from sporebank.window.widgets.day import DayEdit
from sporebank.window.widgets.editors import AmountEdit, CodeEdit, NumberEdit, PartDateEdit, parse_number
from sporebank.window.widgets.field import Form
from sporebank.window.widgets.names import NameLabel
from sporebank.window.widgets.simple import Chips, Empty, Happening, HistoryList

Show = Callable[[QWidget], QWidget]


@pytest.mark.parametrize(
    ("typed", "value", "said"),
    [
        ("2019", PartDate(2019), "2019"),
        ("2019-08", PartDate(2019, 8), "Aug 2019"),
        ("14 august 2019", PartDate(2019, 8, 14), "14 Aug 2019"),
        ("03/04/2019", None, ""),
        ("", None, ""),
    ],
)
def test_a_partly_known_date_is_read_back(
    qtbot: QtBot, theme: Theme, typed: str, value: PartDate | None, said: str
) -> None:
    edit = PartDateEdit()
    qtbot.addWidget(edit)
    qtbot.keyClicks(edit.line, typed)
    assert edit.said.text() == said
    if value is None and typed:
        with pytest.raises(Refusal):
            edit.value()
    else:
        assert edit.value() == value


@pytest.mark.parametrize(("day", "key"), [(date.max, Qt.Key.Key_Up), (date.min, Qt.Key.Key_Down)])
def test_the_arrows_stop_where_the_calendar_does(qtbot: QtBot, theme: Theme, day: date, key: Qt.Key) -> None:
    editor = DayEdit(day)
    qtbot.addWidget(editor)
    qtbot.keyClick(editor, key)
    assert editor.day() == day


def test_setting_a_value_is_not_an_edit(qtbot: QtBot, theme: Theme) -> None:
    edit = PartDateEdit()
    qtbot.addWidget(edit)
    edits: list[int] = []
    edit.edited.connect(lambda: edits.append(1))
    edit.set_value(PartDate(2019, 8))
    assert edit.line.text() == "2019-08"
    assert edits == []
    qtbot.keyClicks(edit.line, "-1")
    assert len(edits) == 2
    edit.set_value(None)
    assert edit.value() is None


@pytest.mark.parametrize("locale", ["en_GB", "de_DE", "fr_CH"])
@pytest.mark.parametrize("typed", ["14.2", "14,2", " 14.2 "])
def test_numbers_are_read_with_comma_and_point(locale: str, typed: str) -> None:
    before = QLocale()
    QLocale.setDefault(QLocale(locale))
    try:
        assert parse_number(typed) == pytest.approx(14.2)
        with pytest.raises(Refusal):
            parse_number("a few")
    finally:
        QLocale.setDefault(before)


@pytest.mark.parametrize("locale", ["en_GB", "de_DE", "fr_CH"])
@pytest.mark.parametrize("value", [0.125, 12.345, -18.0, 63.617, 1.234, 1000.0])
def test_a_number_that_is_shown_is_read_back_the_same_on_every_system(
    qtbot: QtBot, theme: Theme, locale: str, value: float
) -> None:
    before = QLocale()
    QLocale.setDefault(QLocale(locale))
    try:
        edit = NumberEdit("°C")
        edit.set_value(value)
        assert edit.value() == value
    finally:
        QLocale.setDefault(before)


@pytest.mark.parametrize("typed", ["nan", "inf", "1e5", "1,234", "1.234,5", "--2", "", "."])
def test_what_is_no_number_or_could_be_two_is_refused(typed: str) -> None:
    with pytest.raises(Refusal):
        parse_number(typed)


@pytest.mark.parametrize("typed", ["14.2", "14,2"])
def test_amounts_are_whole_micrograms(qtbot: QtBot, theme: Theme, typed: str) -> None:
    edit = AmountEdit()
    qtbot.addWidget(edit)
    qtbot.keyClicks(edit.line, typed)
    assert edit.value() == 14_200
    assert edit.said.text() == "14.2 mg"
    edit.set_value(2_000_500)
    assert edit.value() == 2_000_500


def test_a_number_is_read_back_with_its_unit(qtbot: QtBot, theme: Theme) -> None:
    edit = NumberEdit("°C")
    qtbot.addWidget(edit)
    edit.set_value(-18.0)
    assert (edit.line.text(), edit.said.text()) == ("-18", "-18 °C")


def test_a_code_is_taken_in_any_writing_and_a_wrong_one_refused(qtbot: QtBot, theme: Theme) -> None:
    code = codes.make("V", "ABC", 17)
    edit = CodeEdit("ABC")
    qtbot.addWidget(edit)
    qtbot.keyClicks(edit.line, codes.grouped(code).lower())
    value = edit.value()
    assert value is not None
    assert value.text == code
    assert edit.said.text() == codes.grouped(code)
    edit.line.setText(code[:-1] + ("0" if code[-1] != "0" else "1"))
    with pytest.raises(Refusal):
        edit.value()


class TestForm:
    def form(self, show: Show) -> Form:
        form = Form(columns=2)
        form.add("name", "&Name", QLineEdit(), "as you like")
        form.add("on", "&Collected", PartDateEdit())
        form.add("note", "N&ote", QLineEdit(), span=2)
        show(form)
        return form

    def test_an_error_stands_beside_its_field(self, theme: Theme, show: Show) -> None:
        form = self.form(show)
        assert form.refuse(Refusal("That day is yet to come.", field="on"))
        field = form.fields["on"]
        assert "That day is yet to come." in field.error
        assert field.findChildren(QLabel)[-1].isVisible()
        assert field.editor.line.accessibleDescription().endswith("That day is yet to come.")
        assert field.editor.line.property("wrong") is True
        form.clear_errors()
        assert field.error == ""
        assert field.editor.line.property("wrong") is False

    def test_a_refusal_without_a_field_is_left_to_others(self, theme: Theme, show: Show) -> None:
        form = self.form(show)
        assert not form.refuse(Refusal("The disk is full."))
        assert all(field.error == "" for field in form.fields.values())

    def test_the_keyboard_walks_the_fields_in_order(self, qtbot: QtBot, theme: Theme, show: Show) -> None:
        form = self.form(show)
        form.fields["name"].editor.setFocus()
        met = []
        for _ in range(3):
            met.append(form.focusWidget().accessibleName())
            qtbot.keyClick(form.focusWidget(), Qt.Key.Key_Tab)
        assert met == ["Name", "Collected", "Note"]


def test_chips_tell_the_keepers_choice_alone(qtbot: QtBot, theme: Theme) -> None:
    chips = Chips("How alive", (("", "All"), ("spent", "Spent")))
    qtbot.addWidget(chips)
    chosen: list[str] = []
    chips.chosen.connect(chosen.append)
    chips.set_chosen("spent")
    assert chosen == []
    qtbot.mouseClick(chips.buttons[""], Qt.MouseButton.LeftButton)
    assert chosen == [""]
    assert not chips.buttons["spent"].isChecked()


def test_names_are_italic_where_botany_puts_them_and_safe(qtbot: QtBot, theme: Theme) -> None:
    shown = NameLabel()
    qtbot.addWidget(shown)
    shown.set_name(naming.parse("Athyrium niponicum 'Red <& Gold'"))
    assert "<i>Athyrium niponicum </i>" in shown.text()
    assert "&lt;&amp; Gold" in shown.text()
    assert shown.accessibleName() == "Athyrium niponicum 'Red <& Gold'"


def test_an_empty_page_says_what_to_do(qtbot: QtBot, theme: Theme) -> None:
    done: list[int] = []
    empty = Empty("frond", "Nothing yet", "Store a batch.", "Store", lambda: done.append(1))
    qtbot.addWidget(empty)
    qtbot.mouseClick(empty.button, Qt.MouseButton.LeftButton)
    assert done == [1]


def test_what_an_empty_page_offers_is_never_a_window_of_its_own(qtbot: QtBot, theme: Theme) -> None:
    empty = Empty("frond", "Nothing yet", "Store a batch.", "Store")
    qtbot.addWidget(empty)
    assert not empty.button.isVisible()
    assert not empty.button.isWindow()


def test_history_shows_other_lines_in_place_of_the_first(qtbot: QtBot, theme: Theme) -> None:
    history = HistoryList()
    qtbot.addWidget(history)
    history.show_lines([Happening("1 May 2026", "Stored"), Happening("2 May 2026", "Moved")])
    history.show_lines([Happening("3 May 2026", "Tested")])
    texts = [one.text() for one in history.findChildren(QLabel) if not one.isHidden()]
    assert texts == ["3 May 2026", "Tested"]


def test_the_letter_of_a_label_leads_into_its_editor(qtbot: QtBot, theme: Theme, show: Show) -> None:
    form, other = Form(), QLineEdit()
    form.add("other", "Other", other)
    amount = AmountEdit()
    form.add("amount", "&How much", amount)
    show(form)
    form.activateWindow()
    other.setFocus()
    qtbot.keyClick(other, Qt.Key.Key_H, Qt.KeyboardModifier.AltModifier)
    assert amount.line.hasFocus()
