"""Reading a manifest back, as another bank would."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from datetime import date

from sporebank.core import naming
from sporebank.core.dates import PartDate
from sporebank.core.errors import Refusal
from sporebank.core.papers import Counted, Kept, Manifest, ManifestItem
from sporebank.core.records import Permission, Share, Source, State
from sporebank.formats.manifest_csv import COLUMNS, ENCODING, FORMULA


@dataclass(frozen=True)
class ReadManifest:
    """A manifest read back, and what was wrong with it: a row's number and a sentence for each."""

    manifest: Manifest
    problems: tuple[tuple[int, str], ...]


def read_manifest(data: bytes) -> ReadManifest:
    """Read a manifest; a row that cannot be read is told and left out, the others are kept.

    Raises:
        Refusal: it is no manifest at all.
    """
    try:
        rows = list(csv.DictReader(io.StringIO(data.decode(ENCODING), newline=""), strict=True))
    except (UnicodeDecodeError, csv.Error) as error:
        raise Refusal("This file is no manifest: it is not CSV in UTF-8. Save it again as such.") from error
    if not rows or not set(COLUMNS) <= set(rows[0]):
        raise Refusal("This file is no manifest: its first row does not name the columns of one.")
    cells = [{key: _unguarded(row[key] or "") for key in COLUMNS} for row in rows]
    items: list[ManifestItem] = []
    problems: list[tuple[int, str]] = []
    for number, row in enumerate(cells, start=2):
        try:
            items.append(_item(row))
        except (ValueError, Refusal) as error:
            problems.append((number, f"This packet cannot be read: {error}"))
    manifest = _manifest(cells[0], tuple(items))
    if manifest.checksum() != cells[0]["checksum"]:
        problems.append((1, "The checksum differs: this copy was changed after it was written, or is not whole."))
    return ReadManifest(manifest, tuple(problems))


def _manifest(row: dict[str, str], items: tuple[ManifestItem, ...]) -> Manifest:
    try:
        sent_on = date.fromisoformat(row["sent_on"])
    except ValueError as error:
        raise Refusal(f"This manifest has no day of sending that can be read: “{row['sent_on']}”.") from error
    return Manifest(
        row["parcel"], row["bank"], row["bank_tag"], sent_on, row["recipient"], items,
        _several(row["general_cautions"]), _several(row["permits"]),
    )  # fmt: skip


def _item(row: dict[str, str]) -> ManifestItem:
    return ManifestItem(
        line=int(row["line"]),
        code=row["code"],
        name=naming.parse(row["taxon"]),
        clone=row["clone"],
        source=Source(row["source"]),
        origin=row["origin"],
        collected=PartDate.parse(row["collected"]),
        micrograms=_amount(row["micrograms"]),
        share=_share(row),
        state=State(row["state"]),
        basis=row["basis"],
        as_of=date.fromisoformat(row["as_of"]),
        spore_class=row["spore_class"],
        permission=Permission(row["permission"]),
        permit=row["permit"],
        network_number=row["network_number"],
        cautions=_several(row["cautions"]),
        batch=row["batch"],
        kept=tuple(_kept(line) for line in _several(row["kept"])),
        tests=tuple(_test(line) for line in _several(row["tests"])),
        country=row["country"],
    )


def _kept(line: str) -> Kept:
    since, celsius = line.split(" ")
    return Kept(date.fromisoformat(since), None if celsius == "unknown" else float(celsius))


def _test(line: str) -> Counted:
    sown_on, counted_on, *counts = line.split(" ")
    pairs = (count.split("/") for count in counts)
    return Counted(
        date.fromisoformat(sown_on), date.fromisoformat(counted_on), tuple((int(x), int(n)) for x, n in pairs)
    )


def _share(row: dict[str, str]) -> Share | None:
    written = [row[key] for key in ("alive_low", "alive_middle", "alive_high")]
    if not any(written):
        return None
    low, middle, high = map(float, written)
    if not 0 <= low <= middle <= high <= 1:
        raise Refusal(f"alive {low} / {middle} / {high} are not three shares from 0 to 1 in rising order.")
    return Share(low, middle, high)


def _amount(written: str) -> int:
    micrograms = int(written)
    if micrograms < 0:
        raise Refusal(f"an amount cannot be less than nothing, as {micrograms} is.")
    return micrograms


def _several(cell: str) -> tuple[str, ...]:
    return tuple(cell.split("\n")) if cell else ()


def _unguarded(cell: str) -> str:
    return cell[1:] if cell.startswith("'") and cell[1:].startswith(FORMULA) else cell
