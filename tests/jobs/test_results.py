"""Results and complaints that come back."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import codes
from sporebank.core.dates import PartDate
from sporebank.core.donations import Gift
from sporebank.core.errors import Refusal
from sporebank.core.records import Contact
from sporebank.core.results import ComplaintKind, letters, tally
from sporebank.jobs import donations, exchange, packing, results, sharing, undo
from sporebank.jobs.donations import DonationForm
from sporebank.jobs.filling import filling
from sporebank.jobs.results import ComplaintForm, Told
from sporebank.jobs.sharing import Wish
from tests.builders import TODAY, asked, fridge, new_bank, sound, stored
from tests.jobs.test_sharing_round import GENERA, ROUND, ask, held_back, opened, shared

LATER = TODAY + timedelta(days=90)


def sent(bank: Bank) -> tuple[int, int, int]:
    """Share a round out to three people and send the parcels of the first two; return the three requests."""
    number = opened(bank)
    people = tuple(ask(bank, number, who, (1, 2)) for who in ("Ida Brekke", "Tom Arkwell", "Wen Lindqvist"))
    shared(bank, number)
    held_back(bank, number)
    for request_id in people[:2]:
        sharing.dispatch(bank, request_id, TODAY)
    return people[0], people[1], people[2]


def packets(bank: Bank, request_id: int) -> list[int]:
    return [one.packet_id for one in queries.sent_of_request(bank, request_id)]


def test_what_is_told_is_counted_and_the_last_word_counts(bank: Bank, clock) -> None:  # type: ignore[no-untyped-def]  # the fixture's clock
    first, second, _ = sent(bank)
    clock.day = LATER
    one, two = packets(bank, first)
    assert results.record(bank, first, LATER, [Told(one, germinated=True, true_name=None), Told(two, None, None)]) == 1
    assert results.record(bank, first, LATER, [Told(one, germinated=True, true_name=False, note="a male fern")]) == 1
    (other, _) = packets(bank, second)
    results.record(bank, second, LATER, [Told(other, germinated=False, true_name=None)])
    clone = queries.listed(bank, 1)[0].parts[0].clone_id
    told = tally(queries.sent_of_clone(bank, clone))
    assert told.words() == "Told by those who got it (2 packets sent): 1 of 2 germinated, 0 of 1 true to name."


def test_nothing_new_is_not_written_twice(bank: Bank, clock) -> None:  # type: ignore[no-untyped-def]  # the fixture's clock
    first, _, unsent = sent(bank)
    clock.day = LATER
    one, _ = packets(bank, first)
    results.record(bank, first, LATER, [Told(one, germinated=True, true_name=None)])
    with pytest.raises(Refusal, match="Nothing new"):
        results.record(bank, first, LATER, [Told(one, germinated=True, true_name=None)])
    with pytest.raises(Refusal, match="before the parcel was sent"):
        results.record(bank, first, date(2026, 1, 1), [Told(one, germinated=False, true_name=None)])
    with pytest.raises(Refusal, match="never sent"):
        results.record(bank, unsent, LATER, [Told(99, germinated=False, true_name=None)])
    results.record(bank, first, LATER, [Told(one, None, None)])  # it was a slip
    assert queries.sent_of_request(bank, first)[0].germinated is None
    undo.undo(bank)
    assert queries.sent_of_request(bank, first)[0].germinated is True


def test_a_complaint_pulls_what_is_left_and_writes_to_everyone(bank: Bank) -> None:
    """As told of exchanges: find every packet of the batch, withdraw it, tell the others (common practice)."""
    first, _second, third = sent(bank)
    batch = queries.sent_of_request(bank, first)[0].batch_id
    packet = packets(bank, first)[0]
    results.complain(bank, ComplaintForm(batch, TODAY, ComplaintKind.MISNAMED, packet, "came up as a male fern"))
    concern = queries.concern(bank, batch)
    assert [one.name for one in concern.people()] == ["Ida Brekke", "Tom Arkwell"]
    assert (concern.held, concern.complaints[0].by) == (0, "Ida Brekke")
    written = {to.name: text for to, text in letters(concern, ComplaintKind.MISNAMED, "", bank.name)}
    assert set(written) == {"Ida Brekke", "Tom Arkwell"}
    assert "may not be what its label says" in written["Tom Arkwell"]
    assert "Ida" not in written["Tom Arkwell"]
    lines = [line for line in queries.order_lines(bank, 1) if line.request_id == third]
    assert (lines[0].allotted, lines[0].held, lines[0].unmet) == (
        0, 0, "It was taken out: somebody reported it as misnamed.",
    )  # fmt: skip
    chance = next(one for one in exchange.preview(bank, 1) if one.surplus.stock.name.genus == GENERA[0].split()[0])
    assert chance.surplus.packets == 0
    assert "3 vials reported misnamed, not settled yet." in chance.surplus.reasons


def test_a_settled_complaint_stays_on_record_and_frees_the_batch(bank: Bank) -> None:
    first, _, _ = sent(bank)
    batch = queries.sent_of_request(bank, first)[0].batch_id
    number = results.complain(bank, ComplaintForm(batch, TODAY, ComplaintKind.DEAD, pull=False))
    assert queries.concern(bank, batch).held == 1
    with pytest.raises(Refusal, match="Say how it was settled"):
        results.settle(bank, number, " ")
    results.settle(bank, number, "germinated 80 % in our own test")
    with pytest.raises(Refusal, match="settled already"):
        results.settle(bank, number, "or not")
    assert queries.complaints(bank) == {}
    (kept,) = queries.complaints_of(bank, clone_id=queries.batch(bank, batch).clone.id)
    assert (kept.kind, kept.settled) == (ComplaintKind.DEAD, "germinated 80 % in our own test")


def test_the_donor_is_asked_kindly(tmp_path) -> None:  # type: ignore[no-untyped-def]  # pytest's folder
    bank = new_bank(tmp_path)
    fridge(bank)
    stored(bank)
    number = exchange.begin(bank, ROUND)
    gift = Gift("Polystichum setiferum", 9, PartDate(2025, 9))
    form = DonationForm(number, 0, TODAY, (gift,), Contact(0, "Odile Ferrand"))
    (batch,) = donations.take_in(bank, form)
    ((to, text),) = letters(queries.concern(bank, batch), ComplaintKind.STRANGER, "a stray Pteris", bank.name)
    assert to.name == "Odile Ferrand"
    assert "thank you again for the spore of Polystichum setiferum, collected Sep 2025" in text
    assert "“a stray Pteris”" in text


def test_nothing_of_a_batch_complained_of_is_proposed_or_sent(bank: Bank) -> None:
    fridge(bank)
    kept = stored(bank)
    first = asked(bank, Wish(1, 2_000, taxon_id=1))
    sharing.keep_fill(bank, first, sharing.propose(bank, first))
    number = results.complain(bank, ComplaintForm(kept.batch_id, TODAY, ComplaintKind.DEAD, pull=False))
    with pytest.raises(Refusal, match="reported dead, which is not settled"):
        sharing.dispatch(bank, first, TODAY)
    (filled,) = sharing.propose(bank, asked(bank, Wish(1, 2_000, taxon_id=1), who="Bo Halvard")).values()
    assert (filled.vials, filled.unmet) == (
        (),
        "It was reported dead, which is not settled. Settle it on the card of its batch.",
    )
    results.settle(bank, number, "germinated well")
    sharing.dispatch(bank, first, TODAY)


def test_an_order_of_an_exchange_is_not_filled_past_its_sharing_out(bank: Bank) -> None:
    _, _, third = sent(bank)
    with pytest.raises(Refusal, match="an order of Spring round 2026"):
        filling(bank, third, anew=True)
    with pytest.raises(Refusal, match="Exchange page"):
        sharing.keep_fill(bank, third, sharing.propose(bank, third))


def test_a_complaint_opens_the_parcels_that_its_packets_lie_in(bank: Bank) -> None:
    _, _, third = sent(bank)
    for packet in queries.request(bank, third).packets:
        packing.scan_in(bank, third, codes.parse(packet.code, bank.tag))
    packing.close(bank, third)
    first = queries.request(bank, third).packets[0]
    batch = queries.vial_row(bank, first.vial_id).batch_id
    parcel = queries.request(bank, third).parcel
    assert queries.concern(bank, batch).packed == ((parcel, first.code),)
    results.complain(bank, ComplaintForm(batch, TODAY, ComplaintKind.MISNAMED))
    assert queries.request(bank, third).packed_on is None
    assert queries.concern(bank, batch).packed == ()
    undo.undo(bank)
    assert queries.request(bank, third).packed_on is not None
    sound(bank)
