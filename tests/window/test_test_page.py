"""Recording germination tests by keyboard."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core.dates import PartDate
from sporebank.core.records import MishapKind, Replicate, Test
from sporebank.jobs import figures, mishaps
from sporebank.jobs.today import agenda
from sporebank.window.pages.test import TestPage
from sporebank.window.theme import Theme
from sporebank.window.widgets.field import Form
from tests.builders import clone, counted, fridge, stored
from tests.window.conftest import TODAY, Told
from tests.window.desk import Make, Settle, Show, WindowDesk
from tests.window.keys import at, choose, doubled_letters, press, tab_to


def _stock(bank: Bank) -> None:
    """Store an old batch that wants a test and a fresh one that does not."""
    figures.keep_fresh(bank)
    fridge(bank)
    old = {"collected": PartDate(2014), "stored_on": date(2014, 9, 1)}
    stored(bank, "Osmunda regalis", clone=clone("O-1"), **old)
    fresh = stored(bank, "Dryopteris affinis", clone=clone("D-1"))
    counted(bank, fresh.batch_id, 380, 400, on=date(2026, 5, 1))


class Bench(WindowDesk):
    """The window on the Test page, and short ways to work it."""

    key = "test"

    def take_first(self) -> None:
        table = tab_to(self.qtbot, self.window, "Batches to test")
        self.qtbot.keyClick(table, Qt.Key.Key_Down)
        self.qtbot.keyClick(table, Qt.Key.Key_Home, Qt.KeyboardModifier.ControlModifier)
        self.settle()

    def tests(self) -> list[Test]:
        """Return the tests of the batch in the form."""
        batch_id = self.page.form.batch_id
        return self.read(lambda bank: [test for test, _ in queries.tests_of(bank, [batch_id])[batch_id]])

    def forms(self) -> tuple[Form, ...]:
        return self.page.form.form, self.page.form.below


@pytest.fixture
def bench(qtbot: QtBot, theme: Theme, make_context: Make, show: Show, settle: Settle) -> Bench:
    context = make_context(stock=_stock)
    context.do(figures.keep_fresh)
    return Bench(qtbot, context, settle, show)


def test_what_is_due_is_counted_and_listed(bench: Bench) -> None:
    assert [row.clone for row in bench.page.model.rows] == ["O-1"]
    assert bench.page.counts.text() == "1 batch is due."
    assert bench.read(agenda).waiting()["test"] == 1
    assert not bench.window.commands.by_id["record_test"].isEnabled()


def test_what_tells_most_comes_first(bench: Bench) -> None:
    """A test of spore of which nothing is known tells more than one of spore tested not long ago."""
    bench.write("Find a batch", "1")
    bench.qtbot.waitUntil(lambda: not bench.page._pause.isActive())
    bench.settle()
    rows = bench.page.model.rows
    assert {row.clone for row in rows} == {"O-1", "D-1"}
    assert [row.tells for row in rows] == sorted((row.tells for row in rows), reverse=True)
    for row in rows:
        assert 0 <= row.after <= row.share.high - row.share.low
    tells = [column.key for column in bench.page.model.columns].index("tells")
    shown = bench.page.model.index(0, tells).data()
    assert f"then ± {rows[0].after * 50:.0f}" in shown


def test_any_batch_is_found_by_a_search(bench: Bench) -> None:
    bench.write("Find a batch", "affin")
    bench.qtbot.waitUntil(lambda: not bench.page._pause.isActive())
    bench.settle()
    assert [row.clone for row in bench.page.model.rows] == ["D-1"]
    bench.write("Find a batch", "")
    bench.qtbot.waitUntil(lambda: not bench.page._pause.isActive())
    bench.settle()
    assert {row.clone for row in bench.page.model.rows} == {"D-1", "O-1"}
    press(bench.qtbot, bench.window, "Batches: Due")
    bench.settle()
    assert [row.clone for row in bench.page.model.rows] == ["O-1"]


def test_a_test_is_recorded_with_enter_from_count_to_count(bench: Bench, told: Told) -> None:
    bench.take_first()
    bench.write("Sown on", "2026-04-10")
    bench.write("Count 1, germinated", "62")
    for count in ("58", "61", "55"):
        bench.qtbot.keyClick(at(bench.window), Qt.Key.Key_Return)
        bench.qtbot.keyClicks(at(bench.window), count)
    bench.qtbot.keyClick(at(bench.window), Qt.Key.Key_Return)
    assert at(bench.window).accessibleName() == "On what"
    # Wilson 1927: 236 of 400, 95 %: 54 to 64 % (computed by hand from the formula)
    assert bench.page.form.result.text() == "= 59 % (236 of 400), likely 54 to 64 %"
    choose(bench.qtbot, bench.window, "Light", "Dark")
    bench.write("Temperature (°C)", "22.5")
    bench.write("Note", "first sieve")
    bench.keep()
    assert bench.errors() == {}
    (test,) = bench.tests()
    assert test.replicates == tuple(Replicate(100, count) for count in (62, 58, 61, 55))
    assert (test.sown_on, test.counted_on, test.vial_id) == (date(2026, 4, 10), TODAY, None)
    assert (test.medium, test.light, test.temperature, test.note) == ("Growing mix", "Dark", 22.5, "first sieve")
    assert told.infos[-1][0] == "Test recorded: 59 % (236 of 400), likely 54 to 64 %."
    said = bench.page.form.became.text()
    assert "The forecast is now 5" in said
    assert "below 20 %" in said
    assert bench.page.model.rows == []


def test_what_is_half_written_of_one_batch_waits_while_another_is_looked_at(bench: Bench, told: Told) -> None:
    first, second = bench.read(lambda bank: [batch.id for batch in queries.batches(bank)])
    form = bench.page.form
    bench.context.go("test", batch_id=first)
    bench.settle()
    choose(bench.qtbot, bench.window, "Spore from", "V-")
    bench.write("Sown on", "2026-04-10")
    press(bench.qtbot, bench.window, "Remove the last")
    bench.write("Count 1, germinated", "62")
    bench.write("Count 2, germinated", "5x")
    bench.write("On what", "Peat plug")
    vial = form.of.value()
    assert vial is not None
    bench.context.go("test", batch_id=second)
    bench.settle()
    assert form.aside.text().startswith("Half written and kept until you come back to it: ")
    assert ", clone " in form.aside.text()
    assert not form.counts.written
    assert form.medium.text() == "Growing mix"
    assert bench.page.half_written() == "A test"
    bench.context.go("test", batch_id=first)
    bench.context.go("test", batch_id=second)  # before what is to be read of the first has come
    bench.context.go("test", batch_id=first)
    bench.settle()
    assert not form.aside.isVisible()
    assert form.counts.texts() == (("62", "100"), ("5x", "100"), ("", "100"))
    assert (form.of.value(), form.sown_on.value(), form.medium.text()) == (vial, date(2026, 4, 10), "Peat plug")
    bench.write("Count 2, germinated", "58")
    bench.keep()
    assert bench.errors() == {}
    assert (Replicate(100, 62), Replicate(100, 58)) in [test.replicates for test in bench.tests()]
    assert bench.page.half_written() == ""


def test_one_vial_may_be_tested_by_more_counts_than_four(bench: Bench) -> None:
    bench.take_first()
    choose(bench.qtbot, bench.window, "Spore from", "V-")
    bench.write("Sown on", "2026-04-10")
    press(bench.qtbot, bench.window, "Remove the last")
    press(bench.qtbot, bench.window, "Remove the last")
    press(bench.qtbot, bench.window, "Add a count")
    assert at(bench.window).accessibleName() == "Count 3, germinated"
    bench.qtbot.keyClicks(at(bench.window), "0")
    bench.write("Count 3, looked at", "250")
    bench.write("Count 1, germinated", "4")
    bench.keep()
    (test,) = bench.tests()
    assert test.replicates == (Replicate(100, 4), Replicate(250, 0))
    assert test.vial_id is not None
    assert bench.page.form.counts.sizes() == [100, 100, 250]


def test_a_vial_that_something_befell_is_the_one_to_test(bench: Bench) -> None:
    """Its test alone settles what befell it, so it is chosen unless the keeper says otherwise."""
    bench.take_first()
    batch_id = bench.page.form.batch_id
    wet = bench.read(lambda bank: queries.batch_vials(bank, batch_id)[1].id)
    bench.context.do(lambda bank: mishaps.record(bank, [wet], MishapKind.WET, date(2026, 4, 1)))
    bench.settle()
    bench.context.go("test", batch_id=bench.read(lambda bank: queries.batches(bank, "D-1")[0].id))
    bench.settle()
    bench.context.go("test", batch_id=batch_id)
    bench.settle()
    assert bench.page.form.batch_id == batch_id
    assert "got wet on 1 Apr 2026" in bench.page.form.of.currentText()
    bench.write("Sown on", "2026-05-01")
    bench.write("Count 1, germinated", "4")
    bench.keep()
    assert [test.vial_id for test in bench.tests()] == [wet]


@pytest.mark.parametrize(
    ("wrong", "field", "says"),
    [
        ({"Count 1, germinated": "101"}, "replicates", "more than all"),
        ({"Count 1, germinated": ""}, "replicates", "at least one count"),
        ({"Count 1, germinated": "3.5"}, "replicates", "whole number"),
        ({"Count 1, looked at": ""}, "replicates", "of how many"),
        ({"Sown on": ""}, "sown_on", "Give the day"),
        ({"Sown on": "2013-01-01"}, "sown_on", "cannot have been sown before"),
        ({"Counted on": "2026-04-01"}, "counted_on", "cannot have been counted before"),
        ({"Counted on": (TODAY + timedelta(days=1)).isoformat()}, "counted_on", "still to come"),
        ({"Temperature (°C)": "220"}, "temperature", "does not germinate"),
    ],
)
def test_nonsense_is_refused_beside_its_field_and_nothing_is_lost(
    bench: Bench, wrong: dict[str, str], field: str, says: str
) -> None:
    bench.take_first()
    for name, text in {"Sown on": "2026-04-10", "Count 1, germinated": "50", "Note": "kept", **wrong}.items():
        bench.write(name, text)
    bench.keep()
    assert set(bench.errors()) == {field}
    assert says in bench.errors()[field]
    assert bench.tests() == []
    assert bench.page.form.note.text() == "kept"


def test_another_page_opens_the_test_of_a_batch_that_is_not_due(bench: Bench) -> None:
    (fresh,) = bench.read(lambda bank: queries.batches(bank, "affinis"))
    bench.context.go("test", batch_id=fresh.id)
    bench.settle()
    assert bench.page.form.batch_id == fresh.id
    assert "D-1" in bench.page.form.about.text()
    assert at(bench.window).accessibleName() == "Sown on"


def test_a_medium_of_ones_own_is_offered_next_time(bench: Bench, show: Show) -> None:
    bench.take_first()
    bench.write("Sown on", "2026-04-10")
    bench.write("Count 1, germinated", "5")
    bench.write("On what", "Peat pellet")
    bench.keep()
    assert bench.tests()[0].medium == "Peat pellet"
    again = TestPage(bench.context)
    show(again)
    bench.settle()
    assert again.form.medium.text() == "Peat pellet"
    assert again.form.medium.itemText(0) == "Peat pellet"


def test_half_a_count_survives_a_deed_elsewhere(bench: Bench) -> None:
    bench.take_first()
    bench.write("Count 2, germinated", "31")
    bench.context.do(lambda bank: stored(bank, "Blechnum spicant", clone=clone("B-1")))
    bench.settle()
    assert bench.page.form.counts.lines[1].germinated.line.text() == "31"


def test_every_letter_leads_to_one_thing(bench: Bench) -> None:
    bench.take_first()
    assert doubled_letters(bench.page) == []


def test_an_empty_bank_says_what_to_do_first(
    qtbot: QtBot, theme: Theme, make_context: Make, show: Show, settle: Settle
) -> None:
    bench = Bench(qtbot, make_context(), settle, show)
    assert bench.page.empty.isVisible()
    assert "Store a batch first" in bench.page.empty.text.text()


def test_a_batch_asked_for_by_name_is_listed_but_not_counted_as_due(bench: Bench) -> None:
    fresh = bench.read(lambda bank: queries.batches(bank, "affin")[0].id)
    bench.page.context.go("test", batch_id=fresh)
    bench.settle()
    assert {row.clone for row in bench.page.model.rows} == {"O-1", "D-1"}
    assert bench.page.counts.text() == "1 batch is due."
