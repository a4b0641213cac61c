from datetime import date

import pytest

from sporebank.core import advice
from sporebank.core.advice import Lines
from sporebank.core.records import Advice, Share, State

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
    assert why.startswith("It is with 97 % chance below 20 % alive")


def test_near_certainty_is_said_in_words():
    assert advice.cull(0.998, 0.2, TODAY, TODAY, 365)[1].startswith("It is almost certainly below 20 % alive")
