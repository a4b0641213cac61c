"""A manifest as JSON for machines (RFC 8259), by the published schema `resources/manifest-2.schema.json`.

Dates in ISO 8601, partly known ones cut short; amounts in whole micrograms; shares from 0 to 1. What is not known is
null. Manifests of version 1 are read as well; one of a version that is not known is refused.
"""

from __future__ import annotations

import json
from typing import Any

from sporebank.core import codes, names
from sporebank.core.errors import Refusal
from sporebank.core.papers import MANIFEST_VERSION, Counted, Kept, Manifest, ManifestItem
from sporebank.core.records import Permission, Share, Source, SporeClass, State, TaxonName
from sporebank.formats import countries
from sporebank.formats.strict_json import Part, load

FORMAT = "fern spore manifest"
MOST_PACKETS, MOST_OF_A_PACKET = 5_000, 500
"""Packets of a parcel, and tests, stays or cautions of a packet."""
_MOST_UG, _MOST_SOWN = 1_000_000_000, 100_000
_COLDEST, _HOTTEST = -273.15, 100.0
_WHOLE = ("format", "version", "parcel", "bank", "sent_on", "recipient", "cautions", "packets", "checksum")
_PACKET = (
    "line", "vial", "batch", "taxon", "clone", "source", "origin", "collected", "micrograms", "spore_class", "alive",
    "state", "basis", "as_of", "permission", "permit", "network_number", "cautions", "kept", "tests",
)  # fmt: skip


def write_manifest(manifest: Manifest) -> bytes:
    """Return a manifest as JSON in UTF-8, the same bytes for the same manifest.

    Raises:
        Refusal: it has no packets, so that there is nothing to write.
    """
    if not manifest.items:
        raise Refusal("A manifest without packets cannot be written. Fill the request first.")
    whole = {
        "format": FORMAT,
        "version": MANIFEST_VERSION,
        "parcel": manifest.parcel,
        "bank": {"name": manifest.bank, "tag": manifest.bank_tag},
        "sent_on": manifest.sent_on.isoformat(),
        "recipient": manifest.recipient,
        "cautions": list(manifest.cautions),
        "permits": list(manifest.permits),
        "packets": [_packet(item) for item in manifest.items],
        "checksum": manifest.checksum(),
    }
    return (json.dumps(whole, ensure_ascii=False, indent=1) + "\n").encode("utf-8")


def _packet(item: ManifestItem) -> dict[str, Any]:
    return {
        "line": item.line,
        "vial": item.code,
        "batch": item.batch,
        "taxon": names.text(item.name),
        "clone": item.clone,
        "source": item.source.value,
        "origin": item.origin,
        "country": item.country,
        "collected": item.collected.iso(),
        "micrograms": item.micrograms,
        "spore_class": item.spore_class,
        "alive": _alive(item.share),
        "state": item.state.value,
        "basis": item.basis,
        "as_of": item.as_of.isoformat(),
        "permission": item.permission.value,
        "permit": item.permit,
        "network_number": item.network_number,
        "cautions": list(item.cautions),
        "kept": [{"since": kept.since.isoformat(), "celsius": kept.celsius} for kept in item.kept],
        "tests": [_test(test) for test in item.tests],
    }


def _alive(share: Share | None) -> dict[str, float] | None:
    return None if share is None else {"low": share.low, "middle": share.middle, "high": share.high}


def _test(test: Counted) -> dict[str, Any]:
    counts = [{"germinated": germinated, "sown": sown} for germinated, sown in test.counts]
    return {"sown_on": test.sown_on.isoformat(), "counted_on": test.counted_on.isoformat(), "counts": counts}


def read_manifest(data: bytes) -> Manifest:
    """Read a manifest that another bank wrote.

    Raises:
        Refusal: it is no manifest, damaged, changed, too large, or of a version that is not known; the sentence says
            what, and where it stands.
    """
    whole = load(data)
    if not whole.has("format", FORMAT):
        raise Refusal("This file is not a manifest of fern spore. Choose the JSON file that came with the parcel.")
    return manifest_from(whole)


def manifest_from(whole: Part) -> Manifest:
    """Return a manifest from its parts as JSON has them, whatever file they were read from.

    Raises:
        Refusal: see `read_manifest`.
    """
    version = whole.get("version").whole(1, 1_000_000)
    if version > MANIFEST_VERSION:
        raise Refusal(
            f"This manifest is of version {version}; this program reads up to {MANIFEST_VERSION}. "
            "Get a newer version of the program, or ask the sender for a spreadsheet."
        )
    fields = whole.fields(*_WHOLE, *(() if version == 1 else ("permits",)))
    bank = fields["bank"].fields("name", "tag")
    tag = bank["tag"].text()
    packets = fields["packets"].rows(MOST_PACKETS, "Packet")
    manifest = Manifest(
        parcel=_code(fields["parcel"], "R", tag),
        bank=bank["name"].text(),
        bank_tag=tag,
        sent_on=fields["sent_on"].day(),
        recipient=fields["recipient"].text(lines=True),
        items=tuple(_read_packet(packet, version, tag) for packet in packets),
        cautions=_texts(fields["cautions"]),
        permits=() if version == 1 else _texts(fields["permits"]),
        version=version,
    )
    if not manifest.items:
        raise Refusal("There are no packets in this manifest, so there is nothing to take in.")
    if manifest.checksum() != fields["checksum"].text():
        raise Refusal("The checksum differs: this file was changed after it was written. Ask the sender for it again.")
    return manifest


def _code(part: Part, kind: str, tag: str) -> str:
    code = part.read(lambda text: codes.parse(text, tag))
    if code.kind != kind:
        part.refuse(f"the code of a {codes.KINDS[kind]} should stand here.")
    return code.text


def _read_packet(packet: Part, version: int, tag: str) -> ManifestItem:
    fields = packet.fields(*_PACKET, *(() if version == 1 else ("country",)))
    return ManifestItem(
        line=fields["line"].whole(1, 1_000_000),
        code=_code(fields["vial"], "V", tag),
        name=_name(fields["taxon"]),
        clone=_clone(fields["clone"]),
        source=fields["source"].one_of(Source),
        origin=fields["origin"].text(lines=True),
        collected=fields["collected"].part_date(),
        micrograms=fields["micrograms"].whole(0, _MOST_UG),
        share=_share(fields["alive"]),
        state=fields["state"].one_of(State),
        basis=fields["basis"].text(lines=True),
        as_of=fields["as_of"].day(),
        spore_class=fields["spore_class"].one_of(SporeClass).value,
        permission=fields["permission"].one_of(Permission),
        permit=fields["permit"].text(lines=True),
        network_number=fields["network_number"].text(),
        cautions=_texts(fields["cautions"]),
        batch=_code(fields["batch"], "B", tag),
        kept=tuple(_read_kept(kept) for kept in fields["kept"].rows(MOST_OF_A_PACKET)),
        tests=tuple(_read_test(test) for test in fields["tests"].rows(MOST_OF_A_PACKET)),
        country="" if version == 1 else _country(fields["country"]),
    )


def _clone(part: Part) -> str:
    return part.text() or part.refuse("the code of the clone is missing.")


def _texts(part: Part) -> tuple[str, ...]:
    return tuple(each.text(lines=True) for each in part.rows(MOST_OF_A_PACKET))


def _name(part: Part) -> TaxonName:
    name = part.read(names.parse)
    if names.text(name) != part.text():
        part.refuse(f"the name is not written in full as it should be, “{names.text(name)}”.")
    return name


def _country(part: Part) -> str:
    code = part.text()
    if code != code.strip().upper() or not countries.fits(code):
        part.refuse("the two letters of a country (ISO 3166-1) should stand here, or nothing.")
    return code


def _share(part: Part) -> Share | None:
    if part.nothing():
        return None
    fields = part.fields("low", "middle", "high")
    share = Share(*(fields[name].number(0, 1) for name in ("low", "middle", "high")))
    if not share.low <= share.middle <= share.high:
        part.refuse("low, middle and high should not fall.")
    return share


def _read_kept(part: Part) -> Kept:
    fields = part.fields("since", "celsius")
    celsius = fields["celsius"]
    return Kept(fields["since"].day(), None if celsius.nothing() else celsius.number(_COLDEST, _HOTTEST))


def _read_test(part: Part) -> Counted:
    fields = part.fields("sown_on", "counted_on", "counts")
    counts = tuple(_read_count(each) for each in fields["counts"].rows(MOST_OF_A_PACKET))
    if not counts:
        part.refuse("a test without a count.")
    return Counted(fields["sown_on"].day(), fields["counted_on"].day(), counts)


def _read_count(part: Part) -> tuple[int, int]:
    fields = part.fields("germinated", "sown")
    sown = fields["sown"].whole(1, _MOST_SOWN)
    return fields["germinated"].whole(0, sown), sown
