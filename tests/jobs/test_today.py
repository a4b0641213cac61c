"""Today: what cannot wait, the most pressing first."""

from datetime import date, timedelta

import pytest

from sporebank.bank import queries
from sporebank.core.dates import PartDate
from sporebank.core.records import Contact, SporeClass
from sporebank.core.settings import Settings
from sporebank.jobs import figures, sharing
from sporebank.jobs.culling import cull
from sporebank.jobs.settings import change_settings
from sporebank.jobs.today import SEASON, agenda
from tests.builders import TODAY, clone, counted, fridge, stored
from tests.jobs.test_sharing_round import ask, opened, shared


def green(bank):
    fields = {"clone": clone("O-1"), "spore_class": SporeClass.GREEN, "stored_on": date(2026, 2, 10)}
    return stored(bank, "Osmunda regalis", collected=PartDate(2026, 2, 1), **fields)


def test_an_empty_bank_has_nothing_due(bank):
    assert not any(agenda(bank).waiting().values())


def test_green_spore_that_is_about_to_expire_is_shown(bank, clock):
    fridge(bank)
    batch = green(bank)
    crosses = queries.vial_row(bank, batch.vial_ids[0]).crosses
    for days, kinds in ((15, []), (14, ["green"]), (1, ["green"]), (0, ["late"]), (-14, ["late"]), (-15, [])):
        clock.day = crosses - timedelta(days=days)
        figures.refresh_all(bank)
        assert [due.kind for due in agenda(bank).green] == kinds, days
    clock.day = crosses - timedelta(days=5)
    figures.refresh_all(bank)
    (due,) = agenda(bank).green
    assert (due.kind, due.who, due.vials, due.batch_id) == ("green", "O-1", 3, batch.batch_id)
    assert due.day == crosses


def test_green_spore_that_is_for_the_cull_is_no_longer_called_late(bank, clock):
    fridge(bank)
    batch = green(bank)
    clock.day = queries.vial_row(bank, batch.vial_ids[0]).crosses + timedelta(days=10)
    figures.refresh_all(bank)
    shown = agenda(bank)
    assert ([due.day for due in shown.green], shown.to_cull) == ([clock.day - timedelta(days=10)], 0)
    counted(bank, batch.batch_id, 0, 400, on=clock.day)
    change_settings(bank, Settings(green_days=120))
    shown = agenda(bank)
    assert (shown.green, shown.to_cull) == ((), 3)


def test_how_early_green_spore_warns_is_the_keepers(bank, clock):
    fridge(bank)
    batch = green(bank)
    clock.day = queries.vial_row(bank, batch.vial_ids[0]).crosses - timedelta(days=20)
    figures.refresh_all(bank)
    assert agenda(bank).green == ()
    change_settings(bank, Settings(green_days=30))
    assert len(agenda(bank).green) == 1


def test_vials_that_cross_the_line_this_season_are_shown_once_and_green_ones_apart(bank, clock):
    fridge(bank)
    batch = stored(bank)
    crosses = queries.vial_row(bank, batch.vial_ids[0]).crosses
    for days, shown in ((SEASON + 1, 0), (SEASON, 1), (1, 1)):
        clock.day = crosses - timedelta(days=days)
        figures.refresh_all(bank)
        assert [due.day for due in agenda(bank).crossing] == [crosses] * shown
        assert agenda(bank).green == ()


def test_a_test_falls_due_and_is_done(bank, clock):
    fridge(bank)
    batch = stored(bank)
    due = queries.tests_due(bank, TODAY + timedelta(days=3_000))[0].day
    clock.day = due - timedelta(days=1)
    assert agenda(bank).tests == ()
    clock.day = due
    (line,) = agenda(bank).tests
    assert (line.day, line.vials, line.batch_id) == (due, 3, batch.batch_id)
    counted(bank, batch.batch_id, 290, 300, on=due)
    assert agenda(bank).tests == ()


def test_what_is_spent_waits_for_the_cull_not_for_a_test(bank, clock):
    """While its test is young; with an old one the advice of the cull is to test first, so a test is due."""
    fridge(bank)
    batch = stored(bank)
    counted(bank, batch.batch_id, 1, 300)
    clock.day = TODAY + timedelta(days=4_000)
    figures.refresh_all(bank)
    assert [due.batch_id for due in agenda(bank).tests] == [batch.batch_id]
    counted(bank, batch.batch_id, 0, 100, on=clock.day)
    shown = agenda(bank)
    assert (shown.tests, shown.to_cull, shown.waiting()["cull"]) == ((), 3, 3)
    cull(bank, batch.vial_ids, clock.day)
    assert not any(agenda(bank).waiting().values())


@pytest.mark.parametrize("reverse", [False, True])
def test_requests_wait_the_oldest_first_until_they_are_sent(bank, reverse):
    fridge(bank)
    batch = stored(bank)
    wish = sharing.Wish(1, 1_000, clone_id=queries.batch(bank, batch.batch_id).clone.id)
    days = sorted([date(2026, 1, 5), date(2026, 2, 6)], reverse=reverse)
    ids = {}
    for day in days:
        contact = sharing.save_contact(bank, Contact(0, f"Friend of {day.month}"))
        ids[day] = sharing.add_request(bank, sharing.RequestForm(contact, day, (wish,)))
    assert [(due.day, due.request_id) for due in agenda(bank).requests] == sorted(ids.items())
    first = ids[min(days)]
    sharing.keep_fill(bank, first, sharing.propose(bank, first))
    assert len(agenda(bank).requests) == 2
    sharing.dispatch(bank, first, TODAY)
    assert [due.who for due in agenda(bank).requests] == ["Friend of 2"]


def test_an_emptied_vial_is_no_work(bank, clock):
    fridge(bank)
    batch = stored(bank)
    clock.day = queries.vial_row(bank, batch.vial_ids[0]).crosses - timedelta(days=5)
    figures.refresh_all(bank)
    assert len(agenda(bank).crossing) == 1
    cull(bank, batch.vial_ids, clock.day)
    assert agenda(bank).crossing == ()


def test_orders_wait_to_be_shared_out_once_no_more_can_come(bank, clock):
    number = opened(bank)
    ask(bank, number, "Ida Brekke", (1,))
    assert agenda(bank).waiting()["exchange"] == 0  # wishes may still come
    clock.day = date(2026, 5, 1)
    assert agenda(bank).to_share == 1
    shared(bank, number)
    assert agenda(bank).to_share == 0
