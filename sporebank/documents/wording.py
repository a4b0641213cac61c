"""What a label can say: every text by its key (`core.layout.TEXTS`), from the full wording to the shortest allowed."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

from sporebank.core import codes, names
from sporebank.core.dates import PartDate
from sporebank.core.fit import SEPARATOR, Line, Wording
from sporebank.core.papers import AddressLabel, Label, PacketLabel, ParcelLabel, PlaceLabel, PotLabel, VialLabel
from sporebank.core.records import Run
from sporebank.documents import fonts

NO_BREAK = "\N{NO-BREAK SPACE}"
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=%|mg\b|µg\b|°C)")
_STEP_DOWN = " / "  # between the places of a path

Texts = Mapping[str, tuple[Wording, ...]]


def texts_of(label: Label) -> Texts:
    """Return the texts of a label by key; one that it has nothing for is empty."""
    if isinstance(label, VialLabel):
        return _code(label.code) | _vial(label)
    if isinstance(label, PotLabel):
        return _code(label.code) | _pot(label)
    if isinstance(label, PacketLabel):
        return _code(label.code) | _packet(label)
    if isinstance(label, PlaceLabel):
        return _code(label.code) | _place(label)
    if isinstance(label, ParcelLabel):
        return _code(label.code) | _parcel(label)
    return _address(label)


def called(label: Label) -> str:
    """Return how a label is named where something is said of it: its code, or the first line of its address."""
    if isinstance(label, AddressLabel):
        return next(iter(label.address), "An address")
    return codes.grouped(label.code)


def joined(parts: Sequence[tuple[Wording, ...]]) -> tuple[Wording, ...]:
    """Return several texts as one with dots between them, each as short as it has to be; a lone one as it is."""
    if len(parts) < 2:
        return parts[0] if parts else ()
    most = max(len(part) for part in parts)
    dot = Run(f" {SEPARATOR} ")
    found = []
    for step in range(most):
        lines = [line for part in parts for line in part[min(step, len(part) - 1)]]
        found.append((tuple(run for number, line in enumerate(lines) for run in (*([dot] if number else []), *line)),))
    return tuple(found)


def _code(code: str) -> dict[str, tuple[Wording, ...]]:
    whole = codes.grouped(code)
    return {"code": _plain(whole), "tag": _plain(whole[:5]), "serial": _plain(whole[6:])}


def _name(label: VialLabel | PotLabel | PacketLabel) -> dict[str, tuple[Wording, ...]]:
    ways = tuple((_clean(line),) for line in names.abbreviations(label.name))
    return {"name": ways, "clone": _plain(label.clone), "note": _plain(label.note)}


def _vial(label: VialLabel) -> dict[str, tuple[Wording, ...]]:
    return _name(label) | {
        "collected": _dated(label.collected),
        "amount": _plain(label.amount),
        "place": _path(label.place),
        "origin": _plain(label.origin),
    }


def _pot(label: PotLabel) -> dict[str, tuple[Wording, ...]]:
    batch = codes.grouped(label.batch)
    return _name(label) | {"sown": _dated(PartDate.of(label.sown), "sown "), "batch": _plain(f"from {batch}", batch)}


def _packet(label: PacketLabel) -> dict[str, tuple[Wording, ...]]:
    return _name(label) | {
        "collected": _dated(label.collected, "collected "),
        "amount": _plain(label.amount),
        "alive": _plain(label.alive),
        "vial": _plain(f"from {codes.grouped(label.vial)}", codes.grouped(label.vial)) if label.vial else (),
        "parcel": _plain(f"{codes.grouped(label.parcel)}, {_unbroken(f'line {label.line}')}"),
        "origin": _plain(label.origin),
        "caution": _plain(". ".join(caution.rstrip(".") for caution in label.cautions)),
    }


def _place(label: PlaceLabel) -> dict[str, tuple[Wording, ...]]:
    return {
        "title": _plain(label.title),
        "path": _path(label.path),
        "conditions": _plain(label.conditions),
        "content": _plain(label.content),
        "note": _plain(label.note),
    }


def _address(label: AddressLabel | ParcelLabel) -> dict[str, tuple[Wording, ...]]:
    lines = tuple(line for text in label.address for line in _plain(text)[:1])
    address = tuple(line for wording in lines for line in wording)
    return {"address": (address,) if address else (), "sender": _plain(label.sender), "note": _plain(label.note)}


def _parcel(label: ParcelLabel) -> dict[str, tuple[Wording, ...]]:
    sent = _dated(PartDate.of(label.sent), "sent ")[:1] if label.sent else ()
    return _address(label) | {"sent": sent, "content": _plain(label.content)}


def _path(path: str) -> tuple[Wording, ...]:
    """Return a path, then the same without its outermost places: whoever stands before the box knows the room."""
    steps = path.split(_STEP_DOWN)
    return _plain(*(_STEP_DOWN.join(steps[start:]) for start in range(len(steps))))


def _dated(day: PartDate, word: str = "") -> tuple[Wording, ...]:
    """Return a date with its word, without its word, without its day, and as a year."""
    months = [day, PartDate(day.year, day.month), PartDate(day.year)]
    return _plain(*dict.fromkeys(_unbroken(text) for text in (word + day.label(), *(one.label() for one in months))))


def _unbroken(text: str) -> str:
    return text.replace(" ", NO_BREAK)


def _plain(*texts: str) -> tuple[Wording, ...]:
    return tuple(((Run(kept),),) for kept in map(_kept, _said(texts)))


def _said(texts: Iterable[str]) -> list[str]:
    return [text for text in texts if text.strip()]


def _kept(text: str) -> str:
    """Clean a text but for the spaces at which it must not break: those given, and between number and unit."""
    cleaned = NO_BREAK.join(fonts.clean(part) for part in text.split(NO_BREAK))
    return _BEFORE_UNIT.sub(NO_BREAK, cleaned)


def _clean(line: Line) -> Line:
    """Compose each run; spaces at its ends hold the runs apart and stay."""
    return tuple(Run(fonts.composed(run.text), run.italic) for run in line)
