import ctypes

import pypdfium2
import pypdfium2.raw as raw
import pytest

from sporebank.core.sheets import CROSS, PrinterFit
from sporebank.documents.ruler import render
from tests.documents.examples import text_of

PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}


def lines(pdf_bytes):
    """Return every line as (left, top, right, bottom) in mm from the top left, from the PDF's own coordinates."""
    found = []
    with pypdfium2.PdfDocument(pdf_bytes) as pdf:
        page = pdf[0]
        height = page.get_height()
        for one in page.get_objects(filter=[raw.FPDF_PAGEOBJ_PATH]):
            ends = [_point(one.raw, number) for number in range(raw.FPDFPath_CountSegments(one.raw))]
            (x1, y1), (x2, y2) = sorted(ends)
            found.append(tuple(value * 25.4 / 72 for value in (x1, height - max(y1, y2), x2, height - min(y1, y2))))
    return found


def _point(path, number):
    x, y = ctypes.c_float(), ctypes.c_float()
    raw.FPDFPathSegment_GetPoint(raw.FPDFPath_GetPathSegment(path, number), x, y)
    return x.value, y.value


@pytest.mark.parametrize("paper", PAPERS)
def test_both_rulers_are_a_hundred_millimetres_and_ticked_to_the_millimetre(paper):
    found = lines(render(*PAPERS[paper], PrinterFit()))
    across = [line for line in found if line[2] - line[0] == pytest.approx(100, abs=0.05)]
    down = [line for line in found if line[3] - line[1] == pytest.approx(100, abs=0.05)]
    assert (len(across), len(down)) == (1, 1)
    ticks = sorted(line[0] for line in found if line[2] - line[0] < 0.01 and line[3] == pytest.approx(across[0][1]))
    assert ticks == pytest.approx([across[0][0] + mm for mm in range(101)], abs=0.1)
    ticks = sorted(line[1] for line in found if line[3] - line[1] < 0.01 and line[2] == pytest.approx(down[0][0]))
    assert ticks == pytest.approx([down[0][1] + mm for mm in range(101)], abs=0.1)


def crosses(found):
    """Return the middles of all crosses."""
    level = [line for line in found if line[2] - line[0] == pytest.approx(10, abs=0.5) and line[3] - line[1] < 0.01]
    plumb = [line for line in found if line[3] - line[1] == pytest.approx(10, abs=0.5) and line[2] - line[0] < 0.01]
    return sorted(
        ((a[0] + a[2]) / 2, (b[1] + b[3]) / 2)
        for a in level
        for b in plumb
        if abs((a[0] + a[2]) / 2 - b[0]) < 0.01 and abs((b[1] + b[3]) / 2 - a[1]) < 0.01
    )


@pytest.mark.parametrize("paper", PAPERS)
def test_a_cross_stands_in_every_corner_fifteen_millimetres_in(paper):
    width, height = PAPERS[paper]
    found = crosses(lines(render(width, height, PrinterFit())))
    expected = [(x, y) for x in (CROSS, width - CROSS) for y in (CROSS, height - CROSS)]
    assert len(found) == 4
    for cross, place in zip(found, expected, strict=True):
        assert cross == pytest.approx(place, abs=0.1)


def test_the_second_page_is_drawn_as_labels_will_be():
    fit = PrinterFit(across=2, down=-1).measured(99.5, 100.5)
    found = lines(render(210, 297, fit))
    assert max(line[2] - line[0] for line in found) * 0.995 == pytest.approx(100, abs=0.1)
    assert max(line[3] - line[1] for line in found) * 1.005 == pytest.approx(100, abs=0.1)
    left, top = crosses(found)[0]
    assert ((left - 2) * 0.995, (top + 1) * 1.005) == pytest.approx((CROSS, CROSS), abs=0.1)


def test_the_page_says_what_to_do_and_warns_of_fitting_to_the_page():
    read = text_of(render(210, 297, PrinterFit(across=1.5)))
    assert "Print this page at 100 %" in read
    assert "“fit to page”" in read
    assert "Measure both rulers from 0 to 100" in read
    assert "moved 1.5 mm to the right; scale" in read
    assert b"/PrintScaling /None" in render(210, 297, PrinterFit())


def test_everything_stays_on_both_papers():
    for width, height in PAPERS.values():
        for line in lines(render(width, height, PrinterFit())):
            assert line[0] >= 0
            assert line[2] <= width
            assert line[1] >= 0
            assert line[3] <= height
