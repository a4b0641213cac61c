"""What passed between the bank and a person."""

from __future__ import annotations

from dataclasses import dataclass

from sporebank.core.records import TaxonName


@dataclass(frozen=True)
class Passed:
    """So many packets of a taxon in a year: given to the bank, or got from it."""

    year: int
    gave: bool
    name: TaxonName
    packets: int
