"""What may be given away of a clone."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from sporebank.core.dates import PartDate
from sporebank.core.names import parse
from sporebank.core.records import Permission, Share, SporeClass
from sporebank.core.surplus import HELD, RELEASED, Bar, Lying, Stock, chance_alive, own_use, surplus

SHIPS = date(2027, 1, 20)
BAR = Bar(0.5, 0.5, SHIPS)
FRESH = Share(0.7, 0.8, 0.9)


AUGUST = PartDate(2026, 8)


def vial(number: int, free: int = 10_000, collected: PartDate = AUGUST, **more: object) -> Lying:
    fields = {"share": FRESH, "chance": chance_alive(FRESH, 0.5), "spore_class": SporeClass.NON_GREEN, **more}
    return Lying(number, collected, free=free, **fields)  # type: ignore[arg-type]  # fields by name


def stock(*vials: Lying, **more: object) -> Stock:
    fields = {"permission": Permission.YES, "packet_ug": 2_000, "reserve_ug": 5_000, **more}
    return Stock(1, "C-01", 1, parse("Dryopteris affinis"), vials=vials, **fields)  # type: ignore[arg-type]  # by name


def test_the_oldest_goes_first_and_one_whole_vial_stays() -> None:
    found = surplus(stock(vial(1), vial(2), vial(3)), BAR)
    assert (found.packets, found.drawn) == (10, ((1, 5), (2, 5)))
    assert found.reasons == ()


def test_the_vial_that_stays_is_the_one_most_alive() -> None:
    better = Share(0.8, 0.9, 0.95)
    found = surplus(stock(vial(1, share=better, chance=1.0), vial(2)), BAR)
    assert found.drawn == ((2, 5),)


def test_own_use_and_reserve_are_kept_back() -> None:
    found = surplus(stock(vial(1), vial(2), own_ug=9_000), BAR)
    assert (found.packets, found.spare_ug) == (3, 6_000)  # 20 mg less 9 for own use and 5 in reserve


def test_the_last_vial_stays_unless_the_clone_is_released() -> None:
    last = stock(vial(1))
    assert surplus(last, BAR).packets == 0
    assert "only vial" in surplus(last, BAR).reasons[-1]
    assert surplus(replace(last, held=RELEASED), BAR).packets == 5


@pytest.mark.parametrize("permission", [Permission.NO, Permission.ASK, Permission.UNKNOWN])
def test_without_permission_nothing_goes(permission: Permission) -> None:
    found = surplus(stock(vial(1), vial(2), permission=permission), BAR)
    assert found.packets == 0
    assert found.reasons


def test_what_is_held_back_by_hand_stays() -> None:
    found = surplus(stock(vial(1), vial(2), held=HELD), BAR)
    assert (found.packets, found.reasons[0]) == (0, "Held back by hand.")


@pytest.mark.parametrize(
    ("odd", "words"),
    [
        (vial(1, complaint="misnamed"), "1 vial reported misnamed, not settled yet."),
        (vial(1, unsettled="got wet on 3 May 2026"), "1 vial got wet on 3 May 2026, not tested since."),
        (vial(1, share=None, chance=None), "1 vial not modelled, go by tests."),
        (vial(1, chance=0.49), "1 vial likely below 50 % alive on 20 Jan 2027."),
        (vial(1, spore_class=SporeClass.GREEN), "1 vial older than 48 days on 20 Jan 2027."),
    ],
)
def test_a_vial_in_doubt_stays_and_says_why(odd: Lying, words: str) -> None:
    found = surplus(stock(odd, vial(2), vial(3)), BAR)
    assert 1 not in dict(found.drawn)
    assert words in found.reasons


def test_a_taxon_may_be_listed_from_the_last_season_alone() -> None:
    """One genus of a society's list is offered from the last crop only (common practice, no source)."""
    old, new = vial(1, collected=PartDate(2025, 8)), vial(2)
    found = surplus(stock(old, new, vial(3), young_days=365), BAR)
    assert set(dict(found.drawn)) == {2}


def test_a_year_alone_counts_from_its_first_day() -> None:
    assert surplus(stock(vial(1, collected=PartDate(2026)), vial(2), vial(3), young_days=380), BAR).drawn == ((2, 5),)


def clones(*vials: tuple[Lying, ...], own_ug: int) -> list[Stock]:
    return [replace(stock(*some, own_ug=own_ug), clone_id=number) for number, some in enumerate(vials, start=1)]


def test_the_own_use_of_a_taxon_is_kept_once_in_the_clone_with_most_good_spore() -> None:
    dead = vial(4, free=90_000, chance=0.1)
    some = clones((vial(1),), (vial(2), vial(3)), (dead,), own_ug=8_000)
    assert own_use(some, {}, BAR) == {1: 0, 2: 8_000, 3: 0}
    assert own_use(some[::-1], {}, BAR) == own_use(some, {}, BAR)
    assert own_use(clones((vial(1),), (vial(2),), own_ug=8_000), {}, BAR) == {1: 8_000, 2: 0}  # the first of equals
    assert own_use(clones((vial(1),), (vial(2), vial(3)), own_ug=25_000), {}, BAR) == {1: 5_000, 2: 20_000}


def test_packets_held_back_do_not_move_the_own_use_to_another_clone() -> None:
    some = clones((vial(1, free=6_000),), (vial(2, free=2_000), vial(3, free=1_000)), own_ug=2_500)
    assert own_use(some, {2: 8_000}, BAR) == {1: 0, 2: 2_500}
    assert own_use(some, {2: 8_000, 1: 8_000}, BAR) == {1: 2_500, 2: 0}


@given(st.lists(st.integers(0, 20_000), min_size=1, max_size=5), st.integers(0, 50_000), st.integers(0, 20_000))
def test_the_own_use_of_a_taxon_is_kept_as_far_as_there_is_spore(free: list[int], own: int, held: int) -> None:
    some = clones(*((vial(number, amount),) for number, amount in enumerate(free)), own_ug=own)
    kept = own_use(some, {0: held}, BAR)
    assert sum(kept.values()) == min(own, sum(free))
    assert all(0 <= kept[one.clone_id] <= one.vials[0].free for one in some)


@given(st.floats(0.02, 0.98), st.floats(0.05, 0.95), st.floats(0.05, 3.0))
def test_the_chance_is_that_of_a_normal_distribution_of_probits(middle: float, line: float, spread: float) -> None:
    """Against scipy.stats.norm, where the three points are those of one normal distribution."""
    low, mid, high = norm.cdf(norm.ppf(middle) + spread * norm.ppf([0.05, 0.5, 0.95]))
    found = chance_alive(Share(low, mid, high), line)
    assert found == pytest.approx(norm.sf((norm.ppf(line) - norm.ppf(middle)) / spread), abs=2e-4)


@given(
    st.lists(st.integers(1, 40_000), min_size=1, max_size=6),
    st.integers(0, 20_000),
    st.integers(0, 20_000),
    st.integers(1, 9_000),
)
def test_reserve_own_use_and_the_last_vial_are_never_touched(
    free: list[int], own: int, reserve: int, packet: int
) -> None:
    here = stock(
        *(vial(number, amount) for number, amount in enumerate(free)), own_ug=own, reserve_ug=reserve, packet_ug=packet
    )
    found = surplus(here, BAR)
    drawn = dict(found.drawn)
    assert found.packets == sum(drawn.values())
    assert all(count * packet <= free[number] for number, count in drawn.items())
    assert len(drawn) < len(free)
    if found.packets:
        assert sum(free) - found.packets * packet >= own + reserve
