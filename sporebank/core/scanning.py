"""What a scan is, what may be wrong with it, and what it does in the mode that is shown."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum

from sporebank.core import codes
from sporebank.core.codes import KINDS, Code, grouped
from sporebank.core.errors import Refusal
from sporebank.core.records import Line


class Fault(StrEnum):
    """What can be wrong with a scan."""

    MISTAKE = "a mistake in the code"
    UNKNOWN = "nothing carries the code"
    FOREIGN = "another bank's code"


BEEPS = {Fault.MISTAKE: 1, Fault.UNKNOWN: 2, Fault.FOREIGN: 3}
"""How often the system's own sound is played, so that the ear knows which it was."""


class Misread(Refusal):
    """A scan that cannot be acted on, with what is wrong with it."""

    def __init__(self, sentence: str, fault: Fault) -> None:
        super().__init__(sentence)
        self.fault = fault


class Mode(StrEnum):
    """What a scan does."""

    FIND = "find"
    TAKE = "take out"
    MOVE = "move"
    PACK = "put into the parcel"
    CULL = "cull"
    LOOK = "record a look"


MODES_OF_PAGE: dict[str, tuple[Mode, ...]] = {
    "vials": (Mode.FIND, Mode.TAKE),
    "places": (Mode.FIND, Mode.MOVE),
    "share": (Mode.FIND, Mode.PACK),
    "cull": (Mode.FIND, Mode.CULL),
    "sow": (Mode.FIND, Mode.LOOK),
}
"""What a scan may do beside finding, by page; where a page is not named, it finds."""


class Step(StrEnum):
    """What one scan leads to."""

    FIND = "find"
    TAKE = "take"
    TURN = "turn to a place"
    MOVE = "move"
    PACK = "pack"
    TICK = "tick"
    LOOK = "look"


_STEPS = {Mode.TAKE: Step.TAKE, Mode.MOVE: Step.MOVE, Mode.PACK: Step.PACK, Mode.CULL: Step.TICK, Mode.LOOK: Step.LOOK}


_RECEIVE = "To take it in, choose “Receive a parcel…” on the page Share and open the manifest that came with it."


def read(text: str, tag: str) -> Code:
    """Read a scanned or typed code of the bank with this tag.

    Raises:
        Misread: it is no code, has a mistake in it, or is another bank's.
    """
    try:
        return codes.parse(text, tag)
    except Refusal as refusal:
        other = of_another_bank(text, tag)
        if other is None:
            raise Misread(str(refusal), Fault.MISTAKE) from None
    raise Misread(
        f"{grouped(other.text)} is a {KINDS[other.kind]} of another bank: its tag is {other.tag}, not {tag}. "
        + (_RECEIVE if other.kind == "R" else "Look it up in the manifest it came with."),
        Fault.FOREIGN,
    )


def of_another_bank(text: str, tag: str) -> Code | None:
    """Return a right code of a bank with another tag; None for anything else."""
    written = "".join(letter for letter in text.upper() if letter.isalnum())[1:4]
    there = written.translate(str.maketrans("OIL", "011"))
    try:
        return None if there == tag else codes.parse(text, there)
    except Refusal:
        return None


def unknown(code: Code) -> Misread:
    """Return why a code without a mistake leads nowhere."""
    return Misread(
        f"{grouped(code.text)} would be a {KINDS[code.kind]} of this bank, but nothing here carries it. "
        "Its storing may have been taken back, or this is an older copy of the bank.",
        Fault.UNKNOWN,
    )


def decide(mode: Mode, code: Code, *, has_place: bool) -> Step:
    """Return what a scan leads to; `has_place` says whether a place was scanned before.

    Raises:
        Refusal: in this mode such a code does nothing; the sentence says what to scan.
    """
    if mode is Mode.FIND:
        return Step.FIND
    if mode is Mode.MOVE and code.kind == "L":
        return Step.TURN
    wanted = {Mode.LOOK: "P", Mode.PACK: "K"}.get(mode, "V")
    if code.kind != wanted and not (mode is Mode.PACK and code.kind == "V"):
        raise Refusal(
            f"{grouped(code.text)} is a {KINDS[code.kind]}; here each scan should be of a {KINDS[wanted]} "
            f"({mode.value}). Nothing was done."
        )
    if mode is Mode.MOVE and not has_place:
        raise Refusal(f"Scan the place first, then {grouped(code.text)} and all that go there. Nothing was moved.")
    return _STEPS[mode]


def wanting(lines: Sequence[Line], taxon_id: int, clone_id: int) -> Line | None:
    """Return the first wish that still lacks packets and that a vial of this taxon and clone is of the kind of."""
    for line in lines:
        kind_fits = line.clone_id == clone_id if line.clone_id is not None else line.taxon_id == taxon_id
        if kind_fits and len(line.filled) < line.packets:
            return line
    return None


class Once:
    """Lets a text through once for as long as it stays in sight: again only after so many seconds without it."""

    def __init__(self, seconds: float) -> None:
        self._seconds = seconds
        self._seen: dict[str, float] = {}

    def fresh(self, text: str, now: float) -> bool:
        """Note that a text is in sight and return whether it came into sight just now."""
        before, self._seen[text] = self._seen.get(text), now
        return before is None or now - before >= self._seconds
