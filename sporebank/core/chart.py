"""Everything the picture of a decline shows, the same in the window and on paper, and what it says in words.

Days run along it and shares alive (0 to 1) up it. Nothing here draws.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING

from sporebank.core import codes, names
from sporebank.core.advice import percent, span
from sporebank.core.dates import PartDate, day_label, month_label
from sporebank.core.intervals import exact
from sporebank.core.records import Before, Share, Stay, TaxonName, Test

if TYPE_CHECKING:
    from sporebank.core.viability import Curve  # brings numpy, which who only draws need not wait for

SHARES = (0.0, 0.25, 0.5, 0.75, 1.0)
"""Where shares are ruled."""

UNMODELLED = "Not modelled here: go by tests."
TODAY = "today"
OUTSIDE = "out of the bank"

_SHORTEST = 60  # days shown where there is no curve to say how many
_STEPS = (1, 3, 6, 12, 24, 60, 120, 240, 600, 1200, 12000)  # months from tick to tick
_YEAR, _MONTH = 1, 2  # room taken by `2026` and by `Aug 2026`


@dataclass(frozen=True)
class Dot:
    """A test: what was counted, and the exact 95 % interval of the share; `left_out` says why it does not count."""

    on: date
    sown: int
    germinated: int
    low: float
    high: float
    left_out: str = ""

    @property
    def share(self) -> float:
        """The share that germinated."""
        return self.germinated / self.sown


@dataclass(frozen=True)
class Span:
    """Where spore lay from one day to another, in a few words."""

    since: date
    until: date
    word: str


@dataclass(frozen=True)
class SisterCurve:
    """The middle of another tested batch of the taxon, with the code of its batch and its clone."""

    code: str
    clone: str
    dates: tuple[date, ...]
    middle: tuple[float, ...]


@dataclass(frozen=True)
class Chart:
    """What the decay chart of a vial shows.

    `curve` is None where storage is not modelled; `share` is how alive it is today, `line` the share below which it is
    spent, `began` the last day on which it can have been collected. `sisters` are drawn on demand, `tested_sisters`
    says of how many.
    """

    name: TaxonName
    code: str
    clone: str
    collected: PartDate
    began: date
    today: date
    line: float
    share: Share | None
    curve: Curve | None
    tests: tuple[Dot, ...] = ()
    stays: tuple[Span, ...] = ()
    sisters: tuple[SisterCurve, ...] = ()
    tested_sisters: int = 0

    @property
    def days(self) -> tuple[date, date]:
        """The first and the last day there is anything to show of."""
        shown = {self.collected.first(), self.began, self.today, *(dot.on for dot in self.tests)}
        if self.curve is None:
            shown.add(self.today + timedelta(days=_SHORTEST))
        else:
            shown |= {self.curve.dates[0], self.curve.dates[-1]}
        shown.update(each.dates[0] for each in self.sisters)
        return min(shown), max(shown)

    @property
    def empty(self) -> bool:
        """Whether there is neither a curve nor a test."""
        return self.curve is None and not self.tests


def cut(chart: Chart, first: date, last: date) -> Chart:
    """Return the chart with only what lies from the first day to the last."""
    curve = chart.curve
    if curve is not None and curve.dates[0] < last and first < curve.dates[-1]:
        dates = _dates(curve.dates, first, last)
        ways = ([_at(curve.dates, way, day) for day in dates] for way in (curve.low, curve.middle, curve.high))
        curve = replace(curve, **dict(zip(("low", "middle", "high"), map(tuple, ways), strict=True)), dates=dates)
    stays = (replace(each, since=max(each.since, first), until=min(each.until, last)) for each in chart.stays)
    return replace(
        chart,
        curve=curve,
        tests=tuple(dot for dot in chart.tests if first <= dot.on <= last),
        stays=tuple(each for each in stays if each.since < each.until),
        sisters=tuple(
            replace(each, dates=dates, middle=tuple(_at(each.dates, each.middle, day) for day in dates))
            for each in chart.sisters
            if each.dates[0] < last and first < each.dates[-1]
            for dates in (_dates(each.dates, first, last),)
        ),
    )


def _dates(dates: Sequence[date], first: date, last: date) -> tuple[date, ...]:
    inside = {day for day in dates if first < day < last}
    return tuple(sorted(inside | {max(first, dates[0]), min(last, dates[-1])}))


def _at(dates: Sequence[date], shares: Sequence[float], day: date) -> float:
    """Return a share on a day within the dates, by the straight line from one to the next."""
    after = bisect_left(dates, day)
    if dates[after] == day:
        return shares[after]
    since, until = dates[after - 1], dates[after]
    part = (day - since).days / (until - since).days
    return shares[after - 1] + (shares[after] - shares[after - 1]) * part


@dataclass(frozen=True)
class Tick:
    """A day ruled on the axis of days, and what stands below it."""

    on: date
    text: str


def dots(tests: Iterable[Test]) -> tuple[Dot, ...]:
    """Return tests as the chart shows them: on the day of sowing, for then the spore was as alive as they say."""
    return tuple(
        Dot(test.sown_on, test.sown, test.germinated, *exact(test.germinated, test.sown), test.left_out)
        for test in tests
    )


def spans(
    stays: Sequence[Stay], before: Before, began: date, today: date, called: Mapping[str, str]
) -> tuple[Span, ...]:
    """Return where spore lay from `began` until today; stays that read alike follow on as one.

    Args:
        stays: the stays of a vial, oldest first.
        before: where it lay until the first of them.
        began: the last day on which it can have been collected.
        today: the day until which the last of them is known to last.
        called: a short word for each place, by its path; that of a slot is its box's.
    """
    lay = [(began, before.value), *((max(stay.since, began), _word(stay, called)) for stay in stays)]
    kept: list[tuple[date, str]] = []
    for since, word in lay:
        if kept and kept[-1][0] == since:
            kept.pop()
        if since < today and (not kept or kept[-1][1] != word):
            kept.append((since, word))
    return tuple(Span(since, until, word) for (since, word), (until, _) in pairwise([*kept, (today, "")]))


def _word(stay: Stay, called: Mapping[str, str]) -> str:
    if not stay.place:
        return OUTSIDE
    around = stay.place.rpartition(" / ")[0]
    place = called.get(stay.place) or called.get(around) or stay.place
    return place if stay.temperature is None else f"{place}, {stay.temperature:g} °C".replace("-", "−")


def ticks(first: date, last: date, room: int) -> tuple[Tick, ...]:
    """Return days to rule from the first to the last: years, or months where there is room for them.

    Args:
        first: the first day in sight.
        last: the last day in sight.
        room: how many words of four letters fit side by side.
    """
    months = max((last.year - first.year) * 12 + last.month - first.month, 1)
    fitting = (step for step in _STEPS if months / step * (_MONTH if step % 12 else _YEAR) <= room)
    step = next(fitting, _STEPS[-1])
    return tuple(Tick(day, _tick(day, step)) for day in _months(first, last, step))


def _months(first: date, last: date, step: int) -> Iterator[date]:
    start, end = first.year * 12 + first.month - 1, min(last.year * 12 + last.month, 9999 * 12 + 12)
    for number in range(start - start % step, end, step):
        day = date(number // 12, number % 12 + 1, 1) if number >= 12 else date.min
        if first <= day <= last:
            yield day


def _tick(day: date, step: int) -> str:
    return str(day.year) if step % 12 == 0 else month_label(day)


def today_label(chart: Chart) -> str:
    """Return what stands beside today: `today, 61 %`."""
    return TODAY if chart.share is None else f"{TODAY}, {percent(chart.share.middle)}"


def line_label(chart: Chart) -> str:
    """Return what stands on the line: `the line, 20 %`."""
    return f"the line, {percent(chart.line)}"


def collected_label(chart: Chart) -> str:
    """Return what stands where the spore was collected."""
    return f"collected {chart.collected.label()}"


def sister_label(sister: SisterCurve) -> str:
    """Return the name of a sister batch: its clone and its code."""
    return f"{sister.clone}, {codes.grouped(sister.code)}"


def sister_place(number: int, sister: SisterCurve) -> int:
    """Return at which point of a sister's curve its number (from 1) stands, not as high as its neighbours'."""
    wanted = (0.75, 0.6, 0.45)[number % 3]
    margin = len(sister.middle) // 12
    inner = range(margin, len(sister.middle) - margin)
    return min(inner, key=lambda at: abs(sister.middle[at] - wanted))


def title(chart: Chart) -> str:
    """Return whose decline it is: `Decline of V-ABC-00001-X`."""
    return f"Decline of {codes.grouped(chart.code)}"


def key(chart: Chart) -> str:
    """Return how to read the chart, in the words of what is in it."""
    parts = []
    if chart.curve is not None:
        parts.append("Thick line: the best estimate. Shaded: where the truth lies nine times in ten.")
    if any(not dot.left_out for dot in chart.tests):
        parts.append("Circle: a test; its bar shows how far chance alone may have moved the count.")
    if any(dot.left_out for dot in chart.tests):
        parts.append("Cross: a test left out.")
    if chart.sisters:
        named = "; ".join(f"{number} {sister_label(each)}" for number, each in enumerate(chart.sisters, start=1))
        parts.append(f"Dotted: sister batches: {named}.")
    return " ".join(parts)


def sisters_sentence(chart: Chart) -> str:
    """Return how many sister batches are drawn, and which where not all are."""
    count, drawn = chart.tested_sisters, len(chart.sisters)
    if not count:
        return "No other batch of this taxon has been tested."
    if drawn < count:
        return f"{drawn} of {count} sister batches: the most tested of those that can be forecast."
    return "1 sister batch." if count == 1 else f"{count} sister batches."


def words(chart: Chart) -> str:
    """Return the chart as a screen reader says it."""
    first, last = chart.days
    parts = [f"{names.text(chart.name)}, from {month_label(first)} to {month_label(last)}", *_alive(chart)]
    parts += [_dot(dot) for dot in chart.tests]
    parts += [f"Since {day_label(span.since)}: {span.word}" for span in chart.stays]
    parts += [f"Sister batch {sister_label(sister)}: {_end(sister)}" for sister in chart.sisters]
    return ". ".join(parts) + "."


def _alive(chart: Chart) -> Iterator[str]:
    curve, share = chart.curve, chart.share
    if curve is None or share is None:
        yield UNMODELLED.rstrip(".")
        return
    yield f"{percent(share.middle)} alive today, likely {span(share.low, share.high)}"
    yield f"{percent(curve.middle[0])} at first, {percent(curve.middle[-1])} at the end"
    yield f"The line is at {percent(chart.line)}"


def _dot(dot: Dot) -> str:
    why = f", left out: {dot.left_out}" if dot.left_out else ""
    found = f"{dot.germinated} of {dot.sown} germinated, {span(dot.low, dot.high)}"
    return f"Test of {day_label(dot.on)}: {found}{why}"


def _end(sister: SisterCurve) -> str:
    (first, *_, last), (most, *_, least) = sister.dates, sister.middle
    return f"{percent(most)} in {month_label(first)}, {percent(least)} in {month_label(last)}"
