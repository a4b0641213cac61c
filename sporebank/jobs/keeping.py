"""How spore keeps: the table that travels with the program, as this bank's keeper has changed it."""

from __future__ import annotations

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.tables import Keeping
from sporebank.core import storage
from sporebank.core.records import SporeClass
from sporebank.core.storage import Number, StorageTable
from sporebank.core.viability import TestRule
from sporebank.formats.tables import load_storage

_GENERAL = {
    storage.INITIAL: "Fresh spore",
    storage.REPLICATES: "Likeness in one dish",
    storage.KIN: "Spread between taxa",
}
_CLASS = {
    SporeClass.GREEN: "Green",
    SporeClass.NON_GREEN: "Non-green",
    SporeClass.DRYING_SENSITIVE: "Killed by drying",
    SporeClass.DICKSONIA: "Dicksonia",
    SporeClass.DRY_LAND: "Dry-land ferns",
    SporeClass.UNKNOWN: "Kind not known",
}


def table(bank: Bank) -> StorageTable:
    """Return the prior of the forecast in this bank."""
    return storage.changed(load_storage(), queries.keeping(bank))


def test_rule(bank: Bank) -> TestRule:
    """Return the rule by which the keeper tests."""
    settings = bank.settings
    return TestRule(settings.test_chance if settings.test_rule == "line" else None, settings.test_age_days)


test_rule.__test__ = False  # type: ignore[attr-defined]  # pytest must not take it for a test of ours


def title(what: str) -> str:
    """Return a number of the table in words: `Non-green, fridge`."""
    if what in _GENERAL:
        return _GENERAL[what]
    kind, _, store = what.partition(".")
    return f"{_CLASS[SporeClass(kind)]}, {store}"


def change(bank: Bank, number: Number) -> None:
    """Keep a number of the table from now on; all forecasts follow.

    Raises:
        Refusal: it lies outside its limits.
    """
    storage.refuse_odd(number)
    columns = {"value": number.value, "spread": number.spread}
    with bank.change(f"How spore keeps: {title(number.what)} {number.value:g}") as tx:
        row_id = queries.keeping_row(bank, number.what)
        if row_id is None:
            tx.insert(Keeping, what=number.what, **columns)
        else:
            tx.update(Keeping, row_id, **columns)


def reset(bank: Bank, *whats: str) -> None:
    """Go back to the numbers that travel with the program, for these or, where none is named, for all."""
    changed = queries.keeping(bank)
    chosen = [what for what in (whats or changed) if what in changed]
    if not chosen:
        return
    named = title(chosen[0]) if len(chosen) == 1 else f"{len(chosen)} numbers"
    with bank.change(f"How spore keeps: {named} as it was at first") as tx:
        for what in chosen:
            row_id = queries.keeping_row(bank, what)
            assert row_id is not None
            tx.update(Keeping, row_id, void=1)
