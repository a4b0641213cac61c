"""What is known beforehand of how spore keeps: the table of resources/storage.toml, as the keeper may change it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

from sporebank.core.errors import Refusal
from sporebank.core.records import SporeClass

INITIAL, REPLICATES, KIN = "initial", "replicates", "kin"
STORES = ("room", "fridge", "freezer")


@dataclass(frozen=True)
class StoreRow:
    """Median days to lose one probit in a store, and the standard deviation of their log10."""

    days: float
    spread: float
    ours: bool = False
    evidence: str = ""


@dataclass(frozen=True)
class ClassRow:
    """A spore class in a room at 20 to 25, a fridge at 4 to 5 and a freezer at -18 to -20 degrees Celsius."""

    room: StoreRow
    fridge: StoreRow
    freezer: StoreRow

    def __hash__(self) -> int:
        """Return the hash of all of it, which is worked out once, as paces are looked up often."""
        return self._hash

    @cached_property
    def _hash(self) -> int:
        return hash((self.room, self.fridge, self.freezer))


@dataclass(frozen=True)
class StorageTable:
    """The prior of the forecast.

    `initial` is the probit of fresh spore (1.645 is 95 % alive); `correlation` that between the spores of one
    replicate (0 is the binomial); `between_taxa` the share of the variance of keeping that lies between taxa, not
    between batches of one taxon. `why` has the evidence for these three.
    """

    initial: float
    initial_spread: float
    rows: Mapping[SporeClass, ClassRow]
    correlation: float = 0.0
    between_taxa: float = 0.7
    why: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Number:
    """One number of the table, under the name by which it is kept; `spread` is None where it has none."""

    what: str
    value: float
    spread: float | None
    evidence: str = ""
    ours: bool = True


@dataclass(frozen=True)
class Limits:
    """Within which a number and its spread must lie."""

    low: float
    high: float
    low_spread: float = 0.02
    high_spread: float = 1.0


_LIMITS = {INITIAL: Limits(-1.0, 4.0), REPLICATES: Limits(0.0, 0.5), KIN: Limits(0.0, 0.95)}
_DAYS = Limits(0.1, 200_000.0)


def numbers(table: StorageTable) -> tuple[Number, ...]:
    """Return every number of the table: the general ones, then the stores of each class."""
    return (
        Number(INITIAL, table.initial, table.initial_spread, table.why.get(INITIAL, "")),
        Number(REPLICATES, table.correlation, None, table.why.get(REPLICATES, "")),
        Number(KIN, table.between_taxa, None, table.why.get(KIN, "")),
        *(
            Number(f"{kind.value}.{name}", store.days, store.spread, store.evidence, store.ours)
            for kind, row in table.rows.items()
            for name in STORES
            for store in (getattr(row, name),)
        ),
    )


def changed(table: StorageTable, known: Mapping[str, tuple[float, float | None]]) -> StorageTable:
    """Return the table with these numbers, `{what: (value, spread)}`; unknown names are let be."""
    for what, (value, spread) in known.items():
        table = _with(table, what, value, spread)
    return table


def _with(table: StorageTable, what: str, value: float, spread: float | None) -> StorageTable:
    if what == INITIAL:
        return replace(table, initial=value, initial_spread=table.initial_spread if spread is None else spread)
    if what == REPLICATES:
        return replace(table, correlation=value)
    if what == KIN:
        return replace(table, between_taxa=value)
    kind, _, store = what.partition(".")
    if store not in STORES or kind not in {each.value for each in table.rows}:
        return table
    row = table.rows[SporeClass(kind)]
    old = getattr(row, store)
    new = replace(old, days=value, spread=old.spread if spread is None else spread)
    return replace(table, rows={**table.rows, SporeClass(kind): replace(row, **{store: new})})


def refuse_odd(number: Number) -> None:
    """Refuse a number outside its limits.

    Raises:
        Refusal: with the limits; `field` is `value` or `spread`.
    """
    limits = _LIMITS.get(number.what, _DAYS)
    if not limits.low <= number.value <= limits.high:
        raise Refusal(f"Give a number from {limits.low:g} to {limits.high:,g}.", field="value")
    if number.spread is not None and not limits.low_spread <= number.spread <= limits.high_spread:
        raise Refusal(f"Give a spread from {limits.low_spread:g} to {limits.high_spread:g}.", field="spread")
