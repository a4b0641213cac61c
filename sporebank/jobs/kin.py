"""What a forecast is made from, gathered from the bank: tests, history, and what the batches of a taxon lend."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.queries import Family, VialCase
from sporebank.core import viability
from sporebank.core.records import Stay, Test
from sporebank.core.storage import StorageTable
from sporebank.core.viability import Case, Evidence, History, Lent, Sister


def gather(bank: Bank, vials: Sequence[VialCase], storage: StorageTable) -> list[Case]:
    """Return vials as the forecast takes them in."""
    families = queries.families(bank, sorted({each.batch_id for each in vials}))
    found = queries.tests_of(bank, [batch_id for family in families for batch_id in family])
    tests = {batch_id: evidence(each) for batch_id, each in found.items()}
    kin = lent(families, tests, storage)
    return [
        Case(
            viability.telling(tests[each.batch_id], each.mishaps),
            History(each.collected, _conditions(each.stays), each.before, each.mishaps),
            each.spore_class,
            kin[each.batch_id],
        )
        for each in vials
    ]


def evidence(tests: Sequence[tuple[Test, tuple[Stay, ...]]]) -> tuple[Evidence, ...]:
    """Return tests as the forecast takes them in; those left out by the keeper do not count."""
    return tuple(
        Evidence(test.sown_on, test.replicates, _conditions(stays), test.befell, test.counted_on)
        for test, stays in tests
        if not test.left_out
    )


def _conditions(stays: Sequence[Stay]) -> tuple[Stay, ...]:
    """Return stays without their places, and one for all that follow at one temperature.

    So vials that lay side by side are one case, however often they were moved within a fridge.
    """
    kept: list[Stay] = []
    for stay in sorted(stays, key=lambda stay: stay.since):
        if not kept or kept[-1].temperature != stay.temperature:
            kept.append(Stay(stay.since, stay.temperature, None))
    return tuple(kept)


def lent(
    families: Sequence[Family], tests: Mapping[int, tuple[Evidence, ...]], storage: StorageTable
) -> dict[int, Lent]:
    """Return what its kin lend to each batch of these families; not by tests of vials that something befell."""
    sisters = [
        {
            batch_id: Sister(viability.telling(tests[batch_id], ()), collected, spore_class, before)
            for batch_id, (collected, spore_class, before) in family.items()
        }
        for family in families
    ]
    found: dict[int, Lent] = {}
    for family, (tested, untested) in zip(sisters, viability.kin_many(sisters, storage), strict=True):
        found |= {batch_id: tested.get(batch_id, untested) for batch_id in family}
    return found
