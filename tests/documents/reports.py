"""Batch reports that tests share, and the curves of a PDF read back. People and places are fiction."""

import ctypes
from dataclasses import replace
from datetime import date

import pypdfium2
import pypdfium2.raw as raw

from sporebank.core import codes
from sporebank.core.chart import Chart, SisterCurve, Span, dots
from sporebank.core.dates import PartDate
from sporebank.core.looks import LookKind, Seen
from sporebank.core.records import (
    Advice,
    Basis,
    Batch,
    Cleaning,
    Clone,
    Contribution,
    Crossing,
    Forecast,
    Mishap,
    MishapKind,
    Movement,
    Permission,
    Reason,
    Replicate,
    Share,
    Source,
    Sowing,
    SporeClass,
    State,
    Stay,
    Taxon,
    TaxonName,
    Test,
    VialRow,
)
from sporebank.core.report import BatchReport, VialReport
from sporebank.core.tolerance import Agreement
from sporebank.core.viability import Curve
from tests.documents.examples import BANK, DAY

NAME = TaxonName("Asplenium", "scolopendrium", cultivar="Crispum")
FIRST = date(2019, 8, 14)


def curve(points=41):
    days = tuple(date.fromordinal(FIRST.toordinal() + 120 * n) for n in range(points))
    middle = tuple(0.94 * (1 - n / points) ** 1.5 for n in range(points))
    return Curve(days, tuple(0.8 * share for share in middle), middle, tuple(min(1.04 * v, 1.0) for v in middle))


def tests():
    return (
        Test(1, 1, None, date(2019, 9, 1), date(2019, 9, 22), (Replicate(100, 91), Replicate(100, 95)), "Agar", 20.0),
        Test(2, 1, None, date(2022, 2, 3), date(2022, 2, 24), (Replicate(200, 20),), left_out="the agar was mouldy"),
        Test(
            3,
            1,
            None,
            date(2025, 1, 3),
            date(2025, 1, 24),
            (Replicate(100, 50), Replicate(50, 40)),
            note="sieved",
        ),
    )


def chart(**more):
    whole = {
        "name": NAME, "code": codes.make("V", "K7F", 1), "clone": "AS-1", "collected": PartDate.of(FIRST),
        "began": FIRST, "today": DAY, "line": 0.2, "share": Share(0.3, 0.42, 0.5), "curve": curve(),
        "tests": dots(tests()),
        "stays": (Span(FIRST, date(2019, 8, 30), "in a room"), Span(date(2019, 8, 30), DAY, "Freezer, −18 °C")),
    }  # fmt: skip
    return Chart(**(whole | more))


def sister(number=1):
    days = (date(2021, 7, 1), date(2024, 7, 1), date(2030, 7, 1))
    return SisterCurve(codes.make("B", "K7F", 70 + number), f"AS-{number + 1}", days, (0.92, 0.6, 0.1))


def batch(**more):
    taxon = Taxon(1, NAME, "Aspleniaceae", SporeClass.NON_GREEN, False, "Phyllitis scolopendrium")
    clone = Clone(
        1, "AS-1", taxon, Source.WILD, "wall at the old mill & <weir>", PartDate(2015), "Ada Brock", Permission.ASK,
        "letter of 3 May 2015", "XX-0-ABCDE-2015.7", "hart's tongue",
    )  # fmt: skip
    made = Batch(
        1, codes.make("B", "K7F", 1), clone, PartDate.of(FIRST), date(2019, 8, 16), 6, Cleaning.BOTH, 80, 40, 95,
        Basis.EYE, Basis.WEIGHED, "94.7 mg", SporeClass.NON_GREEN, "Very fine.",
    )  # fmt: skip
    return replace(made, **more)


def vial(number=1, lines=3):
    code = codes.make("V", "K7F", number)
    row = VialRow(
        number, code, 1, NAME, False, 1, "AS-1", 1, codes.make("B", "K7F", 1), PartDate.of(FIRST),
        "Shed / Freezer / Box 1 / A1", "", 10_000 - 100 * (lines - 1), State.FADING, Share(0.3, 0.42, 0.5), None, False,
        culled_on=date(2025, 6, 1) if number == 3 else None,
    )  # fmt: skip
    stays = (Stay(date(2019, 8, 30), -18.0, 20.0, "Shed / Freezer / Box 1 / A1"),)
    ledger = (
        Movement(1, number, date(2019, 8, 30), 10_000, Reason.STORED, Basis.WEIGHED),
        *(_gift(number, n) for n in range(2, lines + 1)),
        Movement(999, number, date(2024, 1, 1), -5000, Reason.LOSS, Basis.EYE, "spilt", reversed=True),
    )  # fmt: skip
    return VialReport(row, stays, (Mishap(date(2023, 7, 1), MishapKind.THAWED, "power cut"),), ledger)


def _gift(vial_id, number):
    return Movement(number, vial_id, date(2020, 1, 1), -100, Reason.GIFT, Basis.WEIGHED, f"packet {number}")


def sowings():
    pots = [codes.make("P", "K7F", number) for number in range(1, 5)]
    seen = Seen(date(2026, 2, 7), ((LookKind.PROTHALLI, 3), (LookKind.MOULD, 1)))
    known = {"vial_id": 1, "batch": batch().code, "clone": "AS-1", "name": NAME}
    return (
        Sowing(1, codes.make("S", "K7F", 1), room="Fog <house>", sown_on=date(2025, 11, 3), micrograms=1_200,
               pots=tuple(pots), note="under lamps", seen=seen, **known),
        Sowing(2, codes.make("S", "K7F", 2), room="Lean-to", sown_on=date(2026, 2, 20), micrograms=400,
               pots=(codes.make("P", "K7F", 9),), **known),
    )  # fmt: skip


def report(lines=3, **more):
    forecast = Forecast(
        DAY, Share(0.3, 0.42, 0.5), 0.02, Crossing(date(2028, 1, 1), date(2029, 5, 1), date(2031, 2, 1)),
        date(2027, 1, 3),
        "From 2 tests, 350 spores.", ("A freezer is given no credit over the fridge: some spore ages faster there.",),
    )  # fmt: skip
    judged = Agreement(False, "They differ more than chance allows.", "ours")
    told = tuple(zip(tests(), (None, None, judged), strict=True))
    whole = {
        "bank": BANK, "on": DAY, "batch": batch(), "forecast": forecast, "state": State.FADING, "chart": chart(),
        "contributions": (Contribution("class", Share(0.05, 0.4, 0.9)), Contribution("tests", Share(0.3, 0.42, 0.5))),
        "advice": (Advice.SOW, "It will likely fall below 20 % soon: sow it before its sisters."),
        "tests": told, "renew_below": 79, "sowings": sowings(),
        "vials": tuple(vial(number, lines) for number in (1, 2, 3)),
        "raised_from": "AS-0",
    }  # fmt: skip
    return BatchReport(**(whole | more))


def lines_of(pdf_bytes, points):
    """Return the corners of every line with so many of them, in points on the page, as PDFium reads them."""
    found = []
    with pypdfium2.PdfDocument(pdf_bytes) as pdf:
        for page in pdf:
            for one in page.get_objects(filter=[raw.FPDF_PAGEOBJ_PATH]):
                count = raw.FPDFPath_CountSegments(one.raw)
                if count == points:
                    found.append([_corner(one, number) for number in range(count)])
    return found


def _corner(one, number):
    x, y = ctypes.c_float(), ctypes.c_float()
    raw.FPDFPathSegment_GetPoint(raw.FPDFPath_GetPathSegment(one.raw, number), x, y)
    return one.get_matrix().on_point(x.value, y.value)
