"""A manifest as CSV: one row for each packet, for spreadsheets and for other banks to read back.

UTF-8 with a byte order mark so that spreadsheets know it; dates in ISO 8601; amounts in whole micrograms;
shares from 0 to 1 with a decimal point. What concerns the whole parcel stands in every row. `kept` has a line for each
temperature in degrees Celsius, and since when; `tests` one for each test.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from sporebank.core import names
from sporebank.core.errors import Refusal
from sporebank.core.papers import Counted, Manifest, ManifestItem

ENCODING = "utf-8-sig"
_PARCEL = ("parcel", "bank", "bank_tag", "sent_on", "recipient", "general_cautions", "permits", "checksum")
_ITEM = (
    "line", "code", "taxon", "clone", "source", "origin", "collected", "micrograms",
    "alive_low", "alive_middle", "alive_high", "state", "basis", "as_of", "spore_class",
    "permission", "permit", "network_number", "cautions", "batch", "kept", "tests", "country",
)  # fmt: skip
COLUMNS = (*_PARCEL, *_ITEM)
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
