"""Filling by hand: the proposal first, then what is held; every other vial with the reason why it is not proposed."""

import pytest

from sporebank.bank import queries
from sporebank.core.dates import PartDate
from sporebank.core.records import Permission, RequestState
from sporebank.core.sharing import Filled
from sporebank.jobs.filling import by_hand, filling
from sporebank.jobs.sharing import Wish, keep_fill, propose
from tests.builders import asked, clone, counted, fridge, stored


@pytest.fixture
def wanted(bank):
    """A request for four packets of a taxon with four clones: fit, faded, given on asking only, and never."""
    fridge(bank)
    fit = stored(bank, vials=1)
    faded = stored(bank, clone=clone("C-02"), vials=1, collected=PartDate(2024))
    counted(bank, faded.batch_id, 60, 300)
    stored(bank, clone=clone("C-03", permission=Permission.ASK), vials=1)
    stored(bank, clone=clone("C-04", permission=Permission.NO), vials=1)
    return asked(bank, Wish(4, 2_000, taxon_id=queries.batch(bank, fit.batch_id).clone.taxon.id))


def test_the_proposal_stands_until_something_is_held(bank, wanted):
    first = filling(bank, wanted)
    assert first.chosen == propose(bank, wanted)
    (line,) = first.request.lines
    keep_fill(bank, wanted, {line.id: Filled((2,), "1 of 4 packets chosen by hand.")})
    assert filling(bank, wanted).chosen == {line.id: Filled((2,), "1 of 4 packets chosen by hand.")}
    assert filling(bank, wanted, anew=True).chosen == first.chosen


def test_every_vial_that_may_go_is_offered_with_its_doubts(bank, wanted):
    (picks,) = filling(bank, wanted).picks.values()
    doubted = {pick.row.clone: bool(pick.doubts) for pick in picks}
    assert doubted == {"C-01": False, "C-02": True, "C-03": True}
    assert {pick.free for pick in picks} == {10_000}


def test_what_its_own_parcel_holds_counts_as_free(bank, wanted):
    keep_fill(bank, wanted, propose(bank, wanted))
    other = asked(bank, Wish(1, 2_000, taxon_id=1))
    own, others = (filling(bank, request_id).picks.popitem()[1] for request_id in (wanted, other))
    assert {pick.row.clone: pick.free for pick in own}["C-01"] == 10_000
    assert {pick.row.clone: pick.free for pick in others}["C-01"] == 6_000


def test_a_choice_left_as_proposed_keeps_its_reason():
    proposed = Filled((1, 2), "Only 2 of 3 packets.")
    assert by_hand(3, (2, 1), proposed) == proposed
    assert by_hand(3, (1,), proposed) == Filled((1,), "1 of 3 packets chosen by hand.")
    assert by_hand(3, (1, 2, 4), proposed) == Filled((1, 2, 4), "")


def test_a_request_of_which_nothing_can_be_filled_stays_open(bank):
    fridge(bank)
    batch = stored(bank)
    wish = Wish(1, 1_000, taxon_id=queries.vial_row(bank, batch.vial_ids[0]).taxon_id)
    request_id = asked(bank, wish)
    line = queries.request(bank, request_id).lines[0]
    keep_fill(bank, request_id, {line.id: Filled((), "The bank has none of it.")})
    kept = queries.request(bank, request_id)
    assert kept.state is RequestState.OPEN
    assert kept.lines[0].unmet == "The bank has none of it."
