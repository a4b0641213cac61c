"""Measure how often symbols are read, whole and damaged on purpose: python tests/bench/readrate.py [kind of label]"""

from __future__ import annotations

import json
import sys
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import zxingcpp
from scipy import ndimage

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from sporebank.core.layout import Kind, Layout  # noqa: E402 - found only once the root is on the path
from sporebank.core.sheets import DPIS, PrinterFit, roll  # noqa: E402
from sporebank.documents.drawing import Stamp  # noqa: E402
from sporebank.documents.labels import LabelPrint, render  # noqa: E402
from sporebank.documents.qr import QUIET_ZONE  # noqa: E402
from sporebank.documents.setting import set_label  # noqa: E402
from sporebank.formats.label_layouts import load_label_layouts  # noqa: E402
from tests.documents.examples import LABELS, pictures  # noqa: E402

LABELS_EACH = 4
SEEN_AT = 600  # dots an inch, at least: what a scanner held close makes of the print
LARGE = 0.33  # mm; from this module on damaged symbols must read
WHITE = 255.0
VIAL_MM = 12.7  # outside diameter of a 2 ml vial (US Commercial Item Description A-A-54298, 1990)
BLUR_MM, NOISE, SPECKS, TURN = 0.1, 40.0, 0.02, 10.0
INK, PAPER, SHADE = 120.0, 200.0, 40.0
COVERED = (0.05, 0.10)  # of the symbol's area
MARGIN_MM = 4.0

Picture = np.ndarray


@dataclass(frozen=True)
class Print:
    """One label as printed: its picture, dots for each mm in it, and the dark square of its symbol in dots."""

    kind: Kind
    code: str
    picture: Picture
    per_mm: float
    module: float
    square: tuple[float, float, float]


def prints(kinds: set[Kind]) -> Iterator[Print]:
    """Yield labels of every layout at every resolution, with white around them as on a table."""
    for layout in load_label_layouts():
        if layout.kind in kinds:
            for dpi in DPIS:
                yield from _of_layout(layout, dpi)


def _of_layout(layout: Layout, dpi: int) -> Iterator[Print]:
    printer, labels = PrinterFit(dpi=dpi), [LABELS[layout.kind](i) for i in range(LABELS_EACH)]
    alone = roll("one", "one", layout.width, layout.height, layout.round)
    larger = -(-SEEN_AT // dpi)
    per_mm = larger * dpi / 25.4
    margin = round(MARGIN_MM * per_mm)
    for label, page in zip(labels, pictures(render(LabelPrint(labels, layout, alone, printer)), dpi), strict=True):
        dots = np.where(np.array(page) < 128, 0.0, WHITE).repeat(larger, axis=0).repeat(larger, axis=1)
        stamp = next(mark for mark in set_label(label, layout, printer) if isinstance(mark, Stamp))
        quiet, dark = QUIET_ZONE * stamp.symbol.module, stamp.symbol.module * len(stamp.symbol.dark)
        square = ((stamp.left + quiet) * per_mm + margin, (stamp.top + quiet) * per_mm + margin, dark * per_mm)
        picture = np.pad(dots, margin, constant_values=WHITE)
        yield Print(layout.kind, label.code, picture, per_mm, stamp.symbol.module, square)


def blurred(one: Print, chance: np.random.Generator) -> Picture:
    """Out of focus."""
    return ndimage.gaussian_filter(one.picture, BLUR_MM * one.per_mm)


def noisy(one: Print, chance: np.random.Generator) -> Picture:
    """Grain, and specks of black and white."""
    picture = one.picture + chance.normal(0, NOISE, one.picture.shape)
    specks = chance.random(picture.shape)
    picture[specks < SPECKS / 2] = 0
    picture[specks > 1 - SPECKS / 2] = WHITE
    return picture


def turned(one: Print, chance: np.random.Generator) -> Picture:
    """Held askew."""
    return ndimage.rotate(one.picture, chance.choice([-TURN, TURN]), order=1, cval=WHITE)


def stained(one: Print, chance: np.random.Generator) -> Picture:
    """A stain or a scrape over 5 to 10 % of the symbol, anywhere but on the three corners by which readers find it.

    A finder pattern and its separator take 8 modules (ISO/IEC 18004).
    """
    left, top, side = one.square
    width = side * np.sqrt(chance.uniform(*COVERED))
    corner = 8 * one.module * one.per_mm
    while True:
        x, y = chance.uniform(0, side - width, 2)
        near_left, near_top = x < corner, y < corner
        near_right, near_bottom = x + width > side - corner, y + width > side - corner
        if not (near_left and (near_top or near_bottom)) and not (near_right and near_top):
            return _filled(one, left + x, top + y, width, width, chance)


def cornered(one: Print, chance: np.random.Generator) -> Picture:
    """The same right on one of the three corners: no correction helps there, and readers mostly give up."""
    left, top, side = one.square
    width = side * np.sqrt(chance.uniform(*COVERED))
    x, y = chance.choice([(0.0, 0.0), (0.0, side - width), (side - width, 0.0)])
    return _filled(one, left + x, top + y, width, width, chance)


def _filled(one: Print, x: float, y: float, width: float, height: float, chance: np.random.Generator) -> Picture:
    picture = one.picture.copy()
    picture[round(y) : round(y + height), round(x) : round(x + width)] = chance.choice([0.0, WHITE])
    return picture


def grey(one: Print, chance: np.random.Generator) -> Picture:
    """Printed with little ink on greyish paper, in a light that falls off to one side."""
    light = np.linspace(0, SHADE, one.picture.shape[1])
    return INK + one.picture * (PAPER - INK) / WHITE - light


def curved(one: Print, chance: np.random.Generator) -> Picture:
    """Wrapped around a vial and seen from in front of the symbol."""
    radius = VIAL_MM / 2 * one.per_mm
    middle = one.square[0] + one.square[2] / 2
    seen = np.arange(-int(radius * 0.98), int(radius * 0.98))
    columns = middle + radius * np.arcsin(seen / radius)
    rows = np.arange(one.picture.shape[0])
    grid = np.meshgrid(rows, columns, indexing="ij")
    return ndimage.map_coordinates(one.picture, grid, order=1, cval=WHITE)


DAMAGE: dict[str, Callable[[Print, np.random.Generator], Picture]] = {
    "blurred": blurred,
    "noisy": noisy,
    "turned": turned,
    "stained": stained,
    "grey": grey,
    "curved": curved,
}
BEYOND = {"cornered": cornered}
"""Shown, but no part of the rate of damaged symbols."""


def read(picture: Picture, code: str) -> bool:
    """Return whether ZXing-C++ reads just this code."""
    dots = np.clip(picture, 0, WHITE).astype(np.uint8)
    found = zxingcpp.read_barcodes(np.ascontiguousarray(dots), formats=zxingcpp.BarcodeFormat.QRCode)
    return [one.text for one in found] == [code]


def rate(*groups: list[bool]) -> float:
    """Return the share read in all groups."""
    found = [one for group in groups for one in group]
    return round(sum(found) / len(found), 4)


def main(wanted: list[str]) -> None:
    """Read the labels of the kinds wanted, or of all, print the rates, then the JSON line."""
    chance = np.random.default_rng(1)
    whole: list[bool] = []
    small, large = defaultdict[str, list[bool]](list), defaultdict[str, list[bool]](list)
    for one in prints(set(map(Kind, wanted)) or set(Kind) - {Kind.ADDRESS}):
        whole.append(read(one.picture, one.code))
        for name, damage in (DAMAGE | BEYOND).items():
            if name != "curved" or one.kind is Kind.VIAL:
                (large if one.module >= LARGE else small)[name].append(read(damage(one, chance), one.code))
    print(f"{'':12}{f'from {LARGE} mm':>16}{'smaller':>16}")
    for name in large:
        shown = (f"{rate(group[name]):.1%} of {len(group[name])}" if group[name] else "" for group in (large, small))
        print(f"{name:12}" + "".join(f"{text:>16}" for text in shown))
    counted = [name for name in DAMAGE if large[name]]
    found = {
        "undamaged": rate(whole),
        "damaged": rate(*(large[name] for name in counted)),
        "worst": min(rate(large[name]) for name in counted),
        "cornered": rate(large["cornered"]),
        "labels": len(whole),
    }
    print(json.dumps(found))


if __name__ == "__main__":
    main(sys.argv[1:])
