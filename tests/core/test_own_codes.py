"""The next code in the keeper's own pattern."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sporebank.core.own_codes import next_code


@pytest.mark.parametrize(
    ("codes", "expected"),
    [
        ([], "C-01"),
        (["the old plant"], "C-01"),
        (["c-01", "x"], "c-02"),
        (["C-9", "C-10", "C-13"], "C-14"),
        (["K-009"], "K-010"),
        (["G-1", "G-2", "W-7"], "G-3"),
        (["G-1", "W-7"], "W-8"),
        (["2019/4a", "2019/5a"], "2019/6a"),
        (["12", "13", "C-1"], "14"),
        (["C-7", "C-08", "c-9"], "C-09"),
        (["C-8", "C-7", "c-9"], "C-10"),
    ],
)
def test_the_next_code_follows_the_pattern_met_most_often(codes, expected):
    assert next_code(codes) == expected


@given(st.lists(st.text(alphabet="ABc-0123456789 ", max_size=6), max_size=12))
def test_a_proposed_code_is_never_taken(codes):
    assert next_code(codes).casefold() not in {code.strip().casefold() for code in codes}
