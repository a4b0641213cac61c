"""From a request to a parcel: what may go, from which vial, what is held back, and what is booked when it leaves."""

from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sporebank.bank import queries
from sporebank.bank.sql import one
from sporebank.core import codes
from sporebank.core.dates import PartDate
from sporebank.core.errors import Refusal
from sporebank.core.records import Contact, Permission, Reason, RequestState
from sporebank.core.settings import Settings
from sporebank.core.sharing import Filled
from sporebank.jobs import culling, undo
from sporebank.jobs.settings import change_settings
from sporebank.jobs.sharing import (
    RequestForm,
    Wish,
    add_request,
    close_request,
    dispatch,
    keep_fill,
    propose,
    save_contact,
)
from tests.builders import TODAY, asked, clone, counted, fridge, new_bank, sound, stored


def taxon_of(bank, batch):
    return queries.batch(bank, batch.batch_id).clone.taxon.id


def clone_of(bank, batch):
    return queries.batch(bank, batch.batch_id).clone.id


def filled_request(bank, *wishes):
    request_id = asked(bank, *wishes)
    keep_fill(bank, request_id, propose(bank, request_id))
    return request_id


def drawn(bank, request_id):
    """The vials of every packet, line by line."""
    return [[packet.vial_id for packet in line.filled] for line in queries.request(bank, request_id).lines]


def test_a_contact_is_kept_changed_and_found(bank):
    contact_id = save_contact(bank, Contact(0, " Marit Olden ", "Storvann garden", "Lindevei 4", "no", "m@example.org"))
    assert queries.contact(bank, contact_id) == Contact(
        contact_id, "Marit Olden", "Storvann garden", "Lindevei 4", "NO", "m@example.org"
    )
    save_contact(bank, Contact(contact_id, "Marit Olden-Vik"))
    assert [contact.name for contact in queries.contacts(bank, "olden-v")] == ["Marit Olden-Vik"]
    assert queries.contacts(bank, "100%") == []


@pytest.mark.parametrize(
    ("field", "contact"),
    [
        ("name", Contact(0, " ")),
        ("country", Contact(0, "Ilse", country="Norway")),
        ("country", Contact(0, "I", country="N1")),
    ],
)
def test_a_contact_without_a_name_or_with_no_such_country_is_refused(bank, field, contact):
    with pytest.raises(Refusal) as caught:
        save_contact(bank, contact)
    assert caught.value.field == field


@pytest.mark.parametrize(
    ("field", "wish"),
    [
        ("wishes", Wish(1, 1_000)),
        ("wishes", Wish(1, 1_000, taxon_id=1, clone_id=1)),
        ("packets", Wish(0, 1_000, taxon_id=1)),
        ("packets", Wish(1_001, 1_000, taxon_id=1)),
        ("packet", Wish(1, 0, taxon_id=1)),
    ],
)
def test_a_wish_that_makes_no_sense_is_refused(bank, field, wish):
    fridge(bank)
    stored(bank)
    with pytest.raises(Refusal) as caught:
        asked(bank, wish)
    assert caught.value.field == field


def test_a_request_without_wishes_or_of_tomorrow_is_refused(bank):
    contact_id = save_contact(bank, Contact(0, "Ilse Brandhof"))
    wish = Wish(1, 1_000, taxon_id=1)
    for field, form in (
        ("wishes", RequestForm(contact_id, TODAY, ())),
        ("received_on", RequestForm(contact_id, TODAY + timedelta(days=1), (wish,))),
    ):
        with pytest.raises(Refusal) as caught:
            add_request(bank, form)
        assert caught.value.field == field


def test_the_oldest_spore_that_still_qualifies_goes_first(bank):
    fridge(bank)
    young = stored(bank, collected=PartDate(2025, 8))
    old = stored(bank, clone=clone("C-02"), collected=PartDate(2025, 3))
    dead = stored(bank, clone=clone("C-03"), collected=PartDate(2024))
    counted(bank, dead.batch_id, 3, 300)
    assert max(queries.vial_row(bank, vial_id).share.middle for vial_id in dead.vial_ids) < 0.5
    request_id = filled_request(bank, Wish(13, 2_000, taxon_id=taxon_of(bank, young)))
    (vials,) = drawn(bank, request_id)
    # 25 mg of each clone are beyond the reserve of 5 mg: twelve packets of the older, then the younger.
    assert set(vials[:12]) == set(old.vial_ids)
    assert vials[12:] == [young.vial_ids[0]]


def test_a_wish_for_a_clone_is_filled_from_that_clone(bank):
    fridge(bank)
    stored(bank, collected=PartDate(2020))
    chosen = stored(bank, clone=clone("C-02"))
    request_id = filled_request(bank, Wish(2, 2_000, clone_id=clone_of(bank, chosen)))
    assert drawn(bank, request_id) == [[chosen.vial_ids[0]] * 2]


@pytest.mark.parametrize(
    ("words", "more"),
    [
        ("Permission to share is not on record", {"clone": clone(permission=Permission.UNKNOWN)}),
        ("The donor does not let it go", {"clone": clone(permission=Permission.NO)}),
        ("beyond the reserve 0 mg can go", {"vials": 1, "each": 5_000}),
        ("Only 1 of 3 packets", {"vials": 1, "each": 7_500}),
    ],
)
def test_what_cannot_be_filled_says_why(bank, words, more):
    fridge(bank)
    batch = stored(bank, **more)
    request_id = filled_request(bank, Wish(3, 2_000, taxon_id=taxon_of(bank, batch)))
    (line,) = queries.request(bank, request_id).lines
    assert words in line.unmet


def test_spore_too_dead_or_gone_says_so(bank):
    fridge(bank)
    batch = stored(bank)
    wish = Wish(1, 2_000, taxon_id=taxon_of(bank, batch))
    counted(bank, batch.batch_id, 30, 300)
    assert "below 50 % alive" in propose(bank, first := asked(bank, wish)).popitem()[1].unmet
    culling.cull(bank, batch.vial_ids, TODAY)
    assert propose(bank, first).popitem()[1].unmet == "The bank has none of it."


def test_nothing_leaves_the_ledger_before_the_parcel_does(bank):
    fridge(bank)
    batch = stored(bank)
    request_id = filled_request(bank, Wish(3, 2_000, taxon_id=taxon_of(bank, batch)))
    assert queries.vial_row(bank, batch.vial_ids[0]).left == 10_000
    assert queries.reserved(bank) == {batch.vial_ids[0]: 6_000}
    dispatch(bank, request_id, TODAY)
    assert queries.vial_row(bank, batch.vial_ids[0]).left == 4_000
    assert queries.reserved(bank) == {}
    request = queries.request(bank, request_id)
    assert (request.state, request.dispatched_on) == (RequestState.SENT, TODAY)
    gifts = [line for line in queries.ledger(bank, batch.vial_ids[0]) if line.reason is Reason.GIFT]
    assert [(line.micrograms, line.note) for line in gifts] == [(-2_000, codes.grouped(request.parcel))] * 3


def test_a_parcel_carries_a_code_that_leads_back_to_its_request(bank):
    fridge(bank)
    batch = stored(bank)
    request_id = filled_request(bank, Wish(1, 2_000, taxon_id=taxon_of(bank, batch)))
    code = codes.parse(queries.request(bank, request_id).parcel, bank.tag)
    assert (code.kind, queries.request_by_parcel(bank, code.text)) == ("R", request_id)


def test_two_requests_are_not_promised_the_same_spore(bank):
    fridge(bank)
    batch = stored(bank, vials=1, each=11_000)
    wish = Wish(2, 2_000, taxon_id=taxon_of(bank, batch))
    assert drawn(bank, filled_request(bank, wish)) == [list(batch.vial_ids) * 2]
    second = filled_request(bank, wish)
    assert len(drawn(bank, second)[0]) == 1
    assert "Only 1 of 2 packets" in queries.request(bank, second).lines[0].unmet


def test_two_lines_of_one_request_share_what_there_is(bank):
    fridge(bank)
    batch = stored(bank, vials=1, each=11_000)
    wishes = Wish(2, 2_000, taxon_id=taxon_of(bank, batch)), Wish(2, 2_000, clone_id=clone_of(bank, batch))
    assert [len(vials) for vials in drawn(bank, filled_request(bank, *wishes))] == [2, 1]


def test_filling_again_starts_from_what_is_there_without_this_parcel(bank):
    fridge(bank)
    batch = stored(bank, vials=1, each=11_000)
    request_id = filled_request(bank, Wish(3, 2_000, taxon_id=taxon_of(bank, batch)))
    parcel = queries.request(bank, request_id).parcel
    keep_fill(bank, request_id, propose(bank, request_id))
    assert queries.request(bank, request_id).parcel == parcel
    assert queries.reserved(bank) == {batch.vial_ids[0]: 6_000}


def test_the_keeper_may_choose_otherwise_but_not_more_than_is_free(bank):
    fridge(bank)
    batch = stored(bank)
    request_id = asked(bank, Wish(2, 6_000, taxon_id=taxon_of(bank, batch)))
    line = queries.request(bank, request_id).lines[0].id
    last = batch.vial_ids[2]
    with pytest.raises(Refusal, match="has 10 mg free, 12 mg is chosen from it"):
        keep_fill(bank, request_id, {line: Filled((last, last), "")})
    keep_fill(bank, request_id, {line: Filled((last, batch.vial_ids[0]), "")})
    assert drawn(bank, request_id) == [[last, batch.vial_ids[0]]]


def test_a_line_left_out_is_noted_as_not_chosen(bank):
    fridge(bank)
    batch = stored(bank)
    request_id = asked(bank, Wish(1, 1_000, taxon_id=taxon_of(bank, batch)))
    keep_fill(bank, request_id, {})
    assert queries.request(bank, request_id).lines[0].unmet == "Not chosen."


def test_an_empty_parcel_is_not_dispatched_nor_one_twice_nor_tomorrow(bank):
    fridge(bank)
    batch = stored(bank)
    request_id = asked(bank, Wish(1, 1_000, taxon_id=taxon_of(bank, batch)))
    with pytest.raises(Refusal, match="nothing in this parcel"):
        dispatch(bank, request_id, TODAY)
    keep_fill(bank, request_id, propose(bank, request_id))
    with pytest.raises(Refusal) as caught:
        dispatch(bank, request_id, TODAY + timedelta(days=1))
    assert caught.value.field == "on"
    dispatch(bank, request_id, TODAY)
    for again in (lambda: dispatch(bank, request_id, TODAY), lambda: keep_fill(bank, request_id, {})):
        with pytest.raises(Refusal, match="has been dispatched"):
            again()


def test_a_parcel_does_not_go_before_it_was_asked_for(bank):
    fridge(bank)
    batch = stored(bank)
    request_id = filled_request(bank, Wish(1, 1_000, taxon_id=taxon_of(bank, batch)))
    with pytest.raises(Refusal, match=r"The request came on 14 Mar 2026\. Give that day or a later one") as caught:
        dispatch(bank, request_id, TODAY - timedelta(days=1))
    assert caught.value.field == "on"
    dispatch(bank, request_id, TODAY)


def test_a_closed_request_sets_its_spore_free_and_waits_no_more(bank):
    fridge(bank)
    batch = stored(bank)
    request_id = filled_request(bank, Wish(1, 1_000, taxon_id=taxon_of(bank, batch)))
    close_request(bank, request_id)
    assert queries.reserved(bank) == {}
    assert queries.waiting_requests(bank) == []
    assert [one_of.id for one_of in queries.requests(bank, RequestState.CLOSED)] == [request_id]


def test_a_closed_request_is_not_filled_or_sent_until_its_closing_is_undone(bank):
    fridge(bank)
    batch = stored(bank)
    request_id = filled_request(bank, Wish(1, 1_000, taxon_id=taxon_of(bank, batch)))
    chosen = propose(bank, request_id)
    close_request(bank, request_id)
    for deed in (lambda: keep_fill(bank, request_id, chosen), lambda: dispatch(bank, request_id, TODAY)):
        with pytest.raises(Refusal, match="is closed"):
            deed()
    assert queries.request(bank, request_id).state is RequestState.CLOSED
    undo.undo(bank)
    keep_fill(bank, request_id, chosen)
    assert queries.request(bank, request_id).state is RequestState.FILLED


def test_a_dispatch_taken_back_puts_the_spore_back_and_holds_it_again(bank):
    fridge(bank)
    batch = stored(bank)
    request_id = filled_request(bank, Wish(2, 2_000, taxon_id=taxon_of(bank, batch)))
    dispatch(bank, request_id, TODAY)
    undo.undo(bank)
    assert queries.vial_row(bank, batch.vial_ids[0]).left == 10_000
    assert queries.reserved(bank) == {batch.vial_ids[0]: 4_000}
    assert queries.request(bank, request_id).state is RequestState.FILLED
    dispatch(bank, request_id, TODAY)


def test_a_higher_gift_line_or_reserve_offers_less(bank):
    fridge(bank)
    batch = stored(bank, vials=1)
    request_id = asked(bank, Wish(5, 1_000, taxon_id=taxon_of(bank, batch)))
    (proposed,) = propose(bank, request_id).values()
    assert len(proposed.vials) == 5
    change_settings(bank, Settings(reserve_ug=8_000))
    assert len(propose(bank, request_id).popitem()[1].vials) == 2
    change_settings(bank, Settings(gift_line=0.99))
    assert propose(bank, request_id).popitem()[1].vials == ()


WISHES = st.lists(
    st.tuples(st.integers(0, 1), st.integers(1, 5), st.sampled_from([700, 2_000, 5_500])), min_size=1, max_size=4
)


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(requests=st.lists(WISHES, min_size=1, max_size=4), sizes=st.tuples(st.integers(500, 20_000), st.integers(1, 3)))
def test_filling_never_draws_below_the_reserve_nor_twice_and_dispatch_books_the_packets(
    requests, sizes, tmp_path_factory
):
    bank = new_bank(tmp_path_factory.mktemp("bank"))
    try:
        fridge(bank)
        each, vials = sizes
        batches = [stored(bank, clone=clone(f"C-{n}"), each=each, vials=vials) for n in range(2)]
        before, sent = left_by_clone(bank), {}
        for number, wishes in enumerate(requests):
            request_id = filled_request(bank, *wished(bank, batches, wishes))
            spare_is_left(bank, before)
            sound(bank)
            if number % 2 == 0 and any(drawn(bank, request_id)):
                dispatch(bank, request_id, TODAY)
                sent[request_id] = [
                    packet for line in queries.request(bank, request_id).lines for packet in line.filled
                ]
        given_away = sum(packet.micrograms for packets in sent.values() for packet in packets)
        assert sum(before.values()) - sum(left_by_clone(bank).values()) == given_away
        assert one(bank, "SELECT COUNT(*) FROM movement WHERE reason = 'gift'") == (sum(map(len, sent.values())),)
    finally:
        bank.close()


def wished(bank, batches, wishes):
    """Wishes for a clone by turns with wishes for the taxon of both."""
    for number, (which, packets, size) in enumerate(wishes):
        if number % 2:
            yield Wish(packets, size, taxon_id=taxon_of(bank, batches[which]))
        else:
            yield Wish(packets, size, clone_id=clone_of(bank, batches[which]))


def left_by_clone(bank):
    sql = "SELECT clone_id, SUM(left) FROM vial JOIN batch ON batch.id = batch_id GROUP BY clone_id"
    return dict(bank.database.execute_sql(sql).fetchall())


def spare_is_left(bank, before):
    """No clone is promised or sent below its reserve, and no vial is promised more than it holds."""
    held = queries.reserved(bank)
    for row in queries.vials_by_id(bank, list(held)):
        assert held[row.id] <= row.left
    for clone_id, spare in queries.clone_spare(bank, list(before)).items():
        assert spare >= min(bank.settings.reserve_ug, before[clone_id])


def test_a_request_waits_from_the_day_it_came(bank):
    fridge(bank)
    batch = stored(bank)
    contact_id = save_contact(bank, Contact(0, "Ilse Brandhof"))
    wish = Wish(1, 1_000, taxon_id=taxon_of(bank, batch))
    late = add_request(bank, RequestForm(contact_id, TODAY, (wish,)))
    early = add_request(bank, RequestForm(contact_id, date(2026, 1, 2), (wish,), "no hurry"))
    assert [request.id for request in queries.requests(bank, RequestState.OPEN)] == [early, late]
    assert queries.request(bank, early).note == "no hurry"


def test_somebody_new_is_kept_with_the_request_and_goes_with_it(bank):
    batch = stored(bank)
    wish = Wish(1, 2_000, taxon_id=taxon_of(bank, batch))
    request_id = add_request(
        bank, RequestForm(0, TODAY, (wish,), new_contact=Contact(0, " Ilse Brandt ", country="de"))
    )
    contact = queries.request(bank, request_id).contact
    assert (contact.name, contact.country) == ("Ilse Brandt", "DE")
    undo.undo(bank)
    assert queries.contacts(bank) == []
    assert queries.requests(bank) == []
    with pytest.raises(Refusal) as caught:
        add_request(bank, RequestForm(0, TODAY, (wish,), new_contact=Contact(0, "Ilse", country="D")))
    assert caught.value.field == "country"
    assert queries.contacts(bank) == []


def test_no_more_packets_than_wished_are_held(bank):
    batch = stored(bank)
    request_id = asked(bank, Wish(2, 1_000, taxon_id=taxon_of(bank, batch)))
    (line,) = queries.request(bank, request_id).lines
    with pytest.raises(Refusal, match="Wish 1 is for 2 packets, 3 are chosen"):
        keep_fill(bank, request_id, {line.id: Filled(batch.vial_ids, "")})
    assert drawn(bank, request_id) == [[]]


def test_what_is_of_another_kind_or_may_not_go_is_not_held_even_by_hand(bank):
    wanted = stored(bank, vials=1)
    other = stored(bank, "Osmunda regalis", clone=clone("C-02"), vials=1)
    kept = stored(bank, clone=clone("C-03", permission=Permission.NO), vials=1)
    ask_first = stored(bank, clone=clone("C-04", permission=Permission.ASK), vials=1)
    request_id = asked(bank, Wish(1, 1_000, taxon_id=taxon_of(bank, wanted)))
    (line,) = queries.request(bank, request_id).lines
    for wrong in (other, kept):
        with pytest.raises(Refusal, match="not of its kind, is empty, or may not be given away"):
            keep_fill(bank, request_id, {line.id: Filled(wrong.vial_ids, "")})
    keep_fill(bank, request_id, {line.id: Filled(ask_first.vial_ids, "")})
    assert drawn(bank, request_id) == [list(ask_first.vial_ids)]
