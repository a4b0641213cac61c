"""Genera of ferns and lycophytes, and how the spore of each is taken to keep."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from sporebank.core.records import SporeClass


@dataclass(frozen=True)
class Genus:
    """A genus with its place; `in_ppg1` and `in_2025` say which of the two lists has it."""

    name: str
    family: str
    order: str
    subfamily: str
    in_ppg1: bool
    in_2025: bool
    notho: bool


class Genera:
    """The table of genera: look one up, complete what is being typed, suggest a spelling."""

    def __init__(self, rows: Iterable[Genus]) -> None:
        self._rows = {row.name: row for row in sorted(rows, key=lambda row: row.name)}
        self._lower = {name.lower(): name for name in self._rows}

    def __iter__(self) -> Iterator[Genus]:
        return iter(self._rows.values())

    def __len__(self) -> int:
        return len(self._rows)

    def known(self, genus: str) -> bool:
        """Return whether the table has the genus, spelt exactly so."""
        return genus in self._rows

    def get(self, genus: str) -> Genus | None:
        """Return the row of a genus."""
        return self._rows.get(genus)

    def family(self, genus: str) -> str | None:
        """Return the family of a genus."""
        row = self._rows.get(genus)
        return row.family if row else None

    def complete(self, prefix: str, limit: int) -> tuple[str, ...]:
        """Return the first genera in the alphabet that begin with what was typed, in any case."""
        lower = prefix.strip().lower()
        return tuple(name for key, name in self._lower.items() if key.startswith(lower))[:limit]

    def near(self, genus: str) -> tuple[str, ...]:
        """Return up to three genera spelt nearly so, the nearest first; none for one spelt right."""
        if self.known(genus):
            return ()
        found = difflib.get_close_matches(genus.lower(), self._lower, n=3, cutoff=0.75)
        return tuple(self._lower[key] for key in found)


@dataclass(frozen=True)
class SporeRule:
    """Families, subfamilies and genera whose spore keeps alike; `why` completes the sentence 'X …'."""

    spore_class: SporeClass
    families: frozenset[str]
    subfamilies: frozenset[str]
    genera: frozenset[str]
    why: str
    source: str

    def fits(self, genus: Genus) -> bool:
        """Return whether the genus falls under the rule."""
        return genus.name in self.genera or genus.family in self.families or genus.subfamily in self.subfamilies


@dataclass(frozen=True)
class Mixed:
    """Genera and families of which some species have green spore."""

    genera: frozenset[str]
    families: frozenset[str]
    says: str
    source: str

    def fits(self, genus: Genus) -> bool:
        """Return whether the genus is among them."""
        return genus.name in self.genera or genus.family in self.families


@dataclass(frozen=True)
class SporeClasses:
    """The rules of resources/spore_classes.toml, the first that fits wins."""

    rules: tuple[SporeRule, ...]
    mixed: tuple[Mixed, ...]


def default_spore_class(genus: str, genera: Genera, classes: SporeClasses) -> tuple[SporeClass, str]:
    """Return the spore class proposed for a genus, and the reason as a sentence."""
    row = genera.get(genus)
    if row is None:
        return SporeClass.UNKNOWN, f"{genus} is not in the table of genera, so how its spore keeps is not known."
    for rule in classes.rules:
        if rule.fits(row):
            return rule.spore_class, f"{genus} ({row.family}) {rule.why}."
    for mixed in classes.mixed:
        if mixed.fits(row):
            return SporeClass.NON_GREEN, f"Look at the spore: {mixed.says}. Some of it looks brown all the same."
    return SporeClass.NON_GREEN, f"{genus} ({row.family}) is not known for green spore."
