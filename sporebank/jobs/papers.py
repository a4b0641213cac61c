"""What is printed about vials, pots, packets and parcels, gathered from the bank."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import advice, amounts, names
from sporebank.core.advice import Lines, percent, span
from sporebank.core.counted import counted
from sporebank.core.errors import Refusal
from sporebank.core.papers import (
    AddressLabel,
    Counted,
    Declaration,
    Declared,
    Kept,
    Manifest,
    ManifestItem,
    PacketLabel,
    PackingItem,
    PackingList,
    ParcelLabel,
    PlaceLabel,
    Unfilled,
    VialLabel,
)
from sporebank.core.parcel_cautions import Country, Journey
from sporebank.core.records import Batch, Clone, Contact, Line, Packet, Place, Request, Share, Source, VialRow
from sporebank.core.viability import Evidence
from sporebank.formats import countries
from sporebank.formats.tables import load_cautions
from sporebank.jobs import money, parcel_checks
from sporebank.jobs.figures import case_of, forecast_vial


def vial_labels(bank: Bank, vial_ids: Sequence[int]) -> tuple[VialLabel, ...]:
    """Return the labels of vials in the order in which one walks past their places."""
    return tuple(
        VialLabel(row.code, row.name, row.clone, row.collected, amounts.show(row.left), row.place)
        for row in queries.in_walking_order(bank, vial_ids)
    )


def bag_labels(bank: Bank, batch_ids: Sequence[int]) -> tuple[VialLabel, ...]:
    """Return the labels of whole batches, in the order given, each with where it came from and what is left of it."""
    return tuple(_bag(bank, queries.batch(bank, batch_id)) for batch_id in batch_ids)


def _bag(bank: Bank, batch: Batch) -> VialLabel:
    left = sum(row.left for row in queries.batch_vials(bank, batch.id))
    clone = batch.clone
    return VialLabel(
        code=batch.code,
        name=clone.taxon.name,
        clone=clone.code,
        collected=batch.collected,
        amount=amounts.show(left),
        origin=_origin(clone),
        note=batch.note,
    )


def _origin(clone: Clone) -> str:
    """Return where spore came from as the trade writes it: `wild, a gully`; nothing where it is not known."""
    source = "" if clone.source is Source.UNKNOWN else clone.source.value
    return ", ".join(filter(None, (source, clone.origin)))


def place_labels(bank: Bank, place_ids: Sequence[int]) -> tuple[PlaceLabel, ...]:
    """Return the labels of places and boxes as one walks past them."""
    wanted = set(place_ids)
    return tuple(_place(bank, place, path) for place, path, _ in queries.places(bank) if place.id in wanted)


def _place(bank: Bank, place: Place, path: str) -> PlaceLabel:
    temperature, humidity = queries.conditions(bank, place.id)
    met = (
        f"{temperature:g} °C" if temperature is not None else "",
        f"{humidity:g} % RH" if humidity is not None else "",
    )
    slots = f"{place.rows} × {place.columns} slots" if place.rows else ""
    outer = path.rpartition(" / ")[0]
    return PlaceLabel(place.code, place.name, outer, ", ".join(filter(None, met)), slots)


def address_labels(bank: Bank, contact_ids: Sequence[int]) -> tuple[AddressLabel, ...]:
    """Return the addresses of contacts, in the order given."""
    contacts = (queries.contact(bank, contact_id) for contact_id in contact_ids)
    return tuple(AddressLabel(_address(contact), f"From {bank.name}") for contact in contacts)


def parcel_label(bank: Bank, request_id: int) -> ParcelLabel:
    """Return the label of a parcel."""
    request = _with_packets(bank, request_id)
    count = sum(len(line.filled) for line in request.lines)
    content = counted(count, "packet of fern spore", "packets of fern spore")
    sender = f"From {bank.name}"
    return ParcelLabel(request.parcel, _address(request.contact), sender, request.dispatched_on, content)


def _address(contact: Contact) -> tuple[str, ...]:
    """Return an address line by line; the country is the keeper's to write, in words, in the address."""
    lines = (contact.name, contact.organisation, *contact.address.splitlines())
    return tuple(line.strip() for line in lines if line.strip())


def _walk(bank: Bank, request: Request) -> list[tuple[Line, Packet, VialRow]]:
    """Return the packets of a parcel as the packer meets them, each with its line and vial."""
    packets = [(line, packet) for line in request.lines for packet in line.filled]
    vials = {row.id: row for row in queries.vials_by_id(bank, [packet.vial_id for _, packet in packets])}
    packets.sort(key=lambda pair: (pair[1].place_key, pair[0].rank, pair[1].id))
    return [(line, packet, vials[packet.vial_id]) for line, packet in packets]


def packets_labelled(bank: Bank, request_id: int) -> dict[int, PacketLabel]:
    """Return the labels of a parcel's packets by the packet, in the order of picking."""
    request = _with_packets(bank, request_id)
    walk = _walk(bank, request)
    clones = _clones(bank, walk)
    going = parcel_checks.journey(bank, request, bank.today())
    return {
        packet.id: PacketLabel(
            code=packet.code or packet.vial,
            name=row.name,
            clone=row.clone,
            collected=row.collected,
            amount=amounts.show(packet.micrograms),
            alive=alive_words(row.share),
            parcel=request.parcel,
            line=line.rank,
            cautions=_on_packet(bank, going, clones[row.batch_id]),
            origin=_origin(clones[row.batch_id]),
            vial=packet.vial if packet.code else "",
        )
        for line, packet, row in walk
    }


def _clones(bank: Bank, walk: Sequence[tuple[Line, Packet, VialRow]]) -> dict[int, Clone]:
    """Return the clones of packets by their batches."""
    return {one.id: one.clone for one in queries.batches_by_id(bank, sorted({row.batch_id for _, _, row in walk}))}


def _on_packet(bank: Bank, going: Journey, clone: Clone) -> tuple[str, ...]:
    """Return what must stand on a packet; abroad, also who sends it and the country of its origin."""
    said = ["Seal and bin, do not compost"] if load_cautions().invasive(clone.taxon.name) else []
    if going.abroad:
        said.append(f"{bank.name}, {going.home.code}; origin {clone.country or 'not known'}")
    return tuple(said)


def _border(bank: Bank, request: Request, on: date) -> Declaration | None:
    """Return what a parcel says of itself at a border; None where it is not known to cross one."""
    going, walk = parcel_checks.journey(bank, request, on), _walk(bank, request)
    if not going.abroad:
        return None
    clones = _clones(bank, walk)
    packets = sorted(walk, key=lambda one: (one[0].rank, one[1].id))
    return Declaration(
        exporter=f"{bank.name}, {_country(going.home)}",
        destination=_country(going.destination),
        packets=tuple(
            Declared(
                number, packet.code or packet.vial, row.name, packet.micrograms, _named(clones[row.batch_id].country)
            )
            for number, (_, packet, row) in enumerate(packets, start=1)
        ),
        permits=tuple(permit.words() for permit in going.permits),
        answers=parcel_checks.papers(bank, request),
        caution=load_cautions().work("countries"),
    )


def _country(country: Country) -> str:
    return f"{country.name} ({country.code})"


def _named(code: str) -> str:
    return _country(Country(code, countries.name(code))) if code else "not known"


def alive_words(share: Share | None) -> str:
    """Return a share alive in a few words, with its band."""
    if share is None:
        return "viability not known"
    return f"about {percent(share.middle)} alive ({span(share.low, share.high)})"


def _with_packets(bank: Bank, request_id: int) -> Request:
    request = queries.request(bank, request_id)
    if not any(line.filled for line in request.lines):
        raise Refusal("There is nothing in this parcel yet. Fill the request first.")
    return request


def packing_list(bank: Bank, request_id: int, on: date) -> PackingList:
    """Return what the packer ticks: one line for each wish and vial, in walking order."""
    request = queries.request(bank, request_id)
    taken: dict[tuple[int, int], int] = {}
    walked: dict[tuple[int, int], tuple[Line, Packet, VialRow]] = {}
    for line, packet, row in _walk(bank, request):
        key = (line.id, row.id)
        taken[key] = taken.get(key, 0) + packet.micrograms
        walked.setdefault(key, (line, packet, row))
    left = {row.id: row.left for _, _, row in walked.values()}
    items = []
    for key, (line, packet, row) in walked.items():
        if request.dispatched_on is None:
            left[row.id] -= taken[key]
        items.append(
            PackingItem(
                line=line.rank,
                place=packet.place,
                place_key=packet.place_key,
                vial=row.code,
                name=row.name,
                clone=row.clone,
                take=taken[key],
                remains=left[row.id],
                note=_packets(taken[key] // line.packet_ug, line.packet_ug),
            )
        )
    missing = tuple(
        Unfilled(line.rank, f"{line.packets} × {_wish(line)}", line.unmet) for line in request.lines if line.unmet
    )
    recipient = ", ".join(filter(None, (request.contact.name, request.contact.organisation)))
    border = _border(bank, request, on)
    return PackingList(
        bank.name, request.parcel, recipient, on, tuple(items), missing, money.sums(bank, request_id), border
    )


def _wish(line: Line) -> str:
    return names.text(line.name) + (f", clone {line.clone}" if line.clone else "")


def _packets(count: int, size: int) -> str:
    return f"{count} packet of {amounts.show(size)}" if count == 1 else f"{count} packets of {amounts.show(size)}"


def manifest(bank: Bank, request_id: int, on: date) -> Manifest:
    """Return what travels with a parcel: provenance, age, viability with its band and basis, cautions."""
    request, cautions = _with_packets(bank, request_id), load_cautions()
    items = tuple(_manifest_item(bank, line, packet, row, on) for line, packet, row in _walk(bank, request))
    return Manifest(
        parcel=request.parcel,
        bank=bank.name,
        bank_tag=bank.tag,
        sent_on=on,
        recipient=", ".join(filter(None, (request.contact.name, request.contact.organisation))),
        items=items,
        cautions=(cautions.work("spore dust"), cautions.work("countries")),
        permits=parcel_checks.papers(bank, request),
    )


def _manifest_item(bank: Bank, line: Line, packet: Packet, row: VialRow, on: date) -> ManifestItem:
    batch, case = queries.batch(bank, row.batch_id), case_of(bank, row.id)
    forecast, clone, cautions = forecast_vial(bank, row.id, on), batch.clone, load_cautions()
    warnings = (
        cautions.invasive(row.name),
        cautions.protected(row.name),
        *cautions.handling(row.name, clone.taxon.family),
        *forecast.cautions,
        "" if clone.taxon.verified else "The name has not been verified; please identify it before passing it on.",
    )
    return ManifestItem(
        line=line.rank,
        code=row.code,
        name=row.name,
        clone=row.clone,
        source=clone.source,
        origin=clone.origin,
        collected=row.collected,
        micrograms=packet.micrograms,
        share=forecast.share,
        state=advice.state(forecast.share, Lines(bank.settings.alive_line, bank.settings.cull_line)),
        basis=forecast.basis,
        as_of=on,
        spore_class=batch.spore_class.value,
        permission=clone.permission,
        permit=clone.permit_note,
        network_number=clone.network_number,
        cautions=tuple(filter(None, warnings)),
        batch=batch.code,
        kept=tuple(Kept(stay.since, stay.temperature) for stay in case.history.stays),
        tests=tuple(_counted(test) for test in case.evidence),
        country=clone.country,
    )


def _counted(test: Evidence) -> Counted:
    counts = tuple((each.germinated, each.sown) for each in test.replicates)
    return Counted(test.on, test.on if test.counted is None else test.counted, counts)
