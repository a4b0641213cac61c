from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sporebank.core import advice
from sporebank.core.advice import Lines
from sporebank.core.records import Advice, Share, State
from sporebank.core.settings import Settings

LINES = Lines(alive=0.5, spent=0.2)
TODAY = date(2026, 3, 14)


@pytest.mark.parametrize(
    ("middle", "state"),
    [(0.9, State.ALIVE), (0.5, State.ALIVE), (0.49, State.FADING), (0.2, State.FADING), (0.19, State.SPENT)],
)
def test_the_middle_of_the_band_gives_the_word(middle, state):
    assert advice.state(Share(0.0, middle, 1.0), LINES) is state


def test_what_is_not_modelled_has_no_word():
    assert advice.state(None, LINES) is State.UNKNOWN


@pytest.mark.parametrize(
    ("share", "text"),
    [(0.0, "0 %"), (1.0, "100 %"), (0.009, "under 1 %"), (0.01, "1 %"), (0.61, "61 %"), (0.999, "over 99 %")],
)
def test_the_ends_are_never_claimed(share, text):
    assert advice.percent(share) == text


@pytest.mark.parametrize(
    ("last_test", "wanted", "word"),
    [
        (None, Advice.TEST, "without any test"),
        (date(2025, 3, 13), Advice.TEST, "13 Mar 2025"),
        (date(2025, 3, 14), Advice.CULL, "takes in the test of"),
        (TODAY, Advice.CULL, "takes in the test of"),
    ],
)
def test_without_a_young_test_the_advice_is_to_test_first(last_test, wanted, word):
    what, why = advice.cull(0.97, 0.2, last_test, TODAY, 365)
    assert what == wanted
    assert word in why
    assert why.startswith("With 97 % chance it is below 20 % alive")


def test_near_certainty_is_said_in_words():
    assert advice.cull(0.998, 0.2, TODAY, TODAY, 365)[1].startswith("It is almost certainly below 20 % alive")


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [(0.52, 0.69, "52 to 69 %"), (1e-9, 0.03, "under 1 to 3 %"), (0.001, 0.002, "under 1 %"), (0.0, 1.0, "0 to 100 %")],
)
def test_a_band_in_percent(low, high, said):
    assert advice.span(low, high) == said


def vial(**more):
    """A vial in good order, but for what is said."""
    usual = {
        "share": Share(0.6, 0.7, 0.8),
        "chance_below": 0.01,
        "crosses": date(2031, 5, 1),
        "empty": False,
        "clone_left": 30_000,
        "last_of_clone": False,
        "last_test": date(2026, 1, 10),
        "green": False,
    }
    return advice.Situation(**{**usual, **more})


PAST = {"share": Share(0.0, 0.05, 0.1), "chance_below": 0.99, "crosses": date(2024, 5, 1)}


@pytest.mark.parametrize(
    ("more", "what", "why"),
    [
        ({}, Advice.KEEP, "above 20 % until 2031"),
        ({"crosses": None}, Advice.KEEP, "not fall below 20 % in a long time"),
        ({"empty": True}, Advice.CULL, "Nothing is left"),
        (PAST, Advice.CULL, "takes in the test of 10 Jan 2026"),
        ({**PAST, "last_test": None}, Advice.TEST, "without any test"),
        ({**PAST, "last_of_clone": True}, Advice.COLLECT, "No vial of its clone is better: collect again"),
        ({**PAST, "unsettled": "got wet on 3 May 2025"}, Advice.TEST, "It got wet on 3 May 2025"),
        ({"share": Share(0.05, 0.4, 0.8), "chance_below": 0.2, "last_test": None}, Advice.TEST, "never tested"),
        ({"share": Share(0.05, 0.4, 0.8), "chance_below": 0.2}, Advice.TEST, "its tests leave that open"),
        ({"clone_left": 1_500, "last_of_clone": True}, Advice.COLLECT, "Only 1.5 mg of its clone is left"),
        ({"share": Share(0.3, 0.4, 0.5), "last_of_clone": True}, Advice.COLLECT, "About 40 % alive"),
        ({"crosses": date(2026, 12, 1)}, Advice.SOW, "by 1 Dec 2026: sow it before its sisters"),
        ({"crosses": date(2026, 1, 1)}, Advice.SOW, "has likely fallen below 20 % by now"),
        ({"crosses": date(2026, 3, 26), "green": True}, Advice.SOW, "likely within 12 days"),
        ({"crosses": TODAY, "green": True}, Advice.SOW, "today or tomorrow"),
        ({"crosses": date(2026, 3, 1), "green": True}, Advice.SOW, "likely by now"),
        ({"crosses": date(2026, 6, 1), "green": True, "share": Share(0.05, 0.5, 0.9)}, Advice.SOW, "within 79 days"),
        ({"crosses": date(2039, 10, 1), "green": True}, Advice.KEEP, "above 20 % until 2039"),
        ({"share": None, "chance_below": None, "crosses": None}, Advice.KEEP, "tested not long ago"),
        ({"share": None, "chance_below": None, "crosses": None, "last_test": None}, Advice.TEST, "only a test tells"),
    ],
)
def test_advice_and_its_reason_go_together(more, what, why):
    situation = vial(**more)
    assert advice.advise(situation, Settings(), TODAY) is what
    assert why in advice.reason(situation, Settings(), TODAY)


@given(
    st.builds(
        vial,
        share=st.tuples(*[st.floats(0, 1)] * 3).map(lambda three: Share(*sorted(three))),
        chance_below=st.floats(0, 1),
        crosses=st.none() | st.dates(date(2010, 1, 1), date(2090, 1, 1)),
        empty=st.booleans(),
        clone_left=st.integers(0, 90_000),
        last_of_clone=st.booleans(),
        last_test=st.none() | st.dates(date(2010, 1, 1), TODAY),
        green=st.booleans(),
        unsettled=st.sampled_from(["", "got hot on 1 Jan 2026"]),
    )
)
def test_every_vial_gets_one_advice_and_a_whole_sentence(situation):
    """Whoever is told to collect or sow is told so in the reason; nobody culls what may be alive."""
    what, why = advice.advise(situation, Settings(), TODAY), advice.reason(situation, Settings(), TODAY)
    assert why.endswith(".")
    assert ("collect again" in why) == (what is Advice.COLLECT)
    assert ("ow it" in why) == (what is Advice.SOW)
    if what is Advice.CULL:
        assert situation.empty or situation.chance_below >= Settings().cull_chance
        assert situation.empty or not situation.unsettled
