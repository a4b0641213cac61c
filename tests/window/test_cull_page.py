"""The Cull page: chosen, confirmed once, taken out, taken back with one keystroke."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core.dates import PartDate
from sporebank.jobs import figures
from sporebank.window import printing
from sporebank.window.actions import Needs
from sporebank.window.context import Context
from sporebank.window.pages.cull import CullPage
from sporebank.window.theme import Theme
from tests.builders import clone, counted, fridge, stored
from tests.window.conftest import Told
from tests.window.keys import turn_to

Make = Callable[..., Context]
Settle = Callable[[Context], None]


def _fill(bank: Bank) -> None:
    """Store six dead vials tested of late, one dead and invasive that is the last of its clone, and three untested."""
    figures.keep_fresh(bank)
    fridge(bank)
    for number, (name, vials, on) in enumerate(
        (
            ("Dryopteris affinis", 6, date(2026, 4, 10)),
            ("Sphaeropteris cooperi", 1, date(2026, 4, 12)),
            ("Osmunda regalis", 3, date(2024, 1, 10)),
        )
    ):
        code = f"C-{number:02d}"
        batch = stored(
            bank, name, vials=vials, clone=clone(code), collected=PartDate(2023), stored_on=date(2023, 8, 20)
        )
        counted(bank, batch.batch_id, 1, 300, on=on)
        if number == 0:
            alive = stored(bank, name, clone=queries.batch(bank, batch.batch_id).clone.id, vials=1)
            counted(bank, alive.batch_id, 270, 300)


@pytest.fixture
def sheets(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Return how many vials each cull sheet shown had."""
    shown: list[int] = []
    monkeypatch.setattr(printing, "cull_sheet", lambda context, chosen, on: shown.append(len(chosen)))
    return shown


@pytest.fixture
def page(
    qtbot: QtBot, theme: Theme, make_context: Make, show: Callable[[QWidget], QWidget], settle: Settle
) -> CullPage:
    context = make_context()
    context.do(_fill)
    settle(context)
    made = show(CullPage(context))
    made.resize(1100, 620)
    settle(context)
    return made


def test_every_candidate_is_listed_with_its_advice_and_what_to_mind(page: CullPage) -> None:
    assert page.counts.text() == "10 vials past viability: advised to cull 7, to test first 3."
    marks = {row.candidate.vial.clone: page.model.columns[5].text(row) for row in page.model.rows}
    assert marks == {"C-00": "", "C-01": "last of its clone, invasive", "C-02": "last of its clone"}


def test_what_may_go_is_culled_once_confirmed_and_comes_back_with_undo(
    qtbot: QtBot, page: CullPage, told: Told, settle: Settle, sheets: list[int]
) -> None:
    page.choose_cull()
    assert page.has(Needs.SELECTION)
    assert {page.model.rows[number].candidate.vial.clone for number in page.table.chosen_rows()} == {"C-00"}
    page.cull_vials()
    settle(page.context)
    assert page.model.rowCount() == 10  # turned away from the question
    told.answer = "Cull 6 vials"
    page.cull_vials()
    settle(page.context)
    assert told.asked == ["Take 6 vials out of the bank?"] * 2
    assert page.model.rowCount() == 4
    assert sheets == [6]
    assert told.infos[-1][1].text == "Undo"
    told.infos[-1][1].do()
    settle(page.context)
    assert page.model.rowCount() == 10


def test_each_reason_is_told_and_an_invasive_one_says_how_to_dispose(qtbot: QtBot, page: CullPage) -> None:
    for number, row in enumerate(page.model.rows):
        page.table.selectRow(number)
        assert row.candidate.reason in page.reason.text()
        assert ("seal" in page.reason.text().lower()) == (row.candidate.vial.clone == "C-01")


def test_a_choice_outlives_a_fresh_reading_and_a_filter_without_vials_says_so(
    qtbot: QtBot, page: CullPage, settle: Settle, told: Told, sheets: list[int]
) -> None:
    page.choose_cull()
    page.refresh()
    settle(page.context)
    assert page.table.chosen_count() == 6
    page.table.setFocus()
    turn_to(qtbot, page, "Advice: All", "Advice: Test first")
    page.table.selectAll()
    told.answer = "Cull 3 vials"
    page.cull_vials()
    settle(page.context)
    assert page.empty.isVisible()
    assert page.empty.title.text() == "None of these"
    qtbot.keyClick(page.table, Qt.Key.Key_Escape)
    assert not page.has(Needs.SELECTION)
