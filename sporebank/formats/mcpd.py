"""A manifest as a table of the Multi-Crop Passport Descriptors V.2.1, a row for each packet.

Alercia, Diulgheroff and Mackay 2015, FAO/Bioversity Multi-Crop Passport Descriptors V.2.1, Rome. Empty is not known;
several values of a field are joined by a semicolon without a space. The descriptors know no spore: storage and kind of
material are 99 (other), with a word in REMARKS. A bank has no code of the WIEWS list, so INSTCODE stays empty.
"""

from __future__ import annotations

import csv
import io

from sporebank.core.dates import PartDate
from sporebank.core.errors import Refusal
from sporebank.core.papers import Manifest, ManifestItem
from sporebank.core.records import Source
from sporebank.formats.countries import three_letters
from sporebank.formats.manifest_csv import ENCODING, guarded

COLUMNS = (
    "PUID", "INSTCODE", "ACCENUMB", "COLLNUMB", "COLLCODE", "COLLNAME", "COLLINSTADDRESS", "COLLMISSID", "GENUS",
    "SPECIES", "SPAUTHOR", "SUBTAXA", "SUBTAUTHOR", "CROPNAME", "ACCENAME", "ACQDATE", "ORIGCTY", "COLLSITE",
    "DECLATITUDE", "LATITUDE", "DECLONGITUDE", "LONGITUDE", "COORDUNCERT", "COORDDATUM", "GEOREFMETH", "ELEVATION",
    "COLLDATE", "BREDCODE", "BREDNAME", "SAMPSTAT", "ANCEST", "COLLSRC", "DONORCODE", "DONORNAME", "DONORNUMB",
    "OTHERNUMB", "DUPLSITE", "DUPLINSTNAME", "STORAGE", "MLSSTAT", "REMARKS",
)  # fmt: skip
"""The descriptors in the order of the standard."""

_STATUS = {Source.WILD: "100"}  # SAMPSTAT: 100 wild; of anything else the status is not known
_WHERE = {Source.WILD: "10", Source.GARDEN: "23", Source.BOUGHT: "30"}
"""COLLSRC: 10 wild habitat, 23 backyard or home garden, 30 market or shop."""
_OTHER = "99"


def write_passports(manifest: Manifest) -> bytes:
    """Return a manifest as CSV of passport data.

    Raises:
        Refusal: it has no packets, so that there is nothing to write.
    """
    if not manifest.items:
        raise Refusal("A manifest without packets cannot be written. Fill the request first.")
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, COLUMNS, restval="")
    writer.writeheader()
    writer.writerows({field: guarded(cell) for field, cell in _row(manifest, item).items()} for item in manifest.items)
    return out.getvalue().encode(ENCODING)


def _row(manifest: Manifest, item: ManifestItem) -> dict[str, str]:
    """Return the descriptors of a packet that are known."""
    name = item.name
    named = name.cultivar or name.group
    return {
        "ACCENUMB": item.code,
        "GENUS": name.genus,
        "SPECIES": name.epithet or "sp.",
        "SUBTAXA": f"{name.rank} {name.infra}" if name.infra else "",
        "ACCENAME": named,
        "ORIGCTY": three_letters(item.country),
        "COLLSITE": " ".join(item.origin.split()),
        "COLLDATE": passport_date(item.collected),
        "SAMPSTAT": "" if named else _STATUS.get(item.source, ""),
        "COLLSRC": _WHERE.get(item.source, ""),
        "DONORNAME": manifest.bank,
        "DONORNUMB": item.batch,
        "OTHERNUMB": ";".join(f":{number}" for number in (item.clone, item.network_number) if number),
        "STORAGE": _OTHER,
        "REMARKS": _remarks(item),
    }


def _remarks(item: ManifestItem) -> str:
    said = [f"STORAGE:spore, {item.spore_class}"]
    if item.share is not None:
        alive = "-".join(f"{share * 100:.0f}" for share in (item.share.low, item.share.high))
        said.append(f"STORAGE:{item.share.middle * 100:.0f} % alive ({alive}) on {item.as_of:%Y%m%d}")
    if item.name.hybrid_epithet or item.name.hybrid_genus:
        said.append("SPECIES:hybrid")
    return ";".join(said)


def passport_date(date: PartDate) -> str:
    """Return a date as `YYYYMMDD`, with hyphens for what is not known: `197506--`."""
    month, day = ("--" if part is None else f"{part:02}" for part in (date.month, date.day))
    return f"{date.year:04}{month}{day}"
