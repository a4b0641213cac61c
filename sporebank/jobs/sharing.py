"""From a request to a parcel: contacts, wishes, filling, dispatch."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.change import Change
from sporebank.bank.queries import parcels
from sporebank.bank.tables import Contact as ContactTable
from sporebank.bank.tables import Line as LineTable
from sporebank.bank.tables import Packet as PacketTable
from sporebank.bank.tables import Parcel
from sporebank.bank.tables import Request as RequestTable
from sporebank.core import amounts, codes, sharing
from sporebank.core.counted import counted
from sporebank.core.dates import day_label
from sporebank.core.errors import Refusal
from sporebank.core.layout import Kind
from sporebank.core.records import Basis, Contact, Line, Packet, Permission, Reason, Request, RequestState
from sporebank.core.sharing import Filled, Offer
from sporebank.formats import countries
from sporebank.jobs import labels, parcel_checks
from sporebank.jobs.vials import refuse_before_stored, refuse_future


@dataclass(frozen=True)
class Wish:
    """A taxon, or a clone of it, and so many packets of so many micrograms."""

    packets: int
    packet_ug: int
    taxon_id: int | None = None
    clone_id: int | None = None


@dataclass(frozen=True)
class RequestForm:
    """Somebody's wishes, in the order of their rank; `new_contact` is kept with them where the bank has none yet."""

    contact_id: int
    received_on: date
    wishes: tuple[Wish, ...]
    note: str = ""
    new_contact: Contact | None = None


def save_contact(bank: Bank, contact: Contact) -> int:
    """Keep a contact, a new one where its id is 0, and return its id."""
    values = contact_values(contact)
    if contact.id:
        with bank.change(f"Change contact {values['name']}") as tx:
            tx.update(ContactTable, contact.id, **values)
        return contact.id
    with bank.change(f"Add contact {values['name']}") as tx:
        return tx.insert(ContactTable, **values)


def contact_values(contact: Contact) -> dict[str, str]:
    """Return the columns of a contact, trimmed; refuse one that no parcel would find."""
    values = {name: value.strip() for name, value in vars(contact).items() if name != "id"}
    country = values["country"] = values["country"].upper()
    if not values["name"]:
        raise Refusal("Give a name, so that the parcel finds its way.", field="name")
    if not countries.fits(country):
        raise Refusal(countries.ASK, field="country")
    return values


def add_request(bank: Bank, form: RequestForm) -> int:
    """Keep a request and return its id."""
    refuse_future(form.received_on, bank.today(), "received_on")
    if not form.wishes:
        raise Refusal("Add at least one wish: a taxon or a clone, and how many packets.", field="wishes")
    for wish in form.wishes:
        _check_wish(wish)
    new = None if form.new_contact is None else contact_values(form.new_contact)
    who = queries.contact(bank, form.contact_id).name if new is None else new["name"]
    wishes = counted(len(form.wishes), "wish", "wishes")
    with bank.change(f"Request of {who}, {wishes}") as tx:
        request_id = tx.insert(
            RequestTable,
            contact_id=form.contact_id if new is None else tx.insert(ContactTable, **new),
            received_on=form.received_on.isoformat(),
            state=RequestState.OPEN.value,
            note=form.note.strip(),
        )
        for rank, wish in enumerate(form.wishes, start=1):
            tx.insert(LineTable, request_id=request_id, rank=rank, **asdict(wish))
    return request_id


def _check_wish(wish: Wish) -> None:
    if (wish.taxon_id is None) == (wish.clone_id is None):
        raise Refusal("A wish is for a taxon or for a clone.", field="wishes")
    if not 1 <= wish.packets <= 1000:
        raise Refusal("Give a number of packets from 1 to 1000.", field="packets")
    if wish.packet_ug <= 0:
        raise Refusal("Say how much a packet holds, such as 2 mg.", field="packet")


def offers(bank: Bank, line: Line, drawn: Sequence[tuple[int, int, int]] = (), own: int | None = None) -> list[Offer]:
    """Return the vials a line may be filled from, the oldest spore first.

    Args:
        bank: the bank.
        line: the wish.
        drawn: `(vial, clone, micrograms)` already drawn for other lines of the same request.
        own: a parcel whose packets do not count as held back, because they are about to be chosen anew.
    """
    held, said = queries.reserved(bank, own), queries.complaints(bank)
    found = queries.candidates(bank, line.taxon_id, line.clone_id)
    by_clone: dict[int, int] = queries.clone_spare(bank, [row.clone_id for row, _, _ in found], own)
    for vial_id, clone_id, micrograms in drawn:
        held[vial_id] = held.get(vial_id, 0) + micrograms
        if clone_id in by_clone:
            by_clone[clone_id] -= micrograms
    return [
        Offer(
            vial_id=row.id,
            clone_id=row.clone_id,
            free=row.left - held.get(row.id, 0),
            spare=by_clone[row.clone_id] - bank.settings.reserve_ug,
            share=row.share,
            permission=Permission(permission),
            unsettled=unsettled,
            complaint=said.get(row.batch_id, ""),
        )
        for row, permission, unsettled in found
    ]


def propose(bank: Bank, request_id: int) -> dict[int, Filled]:
    """Propose, for every line of a request in the order of rank, the vials to draw from; nothing is written."""
    request = queries.request(bank, request_id)
    proposal: dict[int, Filled] = {}
    drawn: list[tuple[int, int, int]] = []
    for line in request.lines:
        chosen = offers(bank, line, drawn, request.parcel_id)
        filled = sharing.fill(line.packets, line.packet_ug, chosen, bank.settings.gift_line)
        clone_of = {offer.vial_id: offer.clone_id for offer in chosen}
        drawn.extend((vial_id, clone_of[vial_id], line.packet_ug) for vial_id in filled.vials)
        proposal[line.id] = filled
    return proposal


def keep_fill(bank: Bank, request_id: int, chosen: dict[int, Filled]) -> None:
    """Hold back the packets chosen for each line, in the request's parcel; nothing leaves the ledger yet.

    Raises:
        Refusal: the request is sent already or closed, or a vial has too little left.
    """
    request = unpacked(bank, request_id)
    refuse_of_exchange(bank, request_id)
    _check_chosen(bank, request, chosen)
    with bank.change(f"Fill request of {request.contact.name}") as tx:
        parcel_id = request.parcel_id or tx.insert(Parcel, code=tx.new_code("R"), request_id=request_id)
        for line in request.lines:
            filled = chosen.get(line.id, Filled((), "Not chosen."))
            _hold_back(bank, tx, parcel_id, line, filled.vials)
            tx.update(LineTable, line.id, unmet=filled.unmet)
        state = RequestState.FILLED if any(one.vials for one in chosen.values()) else RequestState.OPEN
        tx.update(RequestTable, request_id, state=state.value)


def refuse_of_exchange(bank: Bank, request_id: int) -> None:
    """Refuse to fill an order of an exchange by hand: its packets follow from the sharing out.

    Raises:
        Refusal: it is one.
    """
    name = queries.exchange_of(bank, request_id)
    if name:
        raise Refusal(sharing.ELSEWHERE.format(name))


def _hold_back(bank: Bank, tx: Change, parcel_id: int, line: Line, vials: Sequence[int]) -> None:
    """Hold back a packet from each of these vials; one held already stays as it is, with the label it has."""
    wanted, given_up = Counter(vials), []
    for packet in sorted(line.filled, key=lambda one: not one.packed):  # what is in the parcel stays there
        if wanted[packet.vial_id]:
            wanted[packet.vial_id] -= 1
        else:
            given_up.append(packet)
    free(bank, tx, given_up)
    common = {"line_id": line.id, "parcel_id": parcel_id, "micrograms": line.packet_ug}
    new = [{"vial_id": vial_id, "code": tx.new_code("K"), **common} for vial_id in wanted.elements()]
    labels.ask(bank, tx, Kind.PACKET, tx.insert_many(PacketTable, new))


def free(bank: Bank, tx: Change, packets: Sequence[Packet]) -> None:
    """Give up packets; no label of theirs waits any more."""
    labels.drop(bank, tx, Kind.PACKET, [packet.id for packet in packets])
    tx.update_many(PacketTable, {packet.id: {"void": 1} for packet in packets})


def _check_chosen(bank: Bank, request: Request, chosen: dict[int, Filled]) -> None:
    wanted: dict[int, int] = {}
    for line in request.lines:
        drawn = chosen.get(line.id, Filled((), "")).vials
        if len(drawn) > line.packets:
            raise Refusal(f"Wish {line.rank} is for {line.packets} packets, {len(drawn)} are chosen. Take some out.")
        offered = {one.vial_id for one in offers(bank, line) if one.permission is not Permission.NO} if drawn else set()
        if not offered.issuperset(drawn):
            raise Refusal(f"A vial chosen for wish {line.rank} is not of its kind, is empty, or may not be given away.")
        for vial_id in drawn:
            wanted[vial_id] = wanted.get(vial_id, 0) + line.packet_ug
    held = queries.reserved(bank, request.parcel_id)
    for row in queries.vials_by_id(bank, list(wanted)):
        free = row.left - held.get(row.id, 0)
        if wanted[row.id] > free:
            code = codes.grouped(row.code)
            raise Refusal(f"{code} has {amounts.show(free)} free, {amounts.show(wanted[row.id])} is chosen from it.")


def unsent(bank: Bank, request_id: int) -> Request:
    """Return a request whose parcel may still be changed.

    Raises:
        Refusal: it is sent, or the request is closed.
    """
    request = queries.request(bank, request_id)
    if request.dispatched_on is not None:
        raise Refusal("This parcel has been dispatched. Undo the dispatch first, or make a new request.")
    if request.state is RequestState.CLOSED:
        raise Refusal("This request is closed. Undo the closing, or make a new request.")
    return request


def unpacked(bank: Bank, request_id: int) -> Request:
    """Return a request whose parcel is neither sent nor closed.

    Raises:
        Refusal: it is.
    """
    request = unsent(bank, request_id)
    if request.packed_on is not None:
        raise Refusal(f"Parcel {codes.grouped(request.parcel)} is closed. Open it again first.")
    return request


def count_as_allotted(bank: Bank, tx: Change, request: Request, kept: Mapping[int, int]) -> None:
    """Let the lines of an order count no more as allotted than goes, so that nothing is held back for it afterwards.

    Args:
        bank: the bank.
        tx: the deed that closes or sends the parcel.
        request: the order.
        kept: how many packets of each line go.
    """
    allotted = parcels.allotted_of(bank, request.id)
    for line in request.lines:
        if allotted.get(line.id, 0) > kept.get(line.id, 0):
            unmet = line.unmet or "No vial was chosen for it before the parcel was closed."
            tx.update(LineTable, line.id, allotted=kept.get(line.id, 0), unmet=unmet)


def gap_in(request: Request) -> str:
    """Return what to do about a parcel in which packets are missing."""
    packets = request.packets
    packed = sum(packet.packed for packet in packets)
    return (
        f"{packed} of {len(packets)} packets are in parcel {codes.grouped(request.parcel)}. "
        "Pack the rest, or close it with the reason why they stay out."
    )


def dispatch(bank: Bank, request_id: int, on: date) -> None:
    """Book a filled parcel out of the ledger, one gift a packet; one that nobody began to scan in is closed by this.

    Raises:
        Refusal: there is nothing in it, it was packed in part and not closed, or the day is wrong.
    """
    request = unsent(bank, request_id)
    packets = request.packets
    if request.parcel_id is None or not packets:
        raise Refusal("There is nothing in this parcel yet. Fill the request first.")
    if request.packed_on is None and len({packet.packed for packet in packets}) > 1:
        raise Refusal(gap_in(request))
    refuse_future(on, bank.today(), "on")
    if on < request.received_on:
        raise Refusal(
            f"The request came on {day_label(request.received_on)}. Give that day or a later one.", field="on"
        )
    refuse_before_stored(bank, {packet.vial_id: on for packet in packets}, "on")
    parcel_checks.refuse_unheeded(bank, request)
    _refuse_complained(bank, packets)
    with bank.change(f"Dispatch parcel {codes.grouped(request.parcel)} to {request.contact.name}") as tx:
        for packet in packets:
            _give(tx, packet.vial_id, packet.micrograms, codes.grouped(request.parcel), on)
        if request.packed_on is None:
            count_as_allotted(bank, tx, request, Counter(packet.line_id for packet in packets))
        packed_on = request.packed_on or on
        tx.update(Parcel, request.parcel_id, dispatched_on=on.isoformat(), closed_on=packed_on.isoformat())
        tx.update(RequestTable, request_id, state=RequestState.SENT.value)
        parcel_checks.use_label(bank, tx, request, on)


def _refuse_complained(bank: Bank, packets: Sequence[Packet]) -> None:
    said = queries.complaints(bank)
    for row in queries.vials_by_id(bank, list({packet.vial_id for packet in packets}) if said else []):
        if row.batch_id in said:
            raise Refusal(
                f"{codes.grouped(row.code)} is of a batch reported {said[row.batch_id]}, which is not settled. Settle "
                "it on the card of the batch, or take its packets out of the parcel."
            )


def _give(tx: Change, vial_id: int, micrograms: int, parcel: str, on: date) -> None:
    tx.move_spore(
        vial_id,
        on_day=on.isoformat(),
        micrograms=-micrograms,
        reason=Reason.GIFT.value,
        basis=Basis.WEIGHED.value,
        note=parcel,
    )


def close_request(bank: Bank, request_id: int) -> None:
    """Close a request that will not be filled (any further); what was held back for it is free again."""
    request = queries.request(bank, request_id)
    with bank.change(f"Close request of {request.contact.name}") as tx:
        if request.dispatched_on is None:
            free(bank, tx, request.packets)
        tx.update(RequestTable, request_id, state=RequestState.CLOSED.value)
