"""The data tables that travel with the program, read once."""

from __future__ import annotations

import csv
import tomllib
from functools import cache
from typing import Any

from sporebank.core.cautions import Caution, Cautions, Listing
from sporebank.core.counting import Chamber
from sporebank.core.genera import Genera, Genus, Mixed, SporeClasses, SporeRule
from sporebank.core.records import SporeClass
from sporebank.core.sequential import Plan, Row
from sporebank.core.storage import INITIAL, KIN, REPLICATES, STORES, ClassRow, StorageTable, StoreRow
from sporebank.core.tolerance import ToleranceRow, ToleranceTable
from sporebank.paths import resources


@cache
def load_genera() -> Genera:
    """Return the genera of PPG I and of the snapshot of 2025."""
    with (resources() / "genera.csv").open(encoding="utf-8", newline="") as file:
        return Genera(
            Genus(
                row["genus"], row["family"], row["order"], row["subfamily"],
                row["in_ppg1"] == "yes", row["in_2025"] == "yes", row["notho"] == "yes",
            )
            for row in csv.DictReader(file)
        )  # fmt: skip


@cache
def load_storage() -> StorageTable:
    """Return the prior of the forecast."""
    table = _toml("storage.toml")
    rows = {kind: ClassRow(*(StoreRow(**table[kind.value][store]) for store in STORES)) for kind in SporeClass}
    return StorageTable(
        table["initial"]["probit"],
        table["initial"]["spread"],
        rows,
        table["replicates"]["correlation"],
        table["kin"]["between_taxa"],
        {name: table[name]["evidence"] for name in (INITIAL, REPLICATES, KIN)},
    )


@cache
def load_spore_classes() -> SporeClasses:
    """Return the rules by which a spore class is proposed."""
    table = _toml("spore_classes.toml")
    rules = tuple(
        SporeRule(
            SporeClass(rule["class"]),
            frozenset(rule.get("families", ())),
            frozenset(rule.get("subfamilies", ())),
            frozenset(rule.get("genera", ())),
            rule["why"],
            rule["source"],
        )
        for rule in table["rule"]
    )
    mixed = tuple(
        Mixed(frozenset(each.get("genera", ())), frozenset(each.get("families", ())), each["says"], each["source"])
        for each in table["mixed"]
    )
    return SporeClasses(rules, mixed)


@cache
def load_cautions() -> Cautions:
    """Return the warnings about taxa and about kinds of work."""
    table = _toml("cautions.toml")
    general = tuple(
        Caution(
            each["key"], each["text"], each["source"],
            frozenset(each.get("genera", ())), frozenset(each.get("families", ())),
        )
        for each in table["general"]
    )  # fmt: skip
    invasives, protecteds = (_listings(table[kind], table["regions"]) for kind in ("invasive", "protected"))
    return Cautions(table["as_of"], invasives, protecteds, general)


@cache
def load_chambers() -> tuple[Chamber, ...]:
    """Return the counting chambers, the verified ones first."""
    return tuple(Chamber(**each) for each in _toml("chambers.toml")["chamber"])


@cache
def load_sequential() -> Plan:
    """Return the published plan for counting in groups."""
    table = _toml("sequential.toml")
    rows = tuple(Row(row["tested"], row["dead"], row.get("alive")) for row in table["row"])
    return Plan(table["mark"], table["better"], rows, table["turn"], table["source"])


@cache
def load_tolerance() -> ToleranceTable:
    """Return how far apart four counts of 100 may lie."""
    table = _toml("tolerance.toml")
    rows = tuple(ToleranceRow(row["low"], row["high"], row["range"]) for row in table["row"])
    return ToleranceTable(rows, table["source"])


def _listings(rows: list[dict[str, Any]], regions: dict[str, list[str]]) -> tuple[Listing, ...]:
    return tuple(
        Listing(
            frozenset(row["taxa"]), row["where"], row["source"], row["basis"],
            frozenset(code for one in row.get("countries", ()) for code in regions.get(one, [one])),
        )
        for row in rows
    )  # fmt: skip


def _toml(name: str) -> dict[str, Any]:
    with (resources() / name).open("rb") as file:
        return tomllib.load(file)
