"""What lies behind a forecast: where spore lay at first, what befell it, its sources, and the rule of testing."""

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sporebank.core import forecast_words, viability
from sporebank.core.records import Before, Mishap, MishapKind, SporeClass
from sporebank.core.viability import NOTHING_LENT, Case, History, Sister, TestRule, forecast, forecast_many, kin
from tests.core.test_viability import CASES, COLLECTED, SLACK, START, STORAGE, after, evidence, foresee, stays


def test_where_spore_lay_at_first_counts_and_not_to_know_it_widens_the_band():
    """A year before it came: better in a fridge than in a room; not known lies between, and says so."""
    came = stays((400, 4.0))
    shares = {
        before: forecast((), History(COLLECTED, came, before), SporeClass.NON_GREEN, STORAGE, after(800))
        for before in Before
    }
    room, fridge, unknown = (shares[each].share for each in (Before.ROOM, Before.FRIDGE, Before.UNKNOWN))
    assert room.middle < unknown.middle < fridge.middle
    assert unknown.high - unknown.low > fridge.high - fridge.low
    assert unknown.low < fridge.low
    assert forecast_words.SOMEWHERE in shares[Before.UNKNOWN].cautions
    assert forecast_words.SOMEWHERE not in shares[Before.ROOM].cautions


@pytest.mark.parametrize("kind", list(MishapKind))
def test_what_befell_spore_is_a_caution_and_no_arithmetic(kind):
    """Wet storage, freezing and thawing, and heat can each kill outright: no model of slow ageing knows of them."""
    plain = History(COLLECTED, stays((10, 4.0)))
    befallen = replace(plain, mishaps=(Mishap(after(300), kind),))
    calm, warned = (forecast((), each, SporeClass.NON_GREEN, STORAGE, after(500)) for each in (plain, befallen))
    assert warned.share == calm.share
    assert kind.value in warned.cautions[0]
    assert not calm.cautions
    test = evidence(400, 50, 100, (10, 4.0))
    sister = forecast((test,), befallen, SporeClass.NON_GREEN, STORAGE, after(500))
    assert kind.value in sister.cautions[0], "a test of a vial that nothing befell settles nothing"
    assert sister.next_test == after(300)
    tested = (replace(test, befell=befallen.mishaps),)
    assert kind.value not in " ".join(forecast(tested, befallen, SporeClass.NON_GREEN, STORAGE, after(500)).cautions)


def test_each_source_that_there_is_narrows_the_band():
    lay = stays((10, 4.0))
    own = (evidence(400, 80, 100, (10, 4.0)), evidence(900, 70, 100, (10, 4.0)))
    theirs = (evidence(300, 85, 100, (10, 4.0)), evidence(1500, 60, 100, (10, 4.0)))
    sister = Sister(theirs, COLLECTED, SporeClass.NON_GREEN)
    lent, _ = kin({"own": Sister(own, COLLECTED, SporeClass.NON_GREEN), "sister": sister}, STORAGE)
    case = Case(own, History(COLLECTED, lay), SporeClass.NON_GREEN, lent["own"])
    found = viability.contributions(case, STORAGE, after(1500))
    assert [each.source for each in found] == ["class", "kin", "tests"]
    widths = [each.share.high - each.share.low for each in found]
    assert widths == sorted(widths, reverse=True)
    whole = forecast_many([case], STORAGE, after(1500))[0].share
    assert found[-1].share == whole
    alone = viability.contributions(replace(case, evidence=(), lent=NOTHING_LENT), STORAGE, after(1500))
    assert [each.source for each in alone] == ["class"]
    too_cold = replace(case, history=History(COLLECTED, stays((10, -80.0))))
    assert viability.contributions(too_cold, STORAGE, after(1500)) == ()


@settings(max_examples=40, deadline=None)
@given(CASES, st.floats(0.02, 0.9))
def test_by_the_rule_of_chance_a_test_is_due_when_the_chance_is_reached(case, chance):
    """Not within a month of the last test, and within a year of storing where there is none."""
    found = forecast_many([case], STORAGE, after(3000), line=0.2, rule=TestRule(chance))[0]
    if case.evidence:
        month = max(test.on for test in case.evidence) + timedelta(days=30)
        if found.next_test is None:
            return
        assert found.next_test >= month
        if found.next_test > month:
            assert foresee(case, (found.next_test - START).days + 1).chance_below >= chance - SLACK
    else:
        stored = min((stay.since for stay in case.history.stays), default=case.history.collected.last())
        assert found.next_test <= stored + timedelta(days=365)
