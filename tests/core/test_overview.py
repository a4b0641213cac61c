"""The bank in one look: years as columns, vials looked at together, and sentences."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sporebank.core import naming, overview
from sporebank.core.advice import Lines
from sporebank.core.overview import Held, LastVial, Renewal, Totals, Urgency
from sporebank.core.records import Share, State

LINES = Lines(alive=0.5, spent=0.2)
NAME = naming.parse("Dryopteris affinis")
YEARS = st.lists(st.integers(1950, 2030), max_size=40)


def held(year=2019, vials=2, left=1_000, share=0.5, unmodelled=0):
    modelled = 0 if share is None else left
    return Held(year, vials, left, modelled, modelled * (share or 0.0), vials if share is None else unmodelled)


HELDS = st.builds(
    held, vials=st.integers(1, 99), left=st.integers(1, 10**9), share=st.none() | st.floats(0, 1)
)  # fmt: skip


@given(YEARS, st.integers(1, 12))
def test_every_year_stands_in_one_column_and_no_more_columns_than_fit(years, most):
    found = overview.spans(years, max(most, 2))
    assert len(found) <= max(most, 2)
    assert [year for span in found for year in span.years] == sorted(set(years), reverse=True)
    assert all(len(span.years) == 1 for span in found[:-1])


def test_the_oldest_years_stand_together_only_where_there_are_more_than_fit():
    assert [span.title for span in overview.spans([2014, 2011, 2012], 3)] == ["2014", "2012", "2011"]
    assert [span.title for span in overview.spans([2014, 2009, 2011, 2012], 3)] == ["2014", "2012", "before 2012"]
    assert overview.spans([], 3) == ()


@given(st.lists(HELDS, min_size=1, max_size=12))
def test_vials_looked_at_together_weigh_as_much_as_they_do_apart(parts):
    whole = overview.together(parts)
    assert whole.vials == sum(part.vials for part in parts)
    assert whole.left == sum(part.left for part in parts)
    known = [part for part in parts if part.share is not None]
    if not known:
        assert whole.share is None
        return
    weights = [part.left for part in known]
    mean = sum(part.share * weight for part, weight in zip(known, weights, strict=True)) / sum(weights)
    assert whole.share == pytest.approx(mean, rel=1e-9, abs=1e-12)
    assert min(part.share for part in known) - 1e-9 <= whole.share <= max(part.share for part in known) + 1e-9


def test_the_weakest_year_is_the_least_alive_of_those_that_are_modelled():
    parts = [held(2012, share=None), held(2015, share=0.3), held(2019, share=0.9)]
    row = overview.shares(7, NAME, parts)
    assert row.weakest == parts[1]
    assert row.whole.share == pytest.approx(0.6)
    assert overview.shares(7, NAME, parts[:1]).weakest is None
    own, older = overview.spans([2012, 2015, 2019], 2)
    assert overview.within(row, own) == parts[2]
    assert overview.within(row, older) == overview.together(parts[:2])
    assert overview.within(row, overview.Span("2001", (2001,))) is None


def test_cells_sort_from_the_least_alive_to_what_is_not_modelled_to_none_at_all():
    cells = [None, held(share=None), held(share=0.9), held(share=0.01)]
    assert [cells.index(cell) for cell in sorted(cells, key=overview.rank)] == [3, 2, 1, 0]


@pytest.mark.parametrize(("share", "state"), [(None, "unknown"), (0.5, "alive"), (0.49, "fading"), (0.19, "spent")])
def test_a_mean_has_the_word_of_its_share(share, state):
    assert overview.tone(share, LINES) == State(state)


def test_what_stands_in_a_cell_is_said_in_full():
    assert overview.held_words(held(vials=12, left=40_000, share=0.61)) == (
        "61 % alive on average by weight, 12 vials, 40 mg left"
    )
    assert overview.held_words(held(vials=1, share=0.004)) == "under 1 % alive, 1 vial, 1 mg left"
    assert overview.held_words(held(share=None)) == "not modelled, only tests tell, 2 vials, 1 mg left"
    mixed = Held(2019, 3, 1_000, 600, 300.0, 1)
    assert overview.held_words(mixed) == "50 % alive on average by weight, 3 vials, 1 mg left, 1 of them not modelled"
    assert overview.held_words(None) == "none"


def test_a_share_in_few_characters_never_reads_as_nothing_or_all():
    assert [overview.short_share(share) for share in (None, 0.0, 0.004, 0.61, 0.999, 1.0)] == [
        "?", "0 %", "<1 %", "61 %", ">99 %", "100 %",
    ]  # fmt: skip


def renewal(urgency=Urgency.SOON, day=date(2026, 11, 3), best=0.62, vials=3, unmodelled=0):
    return Renewal(1, "AS-3", NAME, vials, unmodelled, 2_000, best, day, urgency)


@pytest.mark.parametrize(
    ("one", "sentence"),
    [
        (renewal(), "The best of its 3 vials is 62 % alive; the last falls below 20 % about Nov 2026."),
        (renewal(vials=1), "Its one vial is 62 % alive, and falls below 20 % about Nov 2026."),
        (
            renewal(Urgency.PAST, date(2021, 3, 9), 0.08, 2),
            "The best of its 2 vials is 8 % alive; the last fell below 20 % about Mar 2021.",
        ),
        (renewal(Urgency.PAST, None, 0.08, 1), "Its one vial is 8 % alive, below 20 %."),
        (renewal(Urgency.LATER, None, 0.41, 1), "Its one vial is 41 % alive, below 50 %."),
        (
            renewal(vials=3, unmodelled=2),
            "One vial is 62 % alive, and falls below 20 % about Nov 2026. 2 more vials are not modelled: test them.",
        ),
        (
            renewal(Urgency.LATER, None, vials=3, unmodelled=1),
            "The best of its 2 vials is 62 % alive, below 50 %. 1 more vial is not modelled: test it.",
        ),
    ],
)
def test_why_a_clone_is_to_be_renewed(one, sentence):
    assert overview.why(one, LINES) == sentence


def test_what_is_yet_to_be_lost_comes_first_then_the_latest_lost():
    order = [
        renewal(Urgency.SOON, date(2026, 6, 1)),
        renewal(Urgency.SOON, date(2026, 11, 3)),
        renewal(Urgency.PAST, date(2026, 2, 1)),
        renewal(Urgency.PAST, date(2011, 2, 1)),
        renewal(Urgency.PAST, None),
        renewal(Urgency.LATER, date(2029, 1, 1)),
        renewal(Urgency.LATER, None),
    ]
    assert [order.index(one) for one in sorted(set(order), key=overview.turn)] == list(range(7))
    assert [overview.deed(one) for one in order[1:6:2]] == [
        "Sow it, or collect again", "Collect again", "Plan to collect again",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("middle", "state", "sentence"),
    [
        (0.31, State.FADING, "The last vial of AS-3: 31 % alive, 2 mg left. Collect again or sow it."),
        (0.08, State.SPENT, "The last vial of AS-3: 8 % alive, 2 mg left. Collect again."),
        (
            0.9,
            State.ALIVE,
            "The last vial of AS-3: 90 % alive, 2 mg left. Sow it, or collect again before it is used up.",
        ),
        (None, State.UNKNOWN, "The last vial of AS-3: not modelled, 2 mg left. Collect again or sow it."),
    ],
)
def test_what_to_do_about_a_last_vial(middle, state, sentence):
    share = None if middle is None else Share(0.0, middle, 1.0)
    assert overview.last_words(LastVial(1, "V", "AS-3", NAME, 2_000, share, state)) == sentence


def test_totals_are_said_in_one_line_and_add_up():
    totals = Totals(1_204, 310, 1, 1_000, 100, 60)
    assert overview.in_all(totals) == "1,204 vials with spore, of 310 clones in 1 taxon."
    assert overview.in_all(Totals(1, 1, 2, 1, 0, 0)) == "1 vial with spore, of 1 clone in 2 taxa."
    assert totals.states()[State.UNKNOWN] == 44
    assert sum(totals.states().values()) == 1_204
