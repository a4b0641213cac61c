"""A stocktake: what should lie where, what was scanned where, and what follows from both."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum
from typing import Any

from sporebank.core import scanning, slots
from sporebank.core.codes import grouped
from sporebank.core.records import TaxonName
from sporebank.core.scanning import Misread


class Way(StrEnum):
    """How a box is gone through."""

    ANY = "in any order"
    SLOTS = "slot by slot"


class Group(StrEnum):
    """Where a vial ends."""

    RIGHT = "right"
    MISSING = "missing"
    WRONG = "in the wrong slot"
    STRANGER = "stranger"


def counted(count: int, group: Group) -> str:
    """Return how many are in a group, as people say it."""
    return f"{count:,} {group.value}{'s' if group is Group.STRANGER and count != 1 else ''}"


class Correction(StrEnum):
    """What is written about a vial that is not right."""

    NONE = "leave it"
    MOVE = "move to where it was found"
    MISSING = "note as missing"
    LOST = "write off as lost"


@dataclass(frozen=True)
class Spot:
    """A place and, where it is known and there is one, a slot of it."""

    place_id: int
    slot: int | None = None


@dataclass(frozen=True)
class Expected:
    """A vial where the bank has it; `spot` is None where it has none, `culled` where it was taken out."""

    vial_id: int
    code: str
    name: TaxonName
    clone: str
    spot: Spot | None
    culled: bool = False


@dataclass(frozen=True)
class Part:
    """A place that is gone through: a box with slots, or one without any."""

    place_id: int
    code: str
    path: str
    rows: int = 0
    columns: int = 0

    @property
    def size(self) -> int:
        """How many slots it has."""
        return self.rows * self.columns


@dataclass(frozen=True)
class Plan:
    """All that a stocktake goes by, read once: its places in walking order and the vials that should be there."""

    title: str
    tag: str
    parts: tuple[Part, ...]
    vials: tuple[Expected, ...]

    def part(self, place_id: int) -> Part:
        """Return a place of the stocktake."""
        return next(part for part in self.parts if part.place_id == place_id)

    def where(self, spot: Spot | None) -> str:
        """Return a spot as people say it; by its slot alone where a single box is gone through."""
        if spot is None:
            return "nowhere"
        known = next((part for part in self.parts if part.place_id == spot.place_id), None)
        if known is None:
            return "elsewhere"
        if len(self.parts) == 1 and spot.slot is not None:
            return slots.label(spot.slot, known.columns)
        return known.path if spot.slot is None else f"{known.path} / {slots.label(spot.slot, known.columns)}"


class Heard(StrEnum):
    """What one scan was."""

    TURNED = "turned to a place"
    RIGHT = "right"
    WRONG = "in the wrong slot"
    STRANGER = "stranger"
    AGAIN = "scanned already"
    REFUSED = "nothing is counted"


@dataclass(frozen=True)
class Answer:
    """What a scan was, in a word and a sentence; `fault` where the code itself is wrong."""

    heard: Heard
    text: str
    fault: scanning.Fault | None = None


@dataclass(frozen=True)
class Counts:
    """How far a stocktake has come."""

    right: int
    missing: int
    wrong: int
    strangers: int


@dataclass(frozen=True)
class Line:
    """One vial, or one strange label, in the result."""

    group: Group
    text: str
    vial: Expected | None
    expected: Spot | None
    found: Spot | None
    why: str = ""


@dataclass
class Stocktake:
    """What was scanned so far. Everything is matched in memory; nothing here reads the bank."""

    plan: Plan
    way: Way = Way.ANY
    at: int = 0
    slot: int = 0
    found: dict[str, Spot] = field(default_factory=dict)
    strangers: dict[str, Spot] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._expected = {vial.code: vial for vial in self.plan.vials}
        self._places = {part.code: part for part in self.plan.parts}
        self._last = ""
        if self.plan.parts and self.at not in {part.place_id for part in self.plan.parts}:
            self.at = self._first().place_id
        self._wrong = sum(not self._is_right(code) for code in self.found)

    def _first(self) -> Part:
        """Return the first box, or place in which something should lie loose."""
        lying = {vial.spot.place_id for vial in self.plan.vials if vial.spot}
        likely = (part for part in self.plan.parts if part.size or part.place_id in lying)
        return next(likely, self.plan.parts[0])

    # -- scanning

    def take(self, text: str) -> Answer:
        """Take one scan: a place is turned to, a vial is counted where one stands."""
        try:
            code = scanning.read(text, self.plan.tag)
        except Misread as misread:
            if misread.fault is scanning.Fault.MISTAKE:
                return Answer(Heard.REFUSED, str(misread), misread.fault)
            return self._strange(text, str(misread), misread.fault)
        if code.kind == "L":
            return self._turn_by_code(code.text)
        if code.kind != "V":
            return Answer(Heard.REFUSED, f"{grouped(code.text)} is no vial; it is not counted.")
        if code.text not in self._expected:
            return self._strange(code.text, f"{grouped(code.text)} is not expected here.", None)
        return self._count(code.text)

    def _turn_by_code(self, code: str) -> Answer:
        part = self._places.get(code)
        if part is None:
            return Answer(Heard.REFUSED, f"{grouped(code)} is a place outside this stocktake.")
        self.turn_to(part.place_id)
        return Answer(Heard.TURNED, part.path)

    def turn_to(self, place_id: int, slot: int = 0) -> None:
        """Stand before another place, at a slot of it."""
        self.at, self.slot, self._last = place_id, slot, ""

    def _here(self) -> Spot:
        part = self.plan.part(self.at)
        if self.way is Way.SLOTS and part.size:
            return Spot(self.at, min(self.slot, part.size - 1))
        return Spot(self.at)

    def _full(self) -> bool:
        part = self.plan.part(self.at)
        return self.way is Way.SLOTS and bool(part.size) and self.slot >= part.size

    def _count(self, code: str) -> Answer:
        here, before = self._here(), self.found.get(code)
        if before is not None and (before == here or code == self._last):
            return Answer(Heard.AGAIN, f"{grouped(code)} is counted already.")
        if self._full():
            return Answer(Heard.REFUSED, "The last slot is behind. Scan the next box, or go back to a slot.")
        self._put(code, here, self.found)
        should = self._expected[code].spot
        if self._is_right(code):
            return Answer(Heard.RIGHT, f"{grouped(code)}, {self.plan.where(should)}")
        return Answer(Heard.WRONG, f"{grouped(code)} belongs to {self.plan.where(should)}.")

    def _strange(self, text: str, why: str, fault: scanning.Fault | None) -> Answer:
        if self._full():
            return Answer(Heard.REFUSED, "The last slot is behind. Scan the next box, or go back to a slot.")
        if text in self.strangers and (text == self._last or self.strangers[text] == self._here()):
            return Answer(Heard.AGAIN, f"{why} It is noted already.")
        self._put(text, self._here(), self.strangers)
        return Answer(Heard.STRANGER, why, fault)

    def _put(self, text: str, here: Spot, into: dict[str, Spot]) -> None:
        """Note what lies here; what was noted in the very slot before gives way."""
        if here.slot is not None:
            for kept in (self.found, self.strangers):
                for other in [one for one, spot in kept.items() if spot == here and one != text]:
                    self._wrong -= kept is self.found and not self._is_right(other)
                    del kept[other]
            self.slot = here.slot + 1
        if into is self.found:
            self._wrong -= text in self.found and not self._is_right(text)
            self.found[text] = here
            self._wrong += not self._is_right(text)
        else:
            self.strangers[text] = here
        self._last = text

    def _is_right(self, code: str) -> bool:
        """Return whether a vial was found where it should be; where no slot was looked at, the place is enough."""
        should, is_at = self._expected[code].spot, self.found[code]
        return should is not None and should.place_id == is_at.place_id and is_at.slot in (None, should.slot)

    def step(self, by: int) -> None:
        """Move the marker: one on leaves a slot empty, one back looks at a slot again."""
        size = self.plan.part(self.at).size
        self.slot, self._last = max(0, min(self.slot + by, size)), ""

    def slot_said(self) -> str:
        """Return the slot at which the marker stands, as people say it."""
        part = self.plan.part(self.at)
        return slots.label(self.slot, part.columns) if self.slot < part.size else "the next box; this one is through"

    def begin_anew(self, way: Way) -> None:
        """Forget what was scanned."""
        self.way, self.slot, self._last, self._wrong = way, 0, "", 0
        self.found, self.strangers = {}, {}

    def copied(self) -> Stocktake:
        """Return it as it stands, to be read while more is scanned."""
        return replace(self, found=dict(self.found), strangers=dict(self.strangers))

    # -- what follows

    def counts(self) -> Counts:
        """Return how far it has come."""
        right = len(self.found) - self._wrong
        return Counts(right, len(self._expected) - len(self.found), self._wrong, len(self.strangers))

    def begun(self) -> bool:
        """Return whether anything was scanned."""
        return bool(self.found or self.strangers)

    def here(self, place_id: int) -> dict[int, tuple[Group | None, Expected | None]]:
        """Return a box as it fills in: by slot, the vial and its group, no group where it is not yet found.

        Where no slots were looked at, a vial found is shown in the slot in which it should be.
        """
        shown: dict[int, tuple[Group | None, Expected | None]] = {}
        for vial in self.plan.vials:
            if vial.spot is not None and vial.spot.place_id == place_id and vial.spot.slot is not None:
                shown[vial.spot.slot] = (self._group_at_home(vial), vial)
        for code, spot in self.found.items():
            if spot.place_id == place_id and spot.slot is not None:
                shown[spot.slot] = (Group.RIGHT if self._is_right(code) else Group.WRONG, self._expected[code])
        for spot in self.strangers.values():
            if spot.place_id == place_id and spot.slot is not None:
                shown[spot.slot] = (Group.STRANGER, None)
        return shown

    def _group_at_home(self, vial: Expected) -> Group | None:
        if vial.code not in self.found:
            return None
        return Group.RIGHT if self._is_right(vial.code) else Group.MISSING

    def result(self, elsewhere: Mapping[str, Expected], places: Mapping[int, str]) -> tuple[Line, ...]:
        """Return every vial in its group, in walking order.

        Args:
            elsewhere: strangers that are vials of this bank, by code.
            places: the paths of places outside the stocktake, by id.
        """
        order = {
            group: number for number, group in enumerate((Group.WRONG, Group.STRANGER, Group.MISSING, Group.RIGHT))
        }
        lines = [self._line(vial) for vial in self.plan.vials]
        lines += [self._stranger(text, spot, elsewhere.get(text), places) for text, spot in self.strangers.items()]
        return tuple(sorted(lines, key=lambda line: order[line.group]))

    def _line(self, vial: Expected) -> Line:
        spot = self.found.get(vial.code)
        if spot is None:
            return Line(Group.MISSING, vial.code, vial, vial.spot, None)
        return Line(Group.RIGHT if self._is_right(vial.code) else Group.WRONG, vial.code, vial, vial.spot, spot)

    def _stranger(self, text: str, spot: Spot, vial: Expected | None, places: Mapping[int, str]) -> Line:
        if vial is None:
            return Line(Group.STRANGER, text, None, None, spot, _why_strange(text, self.plan.tag))
        if vial.culled:
            return Line(Group.STRANGER, text, vial, None, spot, "It was culled; undo the cull before it is put back.")
        home = "It has no place in the bank: it was noted as missing or lost."
        if vial.spot is not None:
            home = f"It belongs to {places.get(vial.spot.place_id, 'another place')}."
        return Line(Group.STRANGER, text, vial, vial.spot, spot, home)

    # -- keeping it

    def kept(self) -> dict[str, Any]:
        """Return what was scanned, ready for JSON."""
        return {
            "way": self.way.value,
            "at": self.at,
            "slot": self.slot,
            "found": _as_rows(self.found),
            "strangers": _as_rows(self.strangers),
        }


def resumed(plan: Plan, kept: Mapping[str, Any]) -> Stocktake:
    """Return a stocktake begun earlier; vials and places that are gone since are left out."""
    places = {part.place_id for part in plan.parts}
    codes = {vial.code for vial in plan.vials}
    found = {code: spot for code, spot in _from_rows(kept["found"]).items() if spot.place_id in places}
    strangers = {text: spot for text, spot in _from_rows(kept["strangers"]).items() if spot.place_id in places}
    strangers |= {code: spot for code, spot in found.items() if code not in codes}
    here = {code: spot for code, spot in found.items() if code in codes}
    here |= {text: spot for text, spot in strangers.items() if text in codes}
    return Stocktake(
        plan, Way(kept["way"]), int(kept["at"]), int(kept["slot"]), here,
        {text: spot for text, spot in strangers.items() if text not in codes},
    )  # fmt: skip


def _as_rows(spots: Mapping[str, Spot]) -> list[list[Any]]:
    return [[text, spot.place_id, spot.slot] for text, spot in spots.items()]


def _from_rows(rows: Sequence[Sequence[Any]]) -> dict[str, Spot]:
    return {str(text): Spot(int(place_id), None if slot is None else int(slot)) for text, place_id, slot in rows}


def _why_strange(text: str, tag: str) -> str:
    try:
        return str(scanning.unknown(scanning.read(text, tag)))
    except Misread as misread:
        return str(misread)


def choices(line: Line) -> tuple[Correction, ...]:
    """Return what may be written about a vial, the one proposed first."""
    if line.vial is None or line.vial.culled or line.group is Group.RIGHT:
        return (Correction.NONE,)
    if line.group is Group.MISSING:
        return (Correction.NONE, Correction.MISSING, Correction.LOST)
    return (Correction.MOVE, Correction.NONE)


@dataclass(frozen=True)
class Corrected:
    """A vial, what is written about it, and the spot it was found at."""

    vial_id: int
    correction: Correction
    spot: Spot | None = None


def settled(plan: Plan, wanted: Sequence[Corrected]) -> list[Corrected]:
    """Return corrections with a slot for all that move: the one looked at, else the first that is free then.

    What is corrected itself leaves its slot. Where none is free, the slot stays unknown.
    """
    leaving = {one.vial_id for one in wanted if one.correction is not Correction.NONE}
    taken = {vial.spot for vial in plan.vials if vial.vial_id not in leaving}
    taken |= {one.spot for one in wanted if one.correction is Correction.MOVE}
    free: dict[int, Iterator[Spot]] = {}
    answer = []
    for one in wanted:
        if one.correction is Correction.MOVE and one.spot is not None and one.spot.slot is None:
            part = plan.part(one.spot.place_id)
            spots = (Spot(part.place_id, slot) for slot in range(part.size))
            left = free.setdefault(part.place_id, (spot for spot in spots if spot not in taken))
            answer.append(replace(one, spot=next(left, one.spot)))
        else:
            answer.append(one)
    return answer


@dataclass(frozen=True)
class ProtocolLine:
    """One line of the protocol; `expected` and `found` are paths for people."""

    group: Group
    code: str
    name: TaxonName | None
    clone: str
    expected: str
    found: str
    done: str


@dataclass(frozen=True)
class Protocol:
    """What a stocktake found, to be printed and signed."""

    bank: str
    title: str
    on: date
    way: Way
    lines: tuple[ProtocolLine, ...]
    signed_by: str = ""

    def count(self, group: Group) -> int:
        """Return how many are in a group."""
        return sum(line.group is group for line in self.lines)
