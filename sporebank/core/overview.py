"""The bank in one look: how alive each taxon is by year, what to renew, and what hangs on one weak vial."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import IntEnum

from sporebank.core import amounts
from sporebank.core.advice import Lines, percent, state
from sporebank.core.dates import month_label
from sporebank.core.records import Share, State, TaxonName

SOON_DAYS = 365
"""Who collects once a year wants to know a year ahead; our own choice."""


@dataclass(frozen=True)
class Totals:
    """The vials that hold spore, of how many clones and taxa, and how many of them are in which state."""

    vials: int
    clones: int
    taxa: int
    alive: int
    fading: int
    spent: int

    def states(self) -> dict[State, int]:
        """Return how many vials are in each state, what is not known last."""
        known = {State.ALIVE: self.alive, State.FADING: self.fading, State.SPENT: self.spent}
        return {**known, State.UNKNOWN: self.vials - sum(known.values())}


@dataclass(frozen=True)
class Held:
    """Vials looked at together; `year` is that of their collecting where it is one.

    `left` is in micrograms, `modelled` the part of it of which the share alive is known, `alive` that share of it.
    `unmodelled` counts the vials of the rest.
    """

    year: int | None
    vials: int
    left: int
    modelled: int
    alive: float
    unmodelled: int

    @property
    def share(self) -> float | None:
        """How alive they are on average by weight, 0 to 1; None where nothing is modelled."""
        return self.alive / self.modelled if self.modelled else None


@dataclass(frozen=True)
class TaxonShares:
    """What the bank holds of a taxon, by the year collected and in all; `weakest` is the year least alive."""

    taxon_id: int
    name: TaxonName
    years: Mapping[int, Held]
    whole: Held
    weakest: Held | None


@dataclass(frozen=True)
class Span:
    """A column of years: one, or the oldest together."""

    title: str
    years: tuple[int, ...]


class Urgency(IntEnum):
    """How a clone stands that wants to be collected again, in the order in which to act."""

    SOON = 0
    PAST = 1
    LATER = 2


@dataclass(frozen=True)
class Renewal:
    """A clone to collect again: its vials with spore, the share of the best and the day the last crosses the line.

    `unmodelled` of the vials are not modelled; `left` is in micrograms.
    """

    clone_id: int
    clone: str
    name: TaxonName
    vials: int
    unmodelled: int
    left: int
    best: float
    day: date | None
    urgency: Urgency


@dataclass(frozen=True)
class LastVial:
    """The one vial with spore that is left of a clone; `left` is in micrograms."""

    vial_id: int
    code: str
    clone: str
    name: TaxonName
    left: int
    share: Share | None
    state: State


def together(parts: Iterable[Held]) -> Held:
    """Return vials of several years looked at as one."""
    some = list(parts)
    return Held(
        None,
        sum(part.vials for part in some),
        sum(part.left for part in some),
        sum(part.modelled for part in some),
        sum(part.alive for part in some),
        sum(part.unmodelled for part in some),
    )


def shares(taxon_id: int, name: TaxonName, parts: Sequence[Held]) -> TaxonShares:
    """Return what is held of a taxon, one part a year."""
    known = [(part.share, part) for part in parts if part.share is not None]
    weakest = min(known, key=lambda pair: pair[0])[1] if known else None
    return TaxonShares(taxon_id, name, {part.year: part for part in parts if part.year}, together(parts), weakest)


def spans(years: Iterable[int], most: int) -> tuple[Span, ...]:
    """Return the years as columns, newest first and at most so many: the oldest stand together where there are more."""
    ordered = sorted(set(years), reverse=True)
    older = ordered[most - 1 :] if len(ordered) > most else []
    single = tuple(Span(str(year), (year,)) for year in ordered[: len(ordered) - len(older)])
    return (*single, Span(f"before {single[-1].title}", tuple(older))) if older else single


def within(row: TaxonShares, span: Span) -> Held | None:
    """Return what is held of a taxon from the years of a column, or None."""
    parts = [row.years[year] for year in span.years if year in row.years]
    if len(parts) == 1:
        return parts[0]
    return together(parts) if parts else None


def tone(share: float | None, lines: Lines) -> State:
    """Return the word for an average share alive."""
    return state(None if share is None else Share(share, share, share), lines)


def rank(held: Held | None) -> float:
    """Return what to sort cells by: the least alive first, then what is not modelled, then cells without vials."""
    if held is None:
        return 3.0
    return 2.0 if held.share is None else held.share


def turn(renewal: Renewal) -> tuple[int, int]:
    """Return what to sort renewals by: what is yet to fall first, the soonest first; what fell, the latest first."""
    day = renewal.day
    if renewal.urgency is Urgency.PAST:
        return renewal.urgency, -day.toordinal() if day else 0
    return renewal.urgency, (day or date.max).toordinal()


# -- in words


def vials(count: int) -> str:
    """Return `1 vial` or `12 vials`."""
    return _many(count, "vial", "vials")


def _many(count: int, one: str, many: str) -> str:
    return f"{count:,} {one if count == 1 else many}"


def in_all(totals: Totals) -> str:
    """Return how much the bank holds: `1,204 vials with spore, of 310 clones in 96 taxa.`"""
    clones, taxa = _many(totals.clones, "clone", "clones"), _many(totals.taxa, "taxon", "taxa")
    return f"{vials(totals.vials)} with spore, of {clones} in {taxa}."


def short_share(share: float | None) -> str:
    """Return a share in few characters: `61 %`, `<1 %`, or `?` where it is not modelled."""
    return "?" if share is None else percent(share).replace("under ", "<").replace("over ", ">")


def held_words(held: Held | None) -> str:
    """Return what stands in a cell: `61 % alive on average by weight, 12 vials, 40 mg left`."""
    if held is None:
        return "none"
    tail = f"{vials(held.vials)}, {amounts.show(held.left)} left"
    if held.share is None:
        return f"not modelled, only tests tell, {tail}"
    average = "alive" if held.vials == 1 else "alive on average by weight"
    unknown = f", {held.unmodelled:,} of them not modelled" if held.unmodelled else ""
    return f"{percent(held.share)} {average}, {tail}{unknown}"


def deed(renewal: Renewal) -> str:
    """Return what to do about a clone."""
    return {
        Urgency.SOON: "Sow it, or collect again",
        Urgency.PAST: "Collect again",
        Urgency.LATER: "Plan to collect again",
    }[renewal.urgency]


def why(renewal: Renewal, lines: Lines) -> str:
    """Return why a clone wants to be collected again, in a sentence or two."""
    known = renewal.vials - renewal.unmodelled
    best = "Its one vial" if renewal.vials == 1 else f"The best of its {vials(known)}" if known > 1 else "One vial"
    said = f"{best} is {percent(renewal.best)} alive{_crossing(renewal, lines, several=known > 1)}."
    if not renewal.unmodelled:
        return said
    more = "1 more vial is not modelled: test it" if renewal.unmodelled == 1 else ""
    return f"{said} {more or f'{renewal.unmodelled:,} more vials are not modelled: test them'}."


def _crossing(renewal: Renewal, lines: Lines, *, several: bool) -> str:
    spent = percent(lines.spent)
    if renewal.day is None:
        return f", below {spent if renewal.urgency is Urgency.PAST else percent(lines.alive)}"
    falls = "fell" if renewal.urgency is Urgency.PAST else "falls"
    return f"{'; the last' if several else ', and'} {falls} below {spent} about {month_label(renewal.day)}"


def last_words(last: LastVial) -> str:
    """Return what to do about a last vial: `The last vial of AS-3: 31 % alive, 2 mg left. Collect again or sow it.`"""
    alive = "not modelled" if last.share is None else f"{percent(last.share.middle)} alive"
    deeds = {
        State.FADING: "Collect again or sow it",
        State.SPENT: "Collect again",
        State.UNKNOWN: "Collect again or sow it",
        State.ALIVE: "Sow it, or collect again before it is used up",
    }
    return f"The last vial of {last.clone}: {alive}, {amounts.show(last.left)} left. {deeds[last.state]}."
