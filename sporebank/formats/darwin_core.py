"""A manifest as a Darwin Core archive (Text Guide of 2023-09-13): one record of the core MaterialEntity a packet.

Term names are those of http://rs.tdwg.org/dwc/terms/; dates by ISO 8601, partly known ones cut short; countries by
ISO 3166-1 alpha-2; lists joined by ` | `. Whom the parcel is for is left out.
"""

from __future__ import annotations

import csv
import io
import json
import zipfile
from collections.abc import Callable
from xml.sax.saxutils import escape, quoteattr

from sporebank.core import names
from sporebank.core.errors import Refusal
from sporebank.core.papers import Manifest, ManifestItem
from sporebank.core.records import TaxonName

TERMS = "http://rs.tdwg.org/dwc/terms/"
_NAMESPACE = "http://rs.tdwg.org/dwc/text/"
_FILE = "packets.csv"
_EPOCH = (1980, 1, 1, 0, 0, 0)
"""The day that every file in the archive carries, so that the same manifest gives the same bytes."""
_RANKS = {"subsp.": "subspecies", "var.": "variety", "f.": "form"}

_Cell = Callable[[Manifest, ManifestItem], str]


def _rank(name: TaxonName) -> str:
    if name.cultivar:
        return "cultivar"
    if name.group:
        return "cultivar group"
    return _RANKS.get(name.rank, "species" if name.epithet else "genus")


def _properties(_: Manifest, item: ManifestItem) -> str:
    """Return what Darwin Core has no term for, as JSON: source and permission, how alive it is, and the tests."""
    share = item.share
    said: dict[str, object] = {
        "source": item.source.value,
        "permission": item.permission.value,
        "permit": item.permit,
        "sporeClass": item.spore_class,
        "basis": item.basis,
        "asOf": item.as_of.isoformat(),
    }
    if share is not None:
        said |= {"aliveLow": share.low, "aliveMiddle": share.middle, "aliveHigh": share.high}
    if item.tests:
        said["tests"] = [
            {"sown": test.sown_on.isoformat(), "counted": test.counted_on.isoformat(), "counts": list(test.counts)}
            for test in item.tests
        ]
    return json.dumps(said, ensure_ascii=False)


def _others(_: Manifest, item: ManifestItem) -> str:
    return " | ".join(filter(None, (item.clone, item.network_number)))


CELLS: dict[str, _Cell] = {
    "institutionCode": lambda whole, item: whole.bank_tag,
    "collectionCode": lambda whole, item: item.batch,
    "catalogNumber": lambda whole, item: item.code,
    "otherCatalogNumbers": _others,
    "basisOfRecord": lambda whole, item: "MaterialEntity",
    "preparations": lambda whole, item: "spore",
    "objectQuantity": lambda whole, item: str(item.micrograms),
    "objectQuantityType": lambda whole, item: "micrograms",
    "eventDate": lambda whole, item: item.collected.iso(),
    "scientificName": lambda whole, item: names.text(item.name),
    "genus": lambda whole, item: item.name.genus,
    "specificEpithet": lambda whole, item: item.name.epithet,
    "infraspecificEpithet": lambda whole, item: item.name.infra,
    "cultivarEpithet": lambda whole, item: item.name.cultivar or item.name.group,
    "taxonRank": lambda whole, item: _rank(item.name),
    "identificationQualifier": lambda whole, item: item.name.qualifier,
    "nomenclaturalCode": lambda whole, item: "ICNCP" if item.name.cultivar or item.name.group else "ICN",
    "countryCode": lambda whole, item: item.country,
    "locality": lambda whole, item: item.origin,
    "lifeStage": lambda whole, item: "spore",
    "dynamicProperties": _properties,
}
COLUMNS = ("materialEntityID", *CELLS)
"""The terms in the order of the columns; the first is the parcel's code and the number of the packet in it."""


def write_archive(manifest: Manifest) -> bytes:
    """Return a manifest as a Darwin Core archive, the same bytes for the same manifest.

    Raises:
        Refusal: it has no packets, so that there is nothing to write.
    """
    if not manifest.items:
        raise Refusal("A manifest without packets cannot be written. Fill the request first.")
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in (("meta.xml", _meta()), ("eml.xml", _eml(manifest)), (_FILE, _rows(manifest))):
            archive.writestr(zipfile.ZipInfo(name, _EPOCH), text.encode("utf-8"))
    return out.getvalue()


def _rows(manifest: Manifest) -> str:
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n", quoting=csv.QUOTE_ALL)
    writer.writerow(COLUMNS)
    for number, item in enumerate(manifest.items, start=1):
        cells = (" ".join(cell(manifest, item).split()) for cell in CELLS.values())  # a line end would end the row
        writer.writerow([f"{manifest.parcel}:{number}", *cells])
    return out.getvalue()


def _meta() -> str:
    fields = "\n".join(f'    <field index="{number}" term="{TERMS}{name}"/>' for number, name in enumerate(COLUMNS))
    return f"""<?xml version="1.0" encoding="UTF-8"?>
<archive xmlns="{_NAMESPACE}" metadata="eml.xml">
  <core encoding="UTF-8" fieldsTerminatedBy="," linesTerminatedBy="\\n" fieldsEnclosedBy="&quot;" ignoreHeaderLines="1"
      rowType="{TERMS}MaterialEntity">
    <files><location>{_FILE}</location></files>
    <id index="0"/>
{fields}
  </core>
</archive>
"""


def _eml(manifest: Manifest) -> str:
    """Return the least that EML 2.2 asks for: a title, who made it and whom to ask, which is the bank."""
    bank = f"<organizationName>{escape(manifest.bank)}</organizationName>"
    return f"""<?xml version="1.0" encoding="UTF-8"?>
<eml:eml xmlns:eml="https://eml.ecoinformatics.org/eml-2.2.0" packageId={quoteattr(manifest.parcel)}
    system="sporebank">
  <dataset>
    <title>Fern spore in parcel {escape(manifest.parcel)}</title>
    <creator>{bank}</creator>
    <pubDate>{manifest.sent_on.isoformat()}</pubDate>
    <contact>{bank}</contact>
  </dataset>
</eml:eml>
"""
