"""What stands where on a label: layouts of fields in millimetres.

A `Layout` is for one kind of label and has a size of its own; its `Field`s show one or more texts of the label (`TEXTS`
says which a kind has) or its code as a symbol. `faults(layout)` tells which of its numbers are wrong and why;
`problems(layout)` has the sentences alone.

The rule for sheets of other sizes: a layout is never stretched. It is drawn at its true size in the middle of the
label, and only on labels into which it fits whole (`fits`). `choose` takes the largest layout of a kind that fits;
`suits` is true where that one fills at least half of the label.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import combinations

from sporebank.core.errors import Refusal
from sporebank.core.fit import Box, block_height
from sporebank.core.sheets import SMALLEST_MODULE, Rect, Sheet

SYMBOL = "symbol"
CODE_MODULES = 29  # of a symbol of ten characters: 21, and 4 of quiet zone on each side (ISO/IEC 18004)
CODE_SIDE = CODE_MODULES * SMALLEST_MODULE  # mm
FLOOR = 4.0  # points; below this nobody reads a vial in a fridge (our own choice)
MOST_LINES = 6
LARGEST = 1000.0  # mm; no label is wider or higher (our own choice)
_CODE_TAKES = f"takes {CODE_SIDE:.2f} mm: {CODE_MODULES} modules of {SMALLEST_MODULE:g} mm, quiet zone and all"
_HALF = 0.5  # of a label that a layout must fill to be offered for it (our own choice)
_SLACK = 0.01  # mm


class Kind(StrEnum):
    """The kinds of labels; an upright tag is read as it stands in the pot, the other one along its length."""

    VIAL = "vial"
    CAP = "cap"
    POT_UPRIGHT = "pot upright"
    POT_ALONG = "pot along"
    PACKET = "packet"
    BAG = "bag"
    BOX = "box"
    PLACE = "place"
    ADDRESS = "address"
    PARCEL = "parcel"


SHEET_SETTINGS = {"vial_sheet": Kind.VIAL, "pot_sheet": Kind.POT_ALONG, "packet_sheet": Kind.PACKET}
"""The settings that name the sheet offered first for a kind."""

_CODE = (SYMBOL, "code", "tag", "serial")
_SPORE = (*_CODE, "name", "clone", "collected", "amount", "place", "origin", "note")
_POT = (*_CODE, "name", "clone", "sown", "batch", "note")
_SPOT = (*_CODE, "title", "path", "conditions", "content", "note")
TEXTS: dict[Kind, tuple[str, ...]] = {
    Kind.VIAL: _SPORE,
    Kind.CAP: _SPORE,
    Kind.BAG: _SPORE,
    Kind.POT_UPRIGHT: _POT,
    Kind.POT_ALONG: _POT,
    Kind.PACKET: (
        *_CODE,
        "name",
        "clone",
        "collected",
        "amount",
        "alive",
        "parcel",
        "origin",
        "caution",
        "vial",
        "note",
    ),
    Kind.BOX: _SPOT,
    Kind.PLACE: _SPOT,
    Kind.ADDRESS: ("address", "sender", "note"),
    Kind.PARCEL: (*_CODE, "address", "sender", "sent", "content", "note"),
}
"""The texts that a field of each kind may show. `tag` and `serial` are the two halves of `code`."""


class Align(StrEnum):
    """Where a text stands across its field."""

    LEFT = "left"
    CENTRE = "centre"
    RIGHT = "right"


class Stand(StrEnum):
    """Where a text stands between the top and the bottom of its field."""

    TOP = "top"
    MIDDLE = "middle"
    BOTTOM = "bottom"


@dataclass(frozen=True)
class Field:
    """One text, or the symbol, in a rectangle in mm from the label's top left; sizes in points.

    Several texts in `show` stand on one line with a dot between them. Names are italic where the codes of nomenclature
    want it; `italic` slants any other text. `turn` 90 reads upwards. A text of a `whole` field is never shortened. A
    `mandatory` field that has nothing to show is told before printing.
    """

    show: tuple[str, ...]
    x: float
    y: float
    width: float
    height: float
    largest: float = 7.0
    smallest: float = 4.5
    lines: int = 1
    align: Align = Align.LEFT
    stand: Stand = Stand.MIDDLE
    turn: int = 0
    strong: bool = False
    italic: bool = False
    whole: bool = False
    mandatory: bool = False

    @property
    def rect(self) -> Rect:
        """The field on its label."""
        return Rect(self.x, self.y, self.width, self.height)

    @property
    def box(self) -> Box:
        """The room for its text, along the text."""
        width, height = (self.height, self.width) if self.turn else (self.width, self.height)
        return Box(width, height, self.largest, self.smallest, self.lines, self.whole)

    @property
    def called(self) -> str:
        """How sentences name it."""
        return f"“{' · '.join(self.show)}”"


@dataclass(frozen=True)
class Layout:
    """The fields of one kind of label on `width` by `height` mm.

    `stem` mm at the end of a tag (the right end, or the lower end of an upright one) go into the growing mix and stay
    blank. On a round layout every field lies within the circle.
    """

    id: str
    title: str
    kind: Kind
    width: float
    height: float
    fields: tuple[Field, ...]
    round: bool = False
    stem: float = 0.0

    @property
    def area(self) -> float:
        """The area in mm²."""
        return self.width * self.height * (math.pi / 4 if self.round else 1)

    @property
    def printed(self) -> Rect:
        """The part that may carry print."""
        if self.height > self.width:
            return Rect(0.0, 0.0, self.width, self.height - self.stem)
        return Rect(0.0, 0.0, self.width - self.stem, self.height)


@dataclass(frozen=True)
class Fault:
    """One number that is wrong: a sentence, which number, and whose.

    `number` is an attribute of `Field`, or of `Layout` where `places` is empty; else `places` are the numbers of the
    fields concerned, counted from 0.
    """

    sentence: str
    number: str
    places: tuple[int, ...] = ()


def problems(layout: Layout) -> tuple[str, ...]:
    """Return what is wrong with a layout's numbers, a sentence each; nothing when it can be printed."""
    return tuple(fault.sentence for fault in faults(layout))


def faults(layout: Layout) -> tuple[Fault, ...]:
    """Return which numbers of a layout are wrong, and why; nothing when it can be printed."""
    if wrong := _of_size(layout):
        return (wrong,)
    found = [*_of_label(layout)]
    sound: list[int] = []
    for place, one in enumerate(layout.fields):
        numbers = [*_of_numbers(one)]
        sound += [place] * (not numbers)
        rest = () if numbers else (*_of_place(one, layout), *_of_texts(one, layout.kind))
        found += [replace(fault, places=(place,)) for fault in (*numbers, *rest)]
    return (*found, *_overlaps(layout.fields, sound))


def fits(layout: Layout, sheet: Sheet) -> bool:
    """Return whether a layout fits whole into the labels of a sheet."""
    if sheet.round and not layout.round:
        return math.hypot(layout.width, layout.height) <= sheet.label_width + _SLACK
    return layout.width <= sheet.label_width + _SLACK and layout.height <= sheet.label_height + _SLACK


def suits(layouts: Sequence[Layout], kind: Kind, sheet: Sheet) -> bool:
    """Return whether the largest layout of a kind that fits fills at least half of the sheet's labels."""
    label = sheet.label_width * sheet.label_height * (math.pi / 4 if sheet.round else 1)
    return max((one.area for one in _fitting(layouts, kind, sheet)), default=0.0) >= _HALF * label


def choose(layouts: Sequence[Layout], kind: Kind, sheet: Sheet) -> Layout:
    """Return the largest layout of a kind that fits the labels of a sheet.

    Raises:
        Refusal: none fits; the sentence says how large the smallest is.
    """
    fitting = _fitting(layouts, kind, sheet)
    if fitting:
        return max(fitting, key=lambda one: one.area)
    smallest = min((one for one in layouts if one.kind == kind), key=lambda one: one.area, default=None)
    if smallest is None:
        raise Refusal(f"There is no layout for {kind} labels.", field="layout")
    raise Refusal(_too_large(smallest, sheet), field="sheet")


def require_fit(layout: Layout, sheet: Sheet) -> None:
    """Refuse to print a layout that has problems or does not fit the labels of a sheet.

    Raises:
        Refusal: with the numbers.
    """
    wrong = problems(layout)
    if wrong:
        raise Refusal(f"The layout “{layout.title}” cannot be printed. {' '.join(wrong)}", field="layout")
    if not fits(layout, sheet):
        raise Refusal(_too_large(layout, sheet), field="sheet")


def _fitting(layouts: Sequence[Layout], kind: Kind, sheet: Sheet) -> list[Layout]:
    return [one for one in layouts if one.kind == kind and fits(one, sheet)]


def _too_large(layout: Layout, sheet: Sheet) -> str:
    shape = " round" if sheet.round else ""
    return (
        f"A label of {sheet.label_width:g} × {sheet.label_height:g} mm{shape} is too small for the {layout.kind} "
        f"layout “{layout.title}”, which takes {layout.width:g} × {layout.height:g} mm. Choose larger labels."
    )


def _positive(value: float) -> bool:
    return math.isfinite(value) and value > 0


def _of_size(layout: Layout) -> Fault | None:
    """Return what is wrong with the size of the label itself."""
    size = f"{layout.width:g} × {layout.height:g} mm, stem {layout.stem:g} mm"
    for number, value in (("width", layout.width), ("height", layout.height), ("stem", layout.stem)):
        if not (_positive(value) or (number == "stem" and value == 0)):
            return Fault(f"A label has a width and a height of more than 0, and no stem below 0; not {size}.", number)
        if value > LARGEST:
            return Fault(f"A label has a {number} of at most {LARGEST:g} mm, not {value:g} mm.", number)
        if number != "stem" and value < CODE_SIDE and SYMBOL in TEXTS[layout.kind]:
            return Fault(f"A label whose {number} is {value:g} mm has no room for a code, which {_CODE_TAKES}.", number)
    return None


def _of_label(layout: Layout) -> Iterator[Fault]:
    if layout.round and layout.width != layout.height:
        size = f"{layout.width:g} × {layout.height:g} mm"
        yield Fault(f"A round label is as wide as high, not {size}.", "height")
    if layout.stem >= max(layout.width, layout.height):
        yield Fault(f"A stem of {layout.stem:g} mm leaves nothing of the label.", "stem")
    shown = {key for one in layout.fields for key in one.show}
    if not shown:
        yield Fault("The layout has no fields; add one.", "fields")
    if SYMBOL in shown and "code" not in shown and not {"tag", "serial"} <= shown:
        sentence = "The code must stand in letters beside the symbol; add the field “code”, or “tag” and “serial”."
        yield Fault(sentence, "fields")
    if SYMBOL in TEXTS[layout.kind] and SYMBOL not in shown:
        yield Fault("The symbol is missing; add the field “symbol”.", "fields")


def _of_numbers(one: Field) -> Iterator[Fault]:
    """Yield what is wrong with the numbers of a field by themselves."""
    for name in ("width", "height", "smallest", "largest"):
        if not _positive(value := getattr(one, name)):
            yield Fault(f"{one.called}: {name} must be more than 0, not {value:g}.", name)
    for name in ("x", "y"):
        if not math.isfinite(getattr(one, name)):
            yield Fault(f"{one.called}: x and y must be numbers.", name)
    if one.largest < one.smallest:
        sizes = f"the largest size of {one.largest:g} pt is below the smallest of {one.smallest:g} pt"
        yield Fault(f"{one.called}: {sizes}.", "largest")
    if 0 < one.smallest < FLOOR:
        sentence = f"{one.smallest:g} pt cannot be read; the smallest size is at least {FLOOR:g} pt"
        yield Fault(f"{one.called}: {sentence}.", "smallest")
    if one.turn not in (0, 90):
        yield Fault(f"{one.called}: a field is turned by 0 or 90 degrees, not {one.turn}.", "turn")
    if not 1 <= one.lines <= MOST_LINES:
        yield Fault(f"{one.called}: a field has from 1 to {MOST_LINES} lines, not {one.lines}.", "lines")


def _of_place(one: Field, layout: Layout) -> Iterator[Fault]:
    rect, area = one.rect, layout.printed
    if layout.round:
        beyond = _beyond_circle(rect, layout.width / 2)
        if beyond > _SLACK:
            too_large = math.hypot(rect.width, rect.height) > layout.width
            yield Fault(f"{one.called} lies outside the round label by {beyond:.1f} mm.", "width" if too_large else "x")
        return
    edges = (
        ("left", area.left - rect.left, "x"),
        ("top", area.top - rect.top, "y"),
        ("right", rect.right - area.right, "width" if rect.width > area.width else "x"),
        ("bottom", rect.bottom - area.bottom, "height" if rect.height > area.height else "y"),
    )
    for edge, beyond, number in edges:
        if beyond > _SLACK:
            where = "on the stem" if layout.stem and beyond <= layout.stem else "outside the label"
            yield Fault(f"{one.called} lies {where} by {beyond:.1f} mm, at the {edge}.", number)


def _beyond_circle(rect: Rect, radius: float) -> float:
    corners = ((x, y) for x in (rect.left, rect.right) for y in (rect.top, rect.bottom))
    return max(math.hypot(x - radius, y - radius) for x, y in corners) - radius


def _of_texts(one: Field, kind: Kind) -> Iterator[Fault]:
    unknown = [key for key in one.show if key not in TEXTS[kind]]
    if unknown or not one.show:
        wrong = ", ".join(unknown) or "nothing"
        yield Fault(f"{one.called}: labels of the kind {kind} show {', '.join(TEXTS[kind])}; not {wrong}.", "show")
        return
    if SYMBOL not in one.show:
        needed, height = block_height(1, one.smallest), one.box.height
        if height < needed - _SLACK:
            sentence = f"is {height:.2f} mm high; one line of {one.smallest:g} pt takes {needed:.2f} mm"
            yield Fault(f"{one.called} {sentence}.", "width" if one.turn else "height")
        return
    if len(one.show) > 1:
        yield Fault(f"{one.called}: the symbol stands in a field of its own.", "show")
    side = min(one.width, one.height)
    if side < CODE_SIDE:
        sentence = f"{one.called} is {side:.1f} mm wide; a code {_CODE_TAKES}."
        yield Fault(sentence, "height" if one.height < one.width else "width")


def _overlaps(fields: Sequence[Field], sound: Sequence[int]) -> Iterator[Fault]:
    for places in combinations(sound, 2):
        a, b = (fields[place] for place in places)
        across = min(a.x + a.width, b.x + b.width) - max(a.x, b.x)
        down = min(a.y + a.height, b.y + b.height) - max(a.y, b.y)
        if across > _SLACK and down > _SLACK:
            sentence = f"{a.called} and {b.called} overlap by {across:.1f} × {down:.1f} mm."
            yield Fault(sentence, "x" if across < down else "y", places)
