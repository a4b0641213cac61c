from hypothesis import given
from hypothesis import strategies as st

from sporebank.core.records import Permission, Share
from sporebank.core.sharing import Offer, doubts, fill, surplus

ALIVE = Share(0.6, 0.8, 0.9)
DEAD = Share(0.0, 0.1, 0.3)


def offer(vial_id=1, clone_id=1, free=10_000, spare=10_000, share=ALIVE, permission=Permission.YES):
    return Offer(vial_id, clone_id, free, spare, share, permission)


def test_the_oldest_that_qualifies_is_drawn_first():
    old, dying, new = offer(1, free=4_500), offer(2, share=DEAD), offer(3)
    filled = fill(4, 2_000, [old, dying, new], 0.5)
    assert filled.vials == (1, 1, 3, 3)
    assert filled.unmet == ""


def test_the_reserve_of_a_clone_is_kept_over_all_its_vials():
    filled = fill(3, 2_000, [offer(1, spare=4_500), offer(2, spare=4_500)], 0.5)
    assert filled.vials == (1, 1)
    assert filled.unmet == "Only 2 of 3 packets: beyond the reserve 4.5 mg can go, and a packet takes 2 mg."


def test_what_cannot_be_filled_says_why():
    assert "none of it" in fill(1, 2_000, [], 0.5).unmet
    assert "Permission" in fill(1, 2_000, [offer(permission=Permission.ASK)], 0.5).unmet
    assert "below 50 % alive" in fill(1, 2_000, [offer(share=DEAD)], 0.5).unmet
    assert "not modelled" in fill(1, 2_000, [offer(share=None)], 0.5).unmet
    assert "below 50 % alive" in fill(1, 2_000, [offer(share=None), offer(share=DEAD)], 0.5).unmet
    assert "does not let it go" in fill(1, 2_000, [offer(permission=Permission.NO)], 0.5).unmet
    assert fill(1, 2_000, [offer(spare=-500)], 0.5).unmet.startswith("No packet: beyond the reserve 0 mg can go")


def test_what_lacks_is_what_is_said_to_lack():
    """Spare counts all vials of a clone, dead ones too, so it alone may look plenty where nothing can be drawn."""
    small = [offer(number, free=1_500, spare=4_000) for number in range(3)]
    assert fill(1, 2_000, small, 0.5).unmet == (
        "No packet: no vial that is alive enough has more than 1.5 mg free, and a packet takes 2 mg."
    )
    assert fill(3, 2_000, [offer(free=4_500, spare=90_000)], 0.5).unmet == (
        "Only 2 of 3 packets: the vials that are alive enough have 4.5 mg free, and a packet takes 2 mg."
    )


def test_surplus_is_allowed_alive_and_beyond_the_reserve():
    assert surplus(Permission.YES, ALIVE, 6_000, 5_000, 0.5)
    assert not surplus(Permission.UNKNOWN, ALIVE, 6_000, 5_000, 0.5)
    assert not surplus(Permission.YES, DEAD, 6_000, 5_000, 0.5)
    assert not surplus(Permission.YES, None, 6_000, 5_000, 0.5)
    assert not surplus(Permission.YES, ALIVE, 5_000, 5_000, 0.5)


@given(
    st.integers(1, 8),
    st.integers(1, 3_000),
    st.lists(st.tuples(st.integers(1, 3), st.integers(0, 9_000), st.booleans(), st.booleans()), max_size=8),
)
def test_never_more_than_is_free_nor_than_a_clone_can_spare(packets, size, vials):
    spare = {1: 4_000, 2: 0, 3: 20_000}
    offers = [
        offer(number, clone, free, spare[clone], ALIVE if alive else DEAD, Permission.YES if may else Permission.NO)
        for number, (clone, free, alive, may) in enumerate(vials)
    ]
    filled = fill(packets, size, offers, 0.5)
    by_id = {one.vial_id: one for one in offers}
    assert len(filled.vials) <= packets
    assert bool(filled.unmet) == (len(filled.vials) < packets)
    for vial_id in set(filled.vials):
        one = by_id[vial_id]
        assert filled.vials.count(vial_id) * size <= one.free
        assert one.permission is Permission.YES
        assert one.share is ALIVE
    for clone, most in spare.items():
        assert sum(size for vial_id in filled.vials if by_id[vial_id].clone_id == clone) <= max(most, 0)


def test_what_speaks_against_a_vial_is_said_and_nothing_where_it_would_be_proposed():
    assert doubts(offer(), 2_000, 0.5) == ()
    assert doubts(offer(permission=Permission.ASK), 2_000, 0.5) == ("permission to share: ask first",)
    assert doubts(offer(share=DEAD), 2_000, 0.5) == ("likely below 50 % alive",)
    assert doubts(offer(share=None), 2_000, 0.5) == ("not modelled, go by tests",)
    assert doubts(offer(spare=1_999), 2_000, 0.5) == ("from the reserve of its clone",)
    assert doubts(offer(free=-5, spare=-5), 2_000, 0.5) == ("only 0 mg free",)
    assert doubts(offer(free=2_000, spare=2_000), 2_000, 0.5) == ()
