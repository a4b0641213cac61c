import re
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sporebank.core.order_paper import ALTERNATIVE_BOXES, MOST_BOXES, USUAL_BOXES, EmptyForm, FormLine
from sporebank.core.orders import Alternatives, Rules
from sporebank.documents.order_form import render
from tests.documents.examples import NAMES, fonts_used, pictures, text_of

FORM = EmptyForm(
    "The Alder Carr spore bank",
    "Spring round 2027",
    date(2027, 1, 1),
    date(2027, 3, 31),
    Rules(),
    tuple(FormLine(number, name, 2000) for number, name in enumerate(NAMES, 1)),
    "Alder Carr\n12 Fen Lane",
)


def form(**rules):
    return replace(FORM, rules=Rules(**rules))


def test_a_form_of_twenty_boxes_and_fifteen_alternatives_is_one_page():
    """A one-page form with 20 boxes and 15 for alternatives; common practice, no source (trade facts, story 3)."""
    printed = render(form(cap=20, alternatives=Alternatives.RANKED, line_cap=1))
    read = text_of(printed)
    assert len(pictures(printed, 20)) == 1
    assert re.search(r"\b19\s+20\s+Alternatives", read)
    assert re.search(r"\bn\s+o\b", read)
    for told in (
        "Spring round 2027", "Out from 1 Jan 2027", "must be here by 31 Mar 2027", "12 Fen Lane", "Name", "E-mail",
        "I gave spore", "I helped with it", "You may ask for 20 packets.", "Of one number you may have 1 packet.",
        "In the order in which you would like them.",
    ):  # fmt: skip
        assert told in read
    assert "7x2" not in read
    assert "donors and helpers only" not in read


def test_donors_and_helpers_have_boxes_of_their_own():
    read = text_of(render(form(cap=23, extra=7, limited_cap=3)))
    assert "You may ask for 23 packets, donors and helpers 7 more." in read
    assert re.search(r"For donors and helpers only\s+24\s+25\s+26\s+27\s+28\s+29\s+30", read)
    assert "limited stock together you may have 3 packets" in read
    assert "Alternatives" not in read


def test_an_alternative_beside_each_line_has_its_box():
    read = text_of(render(form(cap=20, alternatives=Alternatives.PER_LINE)))
    assert len(re.findall(r"\bor\b", read)) == 20
    assert "beside it" in read
    assert form(alternatives=Alternatives.PER_LINE).alternative_boxes == 0


@settings(max_examples=15, deadline=None)
@given(
    cap=st.none() | st.integers(1, 2000), extra=st.integers(0, 2000), alternatives=st.sampled_from(Alternatives),
    send_to=st.lists(st.sampled_from(["12 Fen Lane", "Alder Carr"]), max_size=5).map("\n".join),
)  # fmt: skip
def test_whatever_the_rules_it_is_two_pages_at_most(cap, extra, alternatives, send_to):
    asked = replace(form(cap=cap, extra=extra, alternatives=alternatives), send_to=send_to)
    assert 1 <= asked.boxes + asked.extra_boxes <= MOST_BOXES
    assert asked.boxes == (USUAL_BOXES if cap is None else min(cap, MOST_BOXES))
    assert asked.alternative_boxes in (0, ALTERNATIVE_BOXES)
    assert len(pictures(render(asked), 20)) <= 2


def test_a_standing_list_is_open_all_year():
    assert "Open all year" in text_of(render(replace(FORM, closes=None, send_to="")))
    assert "Send it to" not in text_of(render(replace(FORM, send_to=" ")))


@pytest.mark.parametrize("alternatives", Alternatives)
def test_the_form_is_stable_and_its_fonts_are_in_it(alternatives):
    printed = render(form(cap=20, alternatives=alternatives))
    assert printed == render(form(cap=20, alternatives=alternatives))
    assert all(embedded for _, embedded in fonts_used(printed))
