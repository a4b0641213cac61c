"""A manifest as CSV: a row for each packet, for spreadsheets and for other banks, which read it back as it was written.

UTF-8 with a byte order mark so that spreadsheets know it; dates in ISO 8601; amounts in whole micrograms;
shares from 0 to 1 with a decimal point. What concerns the whole parcel stands in every row. `kept` has a line for each
temperature in degrees Celsius, and since when; `tests` one for each test.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence
from typing import Any

from sporebank.core import names
from sporebank.core.errors import Refusal
from sporebank.core.papers import MANIFEST_VERSION, Counted, Manifest, ManifestItem
from sporebank.formats.manifest_json import FORMAT, manifest_from
from sporebank.formats.strict_json import MOST_DIGITS, Part, text_of

ENCODING = "utf-8-sig"
_PARCEL = ("parcel", "bank", "bank_tag", "sent_on", "recipient", "general_cautions", "permits", "checksum")
_ITEM = (
    "line", "code", "taxon", "clone", "source", "origin", "collected", "micrograms",
    "alive_low", "alive_middle", "alive_high", "state", "basis", "as_of", "spore_class",
    "permission", "permit", "network_number", "cautions", "batch", "kept", "tests", "country",
)  # fmt: skip
COLUMNS = (*_PARCEL, *_ITEM)
_FIRST = tuple(column for column in COLUMNS if column not in ("permits", "country"))
"""The columns of the first version."""
_VERSIONS = {COLUMNS: MANIFEST_VERSION, _FIRST: 1}
_OTHER_NAMES = {"code": "vial"}
"""What is called otherwise in JSON."""
_AS_IT_IS = (
    "code", "batch", "taxon", "clone", "source", "origin", "collected", "spore_class", "state", "basis", "as_of",
    "permission", "permit", "network_number", "country",
)  # fmt: skip
_WHOLE = re.compile(rf"-?\d{{1,{MOST_DIGITS}}}")
_DECIMAL = re.compile(rf"-?\d{{1,{MOST_DIGITS}}}(\.\d{{1,30}})?(e[-+]\d{{1,3}})?")
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "'")  # a spreadsheet would take such a cell for a formula


def write_manifest(manifest: Manifest) -> bytes:
    """Return a manifest as CSV.

    Raises:
        Refusal: it has no packets, so that there is nothing to write.
    """
    if not manifest.items:
        raise Refusal("A manifest without packets cannot be written. Fill the request first.")
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    parcel = _parcel_cells(manifest)
    writer.writerows([guarded(cell) for cell in (*parcel, *_item_cells(item))] for item in manifest.items)
    return out.getvalue().encode(ENCODING)


def _parcel_cells(manifest: Manifest) -> tuple[str, ...]:
    return (
        manifest.parcel,
        manifest.bank,
        manifest.bank_tag,
        manifest.sent_on.isoformat(),
        manifest.recipient,
        "\n".join(manifest.cautions),
        "\n".join(manifest.permits),
        manifest.checksum(),
    )


def _item_cells(item: ManifestItem) -> Sequence[str]:
    shares = (item.share.low, item.share.middle, item.share.high) if item.share else ("", "", "")
    return (
        str(item.line),
        item.code,
        names.text(item.name),
        item.clone,
        item.source.value,
        item.origin,
        item.collected.iso(),
        str(item.micrograms),
        *(str(share) for share in shares),
        item.state.value,
        item.basis,
        item.as_of.isoformat(),
        item.spore_class,
        item.permission.value,
        item.permit,
        item.network_number,
        "\n".join(item.cautions),
        item.batch,
        "\n".join(f"{kept.since.isoformat()} {_celsius(kept.celsius)}" for kept in item.kept),
        "\n".join(_test(test) for test in item.tests),
        item.country,
    )


def _celsius(celsius: float | None) -> str:
    return "unknown" if celsius is None else f"{celsius}"


def _test(test: Counted) -> str:
    """Return a test: `2024-01-10 2024-02-20 88/100 90/100`, sown, counted, and germinated of how many a count."""
    counts = " ".join(f"{germinated}/{sown}" for germinated, sown in test.counts)
    return f"{test.sown_on.isoformat()} {test.counted_on.isoformat()} {counts}"


def guarded(cell: str) -> str:
    """Return a cell that no spreadsheet takes for a formula."""
    return f"'{cell}" if cell.startswith(FORMULA) else cell


def read_manifest(data: bytes) -> Manifest:
    """Read a manifest that another bank wrote as CSV.

    Raises:
        Refusal: it is no manifest, or not as it was written, which a spreadsheet that saved it anew may have seen to.
    """
    head, *rows = _rows(data)
    version = _VERSIONS.get(tuple(head))
    if version is None:
        raise Refusal(
            "This table is not a manifest of fern spore as it was written. Choose the CSV that came with the parcel, "
            "and not one that a spreadsheet has saved anew."
        )
    if not rows:
        raise Refusal("There are no packets in this manifest, so there is nothing to take in.")
    packets = [dict(zip(head, _filled(number, row, head), strict=True)) for number, row in enumerate(rows, start=1)]
    parcels = {tuple(packet[column] for column in _PARCEL if column in packet) for packet in packets}
    if len(parcels) > 1:
        raise Refusal("The rows of this table are not of one parcel. Ask the sender for the file again.")
    return manifest_from(Part(_whole(packets, version), ""))


def _rows(data: bytes) -> list[list[str]]:
    """Return the cells of a table, row by row; the post may have put other line ends, and more of them."""
    text = text_of(data).replace("\r\n", "\n")
    try:
        return [row for row in csv.reader(io.StringIO(text, newline=""), strict=True) if row]
    except csv.Error as error:
        raise Refusal("This table ends too early or is damaged. Ask the sender for the file again.") from error


def _filled(number: int, row: Sequence[str], head: Sequence[str]) -> list[str]:
    """Return the cells of a packet as they were before they were guarded."""
    if len(row) != len(head):
        raise Refusal(f"Packet {number}: a part of the row is missing. Ask the sender for the file again.")
    return [cell[1:] if cell.startswith("'") else cell for cell in row]


def _whole(packets: Sequence[Mapping[str, str]], version: int) -> dict[str, Any]:
    """Return a manifest as it would stand in JSON; what cannot be read stays a text, which is refused there."""
    parcel = packets[0]
    whole = {
        "format": FORMAT,
        "version": version,
        "parcel": parcel["parcel"],
        "bank": {"name": parcel["bank"], "tag": parcel["bank_tag"]},
        "sent_on": parcel["sent_on"],
        "recipient": parcel["recipient"],
        "cautions": _lines(parcel["general_cautions"]),
        "packets": [_packet(packet) for packet in packets],
        "checksum": parcel["checksum"],
    }
    return whole if version == 1 else {**whole, "permits": _lines(parcel["permits"])}


def _packet(cells: Mapping[str, str]) -> dict[str, Any]:
    alive = {name: cells[f"alive_{name}"] for name in ("low", "middle", "high")}
    return {
        **{_OTHER_NAMES.get(name, name): cells[name] for name in _AS_IT_IS if name in cells},
        "line": _number(cells["line"]),
        "micrograms": _number(cells["micrograms"]),
        "alive": {name: _number(cell) for name, cell in alive.items()} if any(alive.values()) else None,
        "cautions": _lines(cells["cautions"]),
        "kept": [_kept(line) for line in _lines(cells["kept"])],
        "tests": [_read_test(line) for line in _lines(cells["tests"])],
    }


def _lines(cell: str) -> list[str]:
    return cell.split("\n") if cell else []


def _number(cell: str) -> int | float | str:
    if _WHOLE.fullmatch(cell):
        return int(cell)
    return float(cell) if _DECIMAL.fullmatch(cell) else cell


def _kept(line: str) -> dict[str, Any]:
    since, _, celsius = line.partition(" ")
    return {"since": since, "celsius": None if celsius == "unknown" else _number(celsius)}


def _read_test(line: str) -> dict[str, Any]:
    sown_on, counted_on, *counts = f"{line} ".split(" ")
    pairs = [count.partition("/") for count in counts if count]
    each = [{"germinated": _number(germinated), "sown": _number(sown)} for germinated, _, sown in pairs]
    return {"sown_on": sown_on, "counted_on": counted_on, "counts": each}
