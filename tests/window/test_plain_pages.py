"""Today, History and Settings: read, opened and kept by keyboard."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core.dates import PartDate
from sporebank.core.records import SporeClass
from sporebank.core.settings import Settings
from sporebank.core.sheets import Sheet
from sporebank.jobs import figures, undo, vials
from sporebank.jobs.label_stock import keep_sheet
from sporebank.jobs.sharing import Wish
from sporebank.window.context import Context
from sporebank.window.pages.history import HistoryPage
from sporebank.window.pages.settings import SettingsPage
from sporebank.window.pages.today import TodayPage
from sporebank.window.widgets.choice import Choice
from tests.builders import asked, clone, counted, fridge, stored
from tests.window.conftest import Told
from tests.window.keys import choose, turn_to, write

Make = Callable[..., Context]
Settle = Callable[[Context], None]
Show = Callable[[QWidget], QWidget]


def _a_spring(bank: Bank) -> None:
    """Store green spore that is about to die, a batch whose test is due, and a request."""
    figures.keep_fresh(bank)
    fridge(bank)
    green = {"spore_class": SporeClass.GREEN, "collected": PartDate(2025, 7, 9), "stored_on": date(2025, 7, 10)}
    stored(bank, "Osmunda regalis", clone=clone("O-1"), **green)
    old = stored(bank, clone=clone("D-1"), collected=PartDate(2020), stored_on=date(2020, 9, 1))
    counted(bank, old.batch_id, 90, 100, on=date(2021, 1, 10))
    asked(bank, Wish(1, 1_000, queries.batch(bank, old.batch_id).clone.taxon.id))


@pytest.fixture
def context(make_context: Make, settle: Settle, told: Told) -> Context:
    made = make_context()
    made.do(_a_spring)
    settle(made)
    assert told.bugs == []
    return made


class TestToday:
    def test_what_cannot_wait_comes_first_and_enter_opens_its_work(
        self, qtbot: QtBot, context: Context, show: Show, settle: Settle
    ) -> None:
        page = show(TodayPage(context))
        settle(context)
        went: list[tuple[str, dict[str, object]]] = []
        context.gone.connect(lambda key, focus: went.append((key, focus)))
        kinds = [due.kind for due in page.model.rows]
        assert kinds[:2] == ["green", "request"]
        assert "test" in kinds
        assert "1 request is not yet sent" in page.summary.text()
        page.table.setFocus()
        for _ in kinds:
            qtbot.keyClick(page.table, Qt.Key.Key_Return)
            qtbot.keyClick(page.table, Qt.Key.Key_Down)
        opened = {kind: key for kind, (key, _) in zip(kinds, went, strict=True)}
        assert opened["green"] == "vials"
        assert opened["request"] == "share"
        assert opened["test"] == "test"

    def test_one_kind_is_shown_alone(self, qtbot: QtBot, context: Context, show: Show, settle: Settle) -> None:
        page = show(TodayPage(context))
        settle(context)
        page.chips.buttons[""].setFocus()
        turn_to(qtbot, page, "What waits: All", "What waits: Requests")
        assert [due.kind for due in page.model.rows] == ["request"]
        assert page.chips.buttons["request"].text() == "Requests 1"

    def test_green_spore_past_its_line_comes_first_and_is_told_apart(
        self, qtbot: QtBot, context: Context, show: Show, settle: Settle
    ) -> None:
        old = {"spore_class": SporeClass.GREEN, "collected": PartDate(2025, 6, 30), "stored_on": date(2025, 7, 1)}
        context.do(lambda bank: stored(bank, "Onoclea sensibilis", clone=clone("O-2"), **old))
        page = show(TodayPage(context))
        settle(context)
        assert [due.kind for due in page.model.rows[:2]] == ["late", "green"]
        assert page.model.columns[0].text(page.model.rows[0]) == "Perhaps too late: test or sow at once"
        assert page.summary.text().startswith("1 batch of green spore may be dead already. 1 batch of green spore is")
        page.chips.buttons[""].setFocus()
        turn_to(qtbot, page, "What waits: All", "What waits: Green spore")
        assert [due.who for due in page.model.rows] == ["O-2", "O-1"]
        assert page.chips.buttons["green"].text() == "Green spore 2"

    def test_an_empty_bank_has_nothing_waiting(
        self, qtbot: QtBot, make_context: Make, show: Show, settle: Settle
    ) -> None:
        empty = make_context()
        page = show(TodayPage(empty))
        settle(empty)
        assert page.empty.isVisible()
        assert page.summary.text() == "Nothing waits."


class TestHistory:
    def test_deeds_are_listed_latest_first_and_what_is_taken_back_is_marked(
        self, qtbot: QtBot, context: Context, show: Show, settle: Settle
    ) -> None:
        page = show(HistoryPage(context))
        context.do(lambda bank: vials.note(bank, [1], "cap is cracked"))
        settle(context)
        said = [page.model.columns[1].text(event) for event in page.model.rows]
        assert said[0].startswith("Note on V-")
        assert "Store batch" in " ".join(said[1:])
        context.do(undo.undo)
        settle(context)
        said = [page.model.columns[1].text(event) for event in page.model.rows]
        assert any(text.endswith("(taken back)") for text in said)

    def test_a_word_finds_older_deeds(self, qtbot: QtBot, context: Context, show: Show, settle: Settle) -> None:
        page = show(HistoryPage(context))
        settle(context)
        write(qtbot, page, "Look in the history", "request")
        qtbot.waitUntil(lambda: page.model.rowCount() == 1)
        assert page.model.rows[0].title.startswith("Request of Marit Olden")


class TestSettings:
    @pytest.fixture
    def page(self, context: Context, show: Show, settle: Settle) -> SettingsPage:
        made = show(SettingsPage(context))
        settle(context)
        return made

    def _kept(self, page: SettingsPage, settle: Settle) -> Settings:
        found: list[Settings] = []
        page.context.read(lambda bank: bank.settings, found.append)
        settle(page.context)
        return found[0]

    def test_every_setting_is_kept_as_it_is_shown(
        self, qtbot: QtBot, page: SettingsPage, told: Told, settle: Settle
    ) -> None:
        page.keep_settings()
        settle(page.context)
        assert told.infos[-1][0] == "Nothing has changed."
        assert set(page.editors) == set(Settings.__dataclass_fields__)

    def test_a_number_is_read_with_a_comma_and_undo_is_offered(
        self, qtbot: QtBot, page: SettingsPage, told: Told, settle: Settle
    ) -> None:
        write(qtbot, page, "A packet holds (mg)", "2,5")
        page.keep_settings()
        settle(page.context)
        assert self._kept(page, settle).packet_ug == 2_500
        assert told.infos[-1][1].text == "Undo"

    @pytest.mark.parametrize(("title", "name", "text"), [
        ("Line (%)", "cull_line", "much"), ("Line (%)", "cull_line", "400"), ("A packet holds (mg)", "packet_ug", "-1"),
    ])  # fmt: skip
    def test_nonsense_is_refused_beside_its_field(
        self, qtbot: QtBot, page: SettingsPage, settle: Settle, title: str, name: str, text: str
    ) -> None:
        write(qtbot, page, title, text)
        page.keep_settings()
        settle(page.context)
        assert next(form.fields[name].error for form in page.forms if name in form.fields)
        assert self._kept(page, settle) == Settings()

    def test_the_defaults_are_written_but_not_kept(self, qtbot: QtBot, page: SettingsPage, settle: Settle) -> None:
        write(qtbot, page, "Line (%)", "30")
        page.keep_settings()
        settle(page.context)
        page.reset_settings()
        assert page.editors["cull_line"].text() == "20"
        assert self._kept(page, settle).cull_line == 0.3
        page.keep_settings()
        settle(page.context)
        assert self._kept(page, settle).cull_line == 0.2

    def test_a_sheet_of_ones_own_is_offered_at_once_and_what_is_written_stays(
        self, qtbot: QtBot, page: SettingsPage, settle: Settle
    ) -> None:
        write(qtbot, page, "A packet holds (mg)", "2.5")
        mine = Sheet("", "Mine", 210, 297, 3, 8, 60, 30, 10, 12.5, 65, 34)
        page.context.do(lambda bank: keep_sheet(bank, mine))
        settle(page.context)
        choose(qtbot, page, "Vial labels", "Mine")
        page.keep_settings()
        settle(page.context)
        assert (self._kept(page, settle).vial_sheet, self._kept(page, settle).packet_ug) == ("own-1", 2_500)
        choice = page.editors["vial_sheet"]
        assert isinstance(choice, Choice)
        assert choice.currentText() == "Mine"

    def test_the_wheel_turns_no_choice_that_the_page_only_scrolls_by(self, qtbot: QtBot, page: SettingsPage) -> None:
        choice = page.editors["vial_sheet"]
        assert isinstance(choice, Choice)
        before = choice.value()
        nothing, turn = QPoint(), QPoint(0, -120)
        QApplication.sendEvent(
            choice,
            QWheelEvent(
                QPointF(5, 5), QPointF(5, 5), nothing, turn, Qt.MouseButton.NoButton,
                Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase, False,
            ),
        )  # fmt: skip
        assert choice.value() == before
