"""What is known beforehand of how spore keeps: the table of resources/storage.toml."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sporebank.core.records import SporeClass


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


@dataclass(frozen=True)
class StorageTable:
    """The prior of the forecast.

    `initial` is the probit of fresh spore (1.645 is 95 % alive); `correlation` that between the spores of one
    replicate (0 is the binomial); `between_taxa` the share of the variance of keeping that lies between taxa, not
    between batches of one taxon.
    """

    initial: float
    initial_spread: float
    rows: Mapping[SporeClass, ClassRow]
    correlation: float = 0.0
    between_taxa: float = 0.7
