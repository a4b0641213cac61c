"""Measure 10,000 vial labels in one PDF: python tests/bench/labels.py"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable, Sequence
from datetime import timedelta
from io import BytesIO
from pathlib import Path
from time import perf_counter

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from demo import scene  # noqa: E402 - found only once the root is on the path
from sporebank.core import codes, names  # noqa: E402
from sporebank.core.dates import PartDate  # noqa: E402
from sporebank.core.fit import MM_PER_POINT  # noqa: E402
from sporebank.core.layout import Kind  # noqa: E402
from sporebank.core.papers import VialLabel  # noqa: E402
from tests.bench.measure import peak_mb  # noqa: E402

TAG, SHEET = "WRN", "a4-5x13"
COUNT = 10_000
FEW = 1_000  # labels of the runs beside which the long one is held


def vial_labels(count: int) -> tuple[VialLabel, ...]:
    """Return labels with the names of the demo, one after the other."""
    every = [names.parse(one[0]) for one in scene.TAXA]
    return tuple(
        VialLabel(
            code=codes.make("V", TAG, number),
            name=every[number % len(every)],
            clone=f"G-{number % 140}",
            collected=PartDate.of(scene.TODAY - timedelta(days=number % 3000)),
            amount=f"{number % 400 / 10} mg",
            place=f"Store room / Fridge 1 / Box {number % 120 + 1} / C{number % 9 + 1}",
        )
        for number in range(1, count + 1)
    )


def job(count: int):
    """Return the print of so many labels."""
    from sporebank.documents.labels import LabelPrint
    from sporebank.formats.label_layouts import layout_for
    from sporebank.formats.label_sheets import sheet_by_id

    sheet = sheet_by_id(SHEET)
    return LabelPrint(vial_labels(count), layout_for(Kind.VIAL, sheet), sheet)


def ours(count: int) -> dict[str, float]:
    """Print the labels through the program."""
    from sporebank.documents.labels import preflight, render

    made = job(count)
    start = perf_counter()
    printed = render(made)
    seconds, peak = perf_counter() - start, peak_mb()
    start = perf_counter()
    assert preflight(made) == ()
    return {"s": seconds, "preflight_s": perf_counter() - start, "kb": len(printed) / 1000, "peak_mb": peak}


def bare(count: int) -> dict[str, float]:
    """Draw the same rectangles and strings, worked out beforehand, with nothing but ReportLab."""
    from reportlab.pdfgen.canvas import Canvas

    from sporebank.documents import fonts

    pages, size = _primitives(count)
    fonts.register()
    start = perf_counter()
    canvas = Canvas(BytesIO(), pagesize=size, invariant=1, pageCompression=1)
    for shapes, strings in pages:
        for rects in shapes:
            path = canvas.beginPath()
            for rect in rects:
                path.rect(*rect)
            canvas.drawPath(path, stroke=0, fill=1)
        for x, y, face, points, text in strings:
            canvas.setFont(face, points)
            canvas.drawString(x, y, text)
        canvas.showPage()
    canvas.save()
    return {"s": perf_counter() - start, "peak_mb": peak_mb()}


def _primitives(count: int):
    """Return page after page what is drawn, in points from the lower left, and the size of the paper."""
    from sporebank.core.sheets import cell
    from sporebank.documents.drawing import Stamp
    from sporebank.documents.setting import set_label

    made, pages = job(count), []
    sheet, layout = made.sheet, made.layout
    for number, label in enumerate(made.labels):
        index = number % sheet.cells
        if index == 0:
            pages.append(([], []))
        rect = cell(sheet, index)
        left, top = rect.left + (rect.width - layout.width) / 2, rect.top + (rect.height - layout.height) / 2
        for mark in set_label(label, layout, made.printer):
            if isinstance(mark, Stamp):
                bars = mark.symbol.bars(left + mark.left, top + mark.top)
                pages[-1][0].append(
                    [_points(bar.left, sheet.paper_height - bar.bottom, bar.width, bar.height) for bar in bars]
                )
            else:
                place = _points(left + mark.x, sheet.paper_height - top - mark.y)
                pages[-1][1].append((*place, mark.face, mark.size, mark.text))
    return pages, _points(sheet.paper_width, sheet.paper_height)


def _points(*lengths: float) -> tuple[float, ...]:
    return tuple(length / MM_PER_POINT for length in lengths)


def symbols(count: int) -> dict[str, float]:
    """Make the symbols with qrcode alone, its own choice of mask and all."""
    import qrcode

    made = [label.code for label in vial_labels(count)]
    start = perf_counter()
    for code in made:
        symbol = qrcode.QRCode(error_correction=qrcode.constants.ERROR_CORRECT_H, border=0)
        symbol.add_data(code)
        symbol.make(fit=True)
    return {"s": perf_counter() - start}


PARTS: dict[str, Callable[[int], dict[str, float]]] = {"ours": ours, "bare": bare, "symbols": symbols}


def run(part: str, count: int) -> dict[str, float]:
    """Measure one part in a process of its own."""
    command = [sys.executable, "-m", "tests.bench.labels", part, str(count)]
    done = subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.PIPE, text=True)
    found: dict[str, float] = json.loads(done.stdout.splitlines()[-1])
    return found


def main(arguments: Sequence[str]) -> None:
    """Print how the labels compare, then the JSON line."""
    if arguments:
        print(json.dumps(PARTS[arguments[0]](int(arguments[1]) if arguments[1:] else FEW)))
        return
    many, few = run("ours", COUNT), run("ours", FEW)
    alone, made = run("bare", COUNT), run("symbols", FEW)
    per_label, by_qrcode = many["s"] / COUNT, made["s"] / FEW
    found = {
        "labels_per_s": round(1 / per_label),
        "preflight_per_s": round(COUNT / many["preflight_s"]),
        "ratio_bare": round(many["s"] / alone["s"], 2),
        "ratio_qrcode": round(per_label / by_qrcode, 2),
        "peak_mb": round(many["peak_mb"], 1),
        "peak_mb_of_1000": round(few["peak_mb"], 1),
        "mb": round(many["kb"] / 1000, 2),
    }
    print(f"{COUNT:,} labels in {many['s']:.1f} s, looked through beforehand in {many['preflight_s']:.1f} s")
    print(
        f"the same drawn with ReportLab alone: {alone['s']:.1f} s; the symbols with qrcode: {by_qrcode * COUNT:.1f} s"
    )
    print(json.dumps(found))


if __name__ == "__main__":
    main(sys.argv[1:])
