"""What the Test page says while counting, and leaving a test out through its batch."""

from __future__ import annotations

from typing import Any

import pytest
from PySide6.QtCore import Qt, QUrl
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from sporebank.bank import queries
from sporebank.window.dialogs import dialog_class
from sporebank.window.dialogs.form_dialog import FormDialog
from sporebank.window.germination_plan import OWN, TABLE
from sporebank.window.pages.test import TestPage
from sporebank.window.theme import Theme
from tests.builders import clone, counted, fridge, stored
from tests.window.conftest import Told
from tests.window.keys import at, choose, press, write
from tests.window.test_test_page import Bench, Make, Settle, Show, bench  # noqa: F401 - a fixture


def counts(here: Bench, *found: int, of: int = 100) -> None:
    """Write counts by keyboard, one line each."""
    for number, germinated in enumerate(found, start=1):
        here.write(f"Count {number}, germinated", str(germinated))
        if of != 100:
            here.write(f"Count {number}, looked at", str(of))
    here.settle()


def said(here: Bench) -> tuple[str, str, str]:
    """Return what is in sight of the verdict, the agreement and the doubt."""
    form = here.page.form
    texts = (form.verdict, form.agreement, form.doubt)
    assert all(text.isVisible() == bool(text.text()) for text in texts)
    return form.verdict.text(), form.agreement.text(), form.doubt.text()


def test_nothing_is_said_before_anything_is_counted(bench: Bench) -> None:  # noqa: F811 - the fixture
    bench.take_first()
    assert said(bench) == ("", "", "")


# The published plan (Ellis & Wetzel 1983): 29 of 40 or fewer below the mark, 76 of 80 alive enough; and the published
# tolerance (7 CFR 201.55(a)): four counts of 100 that average 85 lie at most 14 apart.
@pytest.mark.parametrize(
    ("of", "found", "verdict"),
    [
        (40, (29,), "Stop: below the mark. 29 of 40 is short of 85 %."),
        (40, (36,), "Go on: count 40 more. 36 of 40 does not yet tell it from 85 %."),
        (40, (38, 38), "Stop: alive enough. 76 of 80 is clear of 85 %."),
    ],
)
def test_after_each_count_the_page_says_stop_or_go_on(
    bench: Bench,  # noqa: F811 - the fixture
    of: int,
    found: tuple[int, ...],
    verdict: str,
) -> None:
    bench.take_first()
    counts(bench, *found, of=of)
    assert said(bench)[0] == verdict


def test_counts_that_differ_too_much_are_told_and_still_recorded(bench: Bench) -> None:  # noqa: F811 - the fixture
    bench.take_first()
    bench.write("Sown on", "2026-04-10")
    counts(bench, 92, 85, 85, 78)
    assert said(bench)[1:] == ("The counts agree: 14 apart, and up to 14 is chance.", "")
    counts(bench, 93, 85, 84)
    assert said(bench)[1] == ""
    assert said(bench)[2].startswith("⚠ The counts differ more than chance allows: 15 apart, where 14 is the most")
    assert "table for four counts of 100" in bench.page.form.doubt.toolTip()
    bench.keep()
    assert [test.germinated for test in bench.tests()] == [340]
    assert said(bench) == ("", "", "")


def test_other_layouts_are_compared_too_and_half_a_number_is_not(bench: Bench) -> None:  # noqa: F811 - the fixture
    bench.take_first()
    counts(bench, 10, 90)
    assert "10 to 90 %" in said(bench)[2]
    bench.write("Count 2, germinated", "900")
    bench.settle()
    assert said(bench) == ("", "", "")


def test_a_mark_of_ones_own_is_remembered(bench: Bench, show: Show) -> None:  # noqa: F811 - the fixture
    plan = bench.page.plan
    bench.take_first()
    counts(bench, 60)
    assert said(bench)[0].startswith("Stop: below the mark. 60 of 100 is short of 85 %")
    assert not plan.mark.isVisible()
    choose(bench.qtbot, bench.window, "Stop or go on by", "A mark of my own")
    assert plan.by.value() == OWN
    bench.write("My mark (%)", "20")
    assert said(bench)[0] == "Stop: alive enough. 60 of 100 is clear of 20 %."
    assert "Spore that is 20 % alive passes 2 times in 100, spore that is 30 % alive 97 times" in plan.promise.text()
    again = TestPage(bench.context)
    show(again)
    bench.settle()
    assert (again.plan.by.value(), again.plan.mark.value()) == (OWN, 20.0)


def test_without_a_plan_nothing_says_when_to_stop(bench: Bench) -> None:  # noqa: F811 - the fixture
    bench.take_first()
    counts(bench, 60)
    choose(bench.qtbot, bench.window, "Stop or go on by", "No plan")
    assert said(bench)[0] == ""
    assert bench.page.plan.promise.text() == ""


@pytest.mark.parametrize("wrong", ["", "0", "-5", "half"])
def test_a_mark_that_cannot_be_is_told_beside_it_and_not_kept(bench: Bench, wrong: str) -> None:  # noqa: F811 - the fixture
    bench.take_first()
    counts(bench, 60)
    choose(bench.qtbot, bench.window, "Stop or go on by", "A mark of my own")
    bench.write("My mark (%)", wrong)
    assert at(bench.window).accessibleName() == "My mark (%)"
    assert bench.page.plan.form.fields["mark"].error
    assert said(bench)[0] == ""
    assert bench.context.state.get("test/mark", 0.0) == 50.0
    choose(bench.qtbot, bench.window, "Stop or go on by", "The 85 %")
    assert bench.page.plan.by.value() == TABLE
    assert said(bench)[0].startswith("Stop")


def test_how_many_to_count_follows_the_closeness_and_the_share_seen(bench: Bench) -> None:  # noqa: F811 - the fixture
    """Wilson 1927 at one half: 381 for 5 %, 93 for 10 % (computed), times 1.99 for dishes of 100 alike by 0.01."""
    plan = bench.page.plan
    bench.take_first()
    assert plan.count.text() == "Count 757 in all, 100 to a dish: about 50 % is then known to 5 % either way."
    bench.write("Known how closely, ± (%)", "10")
    assert plan.count.text().startswith("Count 184 in all")
    counts(bench, 90)
    assert "about 90 %" in plan.count.text()
    bench.write("Known how closely, ± (%)", "0")
    assert plan.count.text() == ""
    assert "1 to 49" in plan.below.fields["wanted"].error


def test_the_keyboard_goes_from_the_table_into_the_form_and_to_the_plan_last(bench: Bench) -> None:  # noqa: F811 - the fixture
    bench.take_first()
    met: list[str] = []
    while (name := at(bench.window).accessibleName()) != "Stop or go on by":
        met.append(name)
        bench.qtbot.keyClick(at(bench.window), Qt.Key.Key_Tab)
        assert len(met) < 40
    assert met[:2] == ["Batches to test", "Spore from"]
    assert met[-1] == "Note"


# -- leaving a test out


class Shelf:
    """A batch of two tests that contradict each other, and dialogs opened on it as the window opens them."""

    def __init__(self, qtbot: QtBot, make: Make, settle: Settle, show: Show, told: Told) -> None:
        self.qtbot, self.context, self._settle, self._show, self.told = qtbot, make(), settle, show, told
        self.asked: list[tuple[str, dict[str, Any]]] = []
        self.context.dialog_wanted.connect(lambda key, arguments: self.asked.append((key, arguments)))
        made: list[tuple[int, int, int]] = []
        self.context.do(self._fill, made.append)
        settle(self.context)
        self.batch_id, self.good, self.bad = made[0]

    def _fill(self, bank: Any) -> tuple[int, int, int]:
        fridge(bank)
        batch = stored(bank, "Osmunda regalis", clone=clone("O-1"))
        return batch.batch_id, counted(bank, batch.batch_id, 270, 300), counted(bank, batch.batch_id, 3, 300)

    def open(self, key: str, **arguments: Any) -> Any:
        dialog: QWidget = dialog_class(key)(self.context, None, **arguments)
        self._show(dialog)
        self._settle(self.context)
        return dialog

    def follow(self, card: Any, link: str) -> Any:
        """Follow a link of a card into the dialog that it asks for."""
        assert f"href='{link}'" in card.text.toHtml().replace('"', "'")
        card.text.anchorClicked.emit(QUrl(link))
        key, arguments = self.asked.pop()
        return self.open(key, **arguments)

    def settle(self) -> None:
        self._settle(self.context)

    def left_out(self) -> list[str]:
        answers: list[list[str]] = []
        self.context.read(
            lambda bank: [test.left_out for test, _ in queries.tests_of(bank, [self.batch_id])[self.batch_id]],
            answers.append,
        )
        self.settle()
        return answers[0]


def words(card: Any) -> str:
    return str(card.text.toPlainText()).replace("\N{NO-BREAK SPACE}", " ")


@pytest.fixture
def shelf(qtbot: QtBot, theme: Theme, make_context: Make, settle: Settle, show: Show, told: Told) -> Shelf:
    return Shelf(qtbot, make_context, settle, show, told)


def submit(shelf: Shelf, dialog: FormDialog) -> None:
    press(shelf.qtbot, dialog, dialog.go.text())
    shelf.settle()


def test_a_test_is_left_out_with_a_reason_and_taken_back_in(shelf: Shelf) -> None:
    dialog = shelf.follow(shelf.open("batch", batch_id=shelf.batch_id), f"test:{shelf.bad}")
    assert "3 of 300 germinated" in dialog.about.text()
    submit(shelf, dialog)
    assert "Say why" in dialog.form.fields["reason"].error
    assert shelf.left_out() == ["", ""]
    write(shelf.qtbot, dialog, "Why it is left out", "Mould & mites <two dishes>")
    submit(shelf, dialog)
    assert not dialog.isVisible()
    assert shelf.left_out() == ["", "Mould & mites <two dishes>"]
    text, offer = shelf.told.infos[-1]
    assert (text, offer and offer.text) == ("The forecast no longer goes by the test.", "Undo")
    card = shelf.open("batch", batch_id=shelf.batch_id)
    assert "left out: Mould & mites <two dishes> · take back in…" in words(card)
    dialog = shelf.follow(card, f"test:{shelf.bad}")
    assert "Left out: Mould & mites <two dishes>" in dialog.about.text()
    assert not dialog.form.isVisible()
    submit(shelf, dialog)
    assert shelf.left_out() == ["", ""]


def test_leaving_out_is_undone_like_any_deed(shelf: Shelf) -> None:
    dialog = shelf.open("test", test_id=shelf.bad)
    write(shelf.qtbot, dialog, "Why it is left out", "Mould")
    submit(shelf, dialog)
    shelf.context.undo()
    assert shelf.left_out() == ["", ""]
    shelf.context.redo()
    assert shelf.left_out() == ["", "Mould"]


def test_a_test_taken_back_meanwhile_says_so(shelf: Shelf) -> None:
    shelf.context.undo()
    shelf.settle()
    dialog = shelf.open("test", test_id=shelf.bad)
    assert dialog.about.text() == "This test has been taken back."
    write(shelf.qtbot, dialog, "Why it is left out", "Mould")
    submit(shelf, dialog)
    assert "taken back" in dialog.message.text()


def test_counts_that_are_not_credible_are_marked_in_the_batch(bench: Bench, show: Show) -> None:  # noqa: F811 - the fixture
    bench.take_first()
    bench.write("Sown on", "2026-04-10")
    counts(bench, 93, 85, 84, 78)
    batch_id = bench.page.form.batch_id
    bench.keep()
    card: Any = dialog_class("batch")(bench.context, None, batch_id=batch_id)
    show(card)
    bench.settle()
    assert "340 of 400 germinated · ⚠ its counts differ more than chance allows · leave out…" in words(card)


def test_the_tests_of_the_batch_chosen_are_opened_from_the_page(bench: Bench) -> None:  # noqa: F811 - the fixture
    assert not bench.window.commands.by_id["open_tested"].isEnabled()
    bench.take_first()
    asked: list[tuple[str, dict[str, Any]]] = []
    bench.context.dialog_wanted.disconnect()
    bench.context.dialog_wanted.connect(lambda key, arguments: asked.append((key, arguments)))
    press(bench.qtbot, bench.window, "Its tests")
    assert asked == [("batch", {"batch_id": bench.page.form.batch_id})]
