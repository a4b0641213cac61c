"""The list of an exchange as it goes out: a line a number, with honest word of age and origin."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sporebank.core import counted
from sporebank.core.advice import percent
from sporebank.core.amounts import show
from sporebank.core.dates import PartDate, day_label
from sporebank.core.exchange import Exchange, Listed, Part, Shape
from sporebank.core.orders import Alternatives, Rules
from sporebank.core.records import Source, SporeClass, TaxonName

LIMITED = "limited stock"
UNVERIFIED = "name not verified"
GREEN = "green spore: sow within days"
INVASIVE = "invasive somewhere"


@dataclass(frozen=True)
class OfferLine:
    """A line of the list in words; `limited` and the other marks follow from what the bank knows."""

    number: int
    name: TaxonName
    old_name: str
    note: str
    origin: str
    collected: str
    alive: str
    donors: str
    packet: str
    packets: int
    marks: tuple[str, ...]


@dataclass(frozen=True)
class OfferList:
    """The whole list: whose it is, until when one may ask, by which rules, and its lines by number.

    `warnings` are sentences that go with the marks.
    """

    bank: str
    title: str
    printed_on: date
    opens: date
    closes: date | None
    ships: date | None
    rules: tuple[str, ...]
    note: str
    lines: tuple[OfferLine, ...]
    warnings: tuple[str, ...] = ()


def offer_line(line: Listed, number: int, *, invasive: bool) -> OfferLine:
    """Return a line of the list in words; what is not known is not said."""
    return OfferLine(
        number=number,
        name=line.taxon.name,
        old_name=line.taxon.old_name,
        note="; ".join(dict.fromkeys(filter(None, (line.note, *(part.note for part in line.parts))))),
        origin="; ".join(dict.fromkeys(filter(None, map(_origin, line.parts)))),
        collected=_collected(line.parts),
        alive=_alive(line.parts),
        donors=", ".join(sorted({donor for part in line.parts for donor in part.donors})),
        packet=show(line.packet_ug),
        packets=line.packets,
        marks=tuple(_marks(line, invasive=invasive)),
    )


def _origin(part: Part) -> str:
    kind = "" if part.source is Source.UNKNOWN else part.source.value
    return ", ".join(filter(None, (kind, part.origin, part.country)))


def _collected(parts: Sequence[Part]) -> str:
    """Return month and year, from the oldest to the youngest where they differ; a day says more than one asks."""
    dates = [one for part in parts if part.collected for one in part.collected]
    if not dates:
        return ""
    first, last = (PartDate(one.year, one.month).label() for one in (min(dates), max(dates)))
    return first if first == last else f"{first} to {last}"


def _alive(parts: Sequence[Part]) -> str:
    """Return how alive it likely is; of several parts the poorest and the best."""
    middles = sorted(part.share.middle for part in parts if part.share is not None)
    if not middles:
        return ""
    low, high = percent(middles[0]), percent(middles[-1])
    return f"about {low}" if low == high else f"about {low.removesuffix(' %')} to {high}"


def _marks(line: Listed, *, invasive: bool) -> list[str]:
    said = {
        LIMITED: line.limited,
        UNVERIFIED: not line.taxon.verified,
        INVASIVE: invasive,
        GREEN: line.taxon.spore_class is SporeClass.GREEN,
    }
    return [mark for mark, holds in said.items() if holds]


def rules_in_words(exchange: Exchange) -> tuple[str, ...]:
    """Return the terms of an exchange as sentences for those who ask."""
    rules, terms = exchange.terms.rules, exchange.terms
    said = []
    if rules.cap is not None:
        extra = f", {rules.extra} more for donors and helpers" if rules.extra else ""
        per = " and year" if exchange.shape is Shape.STANDING else ""
        said.append(f"Up to {counted.packets(rules.cap)} a person{per}{extra}.")
    if rules.limited_cap is not None:
        said.append(f"Of the lines marked limited, up to {counted.packets(rules.limited_cap)} a person together.")
    if rules.line_cap is not None:
        said.append(f"Up to {counted.packets(rules.line_cap)} of one line a person.")
    said.append(_ALTERNATIVES[rules.alternatives])
    said.append(_order(exchange, rules))
    if terms.packet_cents or terms.postage_cents or terms.postage_abroad_cents:
        said.append(_charges(exchange))
    return tuple(said)


_ALTERNATIVES = {
    Alternatives.NONE: "There are no alternatives: what cannot be had is left out.",
    Alternatives.LIST: "Give alternatives too, as many as you like and in any order; they fill what cannot be had.",
    Alternatives.RANKED: "Give alternatives too, the best liked first; they fill what cannot be had.",
    Alternatives.PER_LINE: "You may give one alternative beside each number.",
}


def _order(exchange: Exchange, rules: Rules) -> str:
    if exchange.shape is Shape.STANDING:
        return "First come, first served."
    until = "" if exchange.closes is None else f" Wishes may come until {day_label(exchange.closes)}."
    turns = f" Served one after the other: {', '.join(one.value for one in rules.classes)}." if rules.classes else ""
    waits = f" Sharing out waits until {day_label(rules.shared_from(exchange.opens))}." if rules.wait_days else ""
    return f"{until}{turns}{waits}".strip() or "Nobody is served before all wishes are in."


def _charges(exchange: Exchange) -> str:
    terms = exchange.terms
    parts = (
        (terms.packet_cents, "a packet"),
        (terms.postage_cents, "postage"),
        (terms.postage_abroad_cents, "postage abroad"),
    )
    said = ", ".join(f"{money(cents, terms.currency)} {what}" for cents, what in parts if cents)
    return f"Charges: {said}."


def money(cents: int, currency: str) -> str:
    """Return a sum of money as it is written: `1.50 EUR`."""
    sign = "-" if cents < 0 else ""
    return f"{sign}{abs(cents) // 100}.{abs(cents) % 100:02} {currency}".strip()
