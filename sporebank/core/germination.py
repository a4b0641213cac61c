"""Germination tests: what may be recorded, what a result means, and when to regenerate."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from sporebank.core.dates import PartDate, day_label
from sporebank.core.intervals import wilson
from sporebank.core.records import Replicate

Problem = tuple[str, str]
"""The name of a form field, and the sentence that belongs beside it."""

_COLDEST, _HOTTEST = -5.0, 50.0
_MOST_SOWN = 100_000


def problems(
    *,
    collected: PartDate,
    sown_on: date,
    counted_on: date,
    replicates: Sequence[Replicate],
    temperature: float | None,
    today: date,
) -> list[Problem]:
    """Return what is wrong with a test, field by field; an empty list lets it through."""
    found = [*_date_problems(collected, sown_on, counted_on, today), *_count_problems(replicates)]
    if temperature is not None and not _COLDEST <= temperature <= _HOTTEST:
        found.append(("temperature", f"Spore does not germinate at {temperature:g} °C. Write degrees Celsius."))
    return found


def _date_problems(collected: PartDate, sown_on: date, counted_on: date, today: date) -> list[Problem]:
    found = []
    if sown_on < collected.first():
        found.append(("sown_on", f"The spore was collected {collected.label()}; it cannot have been sown before."))
    if counted_on < sown_on:
        found.append(("counted_on", f"Sown on {day_label(sown_on)}, so it cannot have been counted before."))
    for field, day in (("sown_on", sown_on), ("counted_on", counted_on)):
        if day > today:
            found.append((field, f"{day_label(day)} is still to come."))
    return found


def _count_problems(replicates: Sequence[Replicate]) -> list[Problem]:
    if not replicates:
        return [("replicates", "Write at least one count: how many of how many germinated.")]
    counts = [_count_problem(number, each) for number, each in enumerate(replicates, start=1)]
    return [("replicates", sentence) for sentence in counts if sentence]


def _count_problem(number: int, replicate: Replicate) -> str:
    if replicate.sown < 1:
        return f"Count {number}: look at one spore at least."
    if replicate.sown > _MOST_SOWN:
        return f"Count {number}: {replicate.sown} spores are more than anyone counts. Count a part of the dish."
    if replicate.germinated < 0:
        return f"Count {number}: a count cannot be below zero."
    if replicate.germinated > replicate.sown:
        return f"Count {number}: {replicate.germinated} of {replicate.sown} is more than all."
    return ""


def result(replicates: Sequence[Replicate]) -> str:
    """Return a result in words, with the 95 % interval of Wilson: `85 % (340 of 400), likely 81 to 88 %`."""
    sown = sum(each.sown for each in replicates)
    germinated = sum(each.germinated for each in replicates)
    low, high = wilson(germinated, sown)
    share = f"{100 * germinated / sown:.0f} % ({germinated} of {sown})"
    return f"{share}, likely {100 * low:.0f} to {100 * high:.0f} %"


def regenerate_below(initial: int) -> int:
    """Return the percentage below which a lot is regenerated: 85 % of the initial one, halves rounded up.

    Kameswara Rao, Hanson, Dulloo, Ghosh, Nowell & Larinde 2006, Manual of Seed Handling in Genebanks, table 8.2.
    """
    return (85 * initial + 50) // 100
