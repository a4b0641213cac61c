"""The batch report: where spore came from, how alive it is, its decline, tests and sowings, each vial's ledger."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any

from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, Paragraph, Spacer

from sporebank.core import amounts, codes, naming
from sporebank.core import chart as charts
from sporebank.core.advice import percent, span
from sporebank.core.crossing import crossing_sentence, due_sentence
from sporebank.core.dates import day_label
from sporebank.core.forecast_words import sources
from sporebank.core.happenings import mishap_words, stay_words, why_moved
from sporebank.core.records import Basis, Batch, Cleaning, Sowing, Test
from sporebank.core.report import BatchReport, VialReport
from sporebank.core.tolerance import Agreement
from sporebank.documents import fonts, style
from sporebank.documents.chart import DeclineDrawing
from sporebank.documents.figures import Band
from sporebank.documents.style import BODY, CAUTION, HEAD, HEAD_RIGHT, NOTE, NUMBER, SECTION, SMALL, Page, plain

_TESTS = (24, 24, 26, 24, 0)  # mm; 0 takes what is left
_SOWN = (24, 40, 16, 0)
_LINES = (23, 0, 24, 24, 21)
_TITLE = ParagraphStyle("part", SECTION, keepWithNext=0)  # or a long table would have to start on a fresh page
_VIAL = ParagraphStyle("vial", BODY, fontName=fonts.STRONG, spaceBefore=8)
_PLACE = ParagraphStyle("vial place", SMALL, spaceAfter=2)
_KEY = ParagraphStyle("key", SMALL, spaceBefore=2)
_FLAT = 0.42  # height of the chart to its width
_START = 35 * mm  # a part begins only where so much of it has room
_TITLED = _START + 12 * mm  # and a title before it


def render(report: BatchReport, page: Page = style.ON_A4) -> bytes:
    """Return a batch report as PDF."""
    batch, code = report.batch, codes.grouped(report.batch.code)
    facts = [
        ("Taxon", style.taxon(batch.clone.taxon.name)),
        ("Clone", plain(batch.clone.code)),
        ("Collected", batch.collected.label()),
        ("As of", day_label(report.on)),
    ]
    content = style.heading(report.bank, "Batch report", facts, batch.code, page)
    content += [Paragraph("Where it comes from", _TITLE), style.known(list(_provenance(report)), page.width)]
    content += [*_title("How alive"), *_alive(report, page)]
    content += [*_title("Tests"), *_tests(report, page)]
    if report.sowings:
        content += [*_title("Sowings"), *_sowings(report, page)]
    for number, vial in enumerate(report.vials):
        content += _vial(vial, page, "" if number else "Vials")
    return style.build(f"Batch report {code}", report.bank, f"{report.bank} · batch {code}", content, page)


def _title(text: str, room: float = _START) -> list[Flowable]:
    return [CondPageBreak(room), Paragraph(text, _TITLE)]


def _provenance(report: BatchReport) -> Iterator[tuple[str, str]]:
    """Yield what is known, word by word; what is not known is not said."""
    batch, clone = report.batch, report.batch.clone
    taxon = clone.taxon
    facts = (
        ("Family", taxon.family),
        ("Name", "" if taxon.verified else "not verified"),
        ("Received as", clone.received_as),
        ("Kind of source", clone.source.value),
        ("Where from", clone.origin),
        ("It came", clone.acquired.label() if clone.acquired else ""),
        ("By whom", clone.acquired_from),
        ("Raised from", report.raised_from),
        ("May be shared", clone.permission.value),
        ("Permit", clone.permit_note),
        ("Network number", clone.network_number),
        ("Note on the clone", clone.note),
        *_gathered(batch),
    )
    if taxon.old_name:
        yield "Old name", style.taxon(naming.parse(taxon.old_name))
    for word, text in facts:
        if text:
            yield word, plain(text)


def _gathered(batch: Batch) -> tuple[tuple[str, str], ...]:
    screen = f" at {batch.screen_um} µm" if batch.screen_um else ""
    how = "" if batch.cleaning is Cleaning.NONE and batch.cleaned_on is None else f"{batch.cleaning.value}{screen}"
    return (
        ("Fronds", "" if batch.fronds is None else str(batch.fronds)),
        ("Cleaned", ", ".join(filter(None, (day_label(batch.cleaned_on) if batch.cleaned_on else "", how)))),
        ("Clean", "" if batch.purity is None else f"{batch.purity} % spore ({batch.purity_basis.value})"),
        ("Amount", _said(batch.amount_said, batch.amount_basis)),
        ("Spore", batch.spore_class.value),
        ("Lay at first", batch.before.value),
        ("Note", batch.note),
    )


def _said(amount: str, basis: Basis) -> str:
    return f"{amount} ({basis.value})" if amount else ""


def _alive(report: BatchReport, page: Page) -> list[Flowable]:
    forecast, share = report.forecast, report.forecast.share
    said: list[Flowable] = []
    if share is None:
        said.append(Paragraph(f"<b>{charts.UNMODELLED}</b>", BODY))
    else:
        words = f"<b>{percent(share.middle)}</b> · {report.state.value} · likely {span(share.low, share.high)}"
        said += [Band(share, report.state, 60 * mm), Paragraph(_bound(words), BODY)]
        said.append(Paragraph(plain(crossing_sentence(forecast.crossing, report.chart.line, report.on)), BODY))
    said += [Paragraph(plain(words), SMALL) for words in (forecast.basis, *sources(report.contributions))]
    if forecast.next_test is not None:
        said.append(Paragraph(plain(due_sentence(forecast.next_test, report.on)), BODY))
    said += [Paragraph(plain(caution), CAUTION) for caution in forecast.cautions]
    what, why = report.advice
    said.append(Paragraph(f"<b>{plain(what.value.capitalize())}.</b> {plain(why)}", BODY))
    drawing = DeclineDrawing(report.chart, page.width, _FLAT * page.width)
    below = Paragraph(plain(f"Vial {codes.grouped(report.chart.code)}. {charts.key(report.chart)}"), _KEY)
    return [*said, KeepTogether([Spacer(0, 3 * mm), drawing, below])]


def _bound(markup: str) -> str:
    """Return markup of which the numbers stay on one line with their units."""
    return markup.replace(" %", "\N{NO-BREAK SPACE}%")


def _tests(report: BatchReport, page: Page) -> list[Flowable]:
    if not report.tests:
        return [Paragraph("There are no tests yet.", BODY)]
    head = [Paragraph(word, HEAD) for word in ("Sown", "Counted", "Germinated", "Share, likely", "How")]
    rows = [_test(test, found, report) for test, found in report.tests]
    content: list[Flowable] = [style.grid(head, rows, _widths(_TESTS, page))]
    if report.renew_below:
        said = f"Renew below {report.renew_below} % (genebank rule: 85 % of the first test)."
        content.append(Paragraph(plain(said), _KEY))
    return content


def _test(test: Test, found: Agreement | None, report: BatchReport) -> list[Any]:
    (dot,) = charts.dots([test])
    likely = span(dot.low, dot.high)
    doubt = "" if found is None or found.credible else "Its counts differ more than chance allows."
    out = f"Left out: {test.left_out}" if test.left_out else ""
    return [
        Paragraph(day_label(test.sown_on), BODY),
        Paragraph(day_label(test.counted_on), BODY),
        [Paragraph(f"{test.germinated} of {test.sown}", BODY), *_counts(test)],
        [Paragraph(plain(percent(dot.share)), BODY), Paragraph(plain(likely), SMALL)],
        [
            Paragraph(plain(_how(test)), NOTE),
            *(Paragraph(plain(text), CAUTION) for text in (doubt, out) if text),
        ],
    ]


def _counts(test: Test) -> list[Paragraph]:
    if len(test.replicates) < 2:
        return []
    alike = len({each.sown for each in test.replicates}) == 1
    told = [str(each.germinated) if alike else f"{each.germinated} of {each.sown}" for each in test.replicates]
    return [Paragraph(plain(", ".join(told)), SMALL)]


def _how(test: Test) -> str:
    warmth = "" if test.temperature is None else f"{test.temperature:g} °C"
    return ", ".join(filter(None, (test.medium, warmth, test.light, test.note)))


def _sowings(report: BatchReport, page: Page) -> list[Flowable]:
    words = (("Sown", HEAD), ("Where", HEAD), ("Pots", HEAD_RIGHT), ("Seen last", HEAD))
    head = [Paragraph(word, face) for word, face in words]
    return [style.grid(head, [_sowing(one) for one in report.sowings], _widths(_SOWN, page))]


def _sowing(sowing: Sowing) -> list[Any]:
    """Return the row of a sowing: what the last look at each of its pots found, and when the last of them was."""
    pots, seen = len(sowing.pots), sowing.seen
    where = [amounts.show(sowing.micrograms), *filter(None, [sowing.note])]
    return [
        [Paragraph(day_label(sowing.sown_on), BODY), Paragraph(codes.grouped(sowing.code), SMALL)],
        [Paragraph(plain(sowing.room), BODY), *(Paragraph(plain(text), SMALL) for text in where)],
        Paragraph(str(pots), NUMBER),
        [
            Paragraph(plain(seen.said(pots).capitalize() if seen else "Not looked at yet"), BODY),
            *([Paragraph(day_label(seen.on), SMALL)] if seen else []),
        ],
    ]


def _vial(vial: VialReport, page: Page, title: str) -> list[Flowable]:
    row = vial.row
    gone = f"culled on {day_label(row.culled_on)}" if row.culled_on else row.place or "not put away"
    where = " · ".join(filter(None, (amounts.show(row.left), gone, row.note)))
    head = [Paragraph(word, HEAD if number < 2 else HEAD_RIGHT) for number, word in enumerate(_COLUMNS)]
    table = style.grid(head, _lines(vial), _widths(_LINES, page))
    return [
        *(_title(title, _TITLED) if title else [CondPageBreak(_START)]),
        Paragraph(codes.grouped(row.code), _VIAL),
        Paragraph(plain(where), _PLACE),
        table,
    ]


_COLUMNS = ("Date", "What happened", "In", "Out", "Left")


def _lines(vial: VialReport) -> list[list[Any]]:
    """Return where it has been and its ledger day by day; what was taken back does not count."""
    told: list[tuple[date, int, str, int | None]] = [(stay.since, 1, stay_words(stay), None) for stay in vial.stays]
    told += [(mishap.on, 2, mishap_words(mishap), None) for mishap in vial.mishaps]
    told += [(line.on, 0, why_moved(line), 0 if line.reversed else line.micrograms) for line in vial.ledger]
    left, rows = 0, []
    for on, _, what, moved in sorted(told, key=lambda line: line[:2]):
        left += moved or 0
        into, out = max(moved or 0, 0), max(-(moved or 0), 0)
        amount = [amounts.exact(into) if into else "", amounts.exact(out) if out else "", amounts.exact(left)]
        numbers = [Paragraph(plain(text) if moved is not None else "", NUMBER) for text in amount]
        rows.append([Paragraph(day_label(on), BODY), Paragraph(plain(what), BODY), *numbers])
    return rows


def _widths(columns: Sequence[int], page: Page) -> list[float]:
    left = page.width / mm - sum(columns)
    return [width or left for width in columns]
