"""What the manifest of another bank says, put in order for taking it in: batch by batch, with what does not agree."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from sporebank.core import codes, names
from sporebank.core.advice import percent, span
from sporebank.core.dates import day_label
from sporebank.core.papers import Counted, Kept, Manifest, ManifestItem
from sporebank.core.records import Before, Source

_FRIDGE = 8.0
_ROOM = 12.0
"""Degrees Celsius up to which spore lay in a fridge or colder, and from which on in a room; our own choice."""


@dataclass(frozen=True)
class Lot:
    """The packets of one batch. `tests` are those of all its packets, `own` the others, packet by packet."""

    items: tuple[ManifestItem, ...]
    tests: tuple[Counted, ...]
    own: tuple[tuple[Counted, ...], ...]

    @property
    def first(self) -> ManifestItem:
        """The packet that speaks for the batch."""
        return self.items[0]


def lots(manifest: Manifest) -> tuple[Lot, ...]:
    """Return the packets of a manifest batch by batch, in the order in which the batches come."""
    by_batch: dict[str, list[ManifestItem]] = {}
    for item in manifest.items:
        by_batch.setdefault(item.batch, []).append(item)
    return tuple(_lot(items) for items in by_batch.values())


def _lot(items: Sequence[ManifestItem]) -> Lot:
    everywhere = set(items[0].tests).intersection(*(item.tests for item in items))
    shared = tuple(test for test in items[0].tests if test in everywhere)
    own = tuple(tuple(test for test in item.tests if test not in everywhere) for item in items)
    return Lot(tuple(items), shared, own)


def disagreement(manifest: Manifest) -> str:
    """Return what packets of one batch or one clone say in unlike ways, as a sentence; nothing where all agree."""
    batch = _unlike(manifest.items, lambda item: item.batch, _of_batch)
    if batch:
        return (
            f"Two packets of batch {codes.grouped(batch)} do not say the same of it. Ask the sender for a new manifest."
        )
    clone = _unlike(manifest.items, lambda item: item.clone, _of_clone)
    if clone:
        return f"Two packets of clone {clone} do not say the same of it. Ask the sender for a new manifest."
    return ""


def to_come(manifest: Manifest, last: date) -> date | None:
    """Return the first day after `last` that a manifest tells of as gone by; None where there is none."""
    days = [manifest.sent_on]
    for item in manifest.items:
        days += [item.as_of, *(kept.since for kept in item.kept)]
    return next((day for day in days if day > last), None)


def _unlike(
    items: Iterable[ManifestItem], key: Callable[[ManifestItem], str], said: Callable[[ManifestItem], object]
) -> str:
    met: dict[str, object] = {}
    for item in items:
        if met.setdefault(key(item), said(item)) != said(item):
            return key(item)
    return ""


def _of_clone(item: ManifestItem) -> object:
    provenance = (item.source, item.origin, item.country, item.permission, item.permit, item.network_number)
    return names.text(item.name), provenance


def _of_batch(item: ManifestItem) -> object:
    return item.clone, _of_clone(item), item.collected, item.spore_class


def before(kept: Sequence[Kept]) -> Before:
    """Return where spore lay before it came, as far as one word can say it; doubt is said as not known."""
    degrees = [each.celsius for each in kept]
    if not degrees or None in degrees:
        return Before.UNKNOWN
    known = [celsius for celsius in degrees if celsius is not None]
    if max(known) <= _FRIDGE:
        return Before.FRIDGE
    return Before.ROOM if min(known) >= _ROOM else Before.UNKNOWN


def told(manifest: Manifest, item: ManifestItem, taxon: str) -> str:
    """Return what the sender says of a batch that has no field of its own here, in sentences for its note.

    Args:
        manifest: the manifest.
        item: a packet of the batch.
        taxon: what the batch is called here.
    """
    given = names.text(item.name)
    sentences = [
        f"Sent as {given}." if given != taxon else "",
        f"From {manifest.bank}, parcel {codes.grouped(manifest.parcel)}, batch {codes.grouped(item.batch)} there.",
        _alive(item),
        _lain(item.kept),
        *item.cautions,
    ]
    return "\n".join(filter(None, sentences))


def _alive(item: ManifestItem) -> str:
    if item.share is None:
        return f"Not known there how alive it is on {day_label(item.as_of)}. {item.basis}".strip()
    share = f"about {percent(item.share.middle)} ({span(item.share.low, item.share.high)})"
    return f"Alive there on {day_label(item.as_of)}: {share}. {item.basis}".strip()


def _lain(kept: Sequence[Kept]) -> str:
    stays = [f"{_degrees(each.celsius)} from {day_label(each.since)}" for each in kept]
    return f"Lay there at {', '.join(stays)}." if stays else ""


def _degrees(celsius: float | None) -> str:
    return "a temperature not known" if celsius is None else f"{celsius:g} °C"


def source_told(item: ManifestItem) -> str:
    """Return what a clone was where it came from, as a sentence: here it is one that was received."""
    return "" if item.source in (Source.RECEIVED, Source.UNKNOWN) else f"Where it came from: {item.source.value}."
