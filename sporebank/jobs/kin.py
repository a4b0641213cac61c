"""What the batches of a taxon lend each other, gathered from the bank."""

from __future__ import annotations

from collections.abc import Sequence

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import viability
from sporebank.core.records import Stay, Test
from sporebank.core.viability import Evidence, Lent, Sister
from sporebank.formats.tables import load_storage


def evidence(tests: Sequence[tuple[Test, tuple[Stay, ...]]]) -> tuple[Evidence, ...]:
    """Return tests as the forecast takes them in; those left out by the keeper do not count."""
    return tuple(Evidence(test.sown_on, test.replicates, stays) for test, stays in tests if not test.left_out)


def lent(bank: Bank, batch_ids: Sequence[int]) -> dict[int, Lent]:
    """Return what its kin lend to each of these batches, and to every other batch of their taxa."""
    families = queries.families(bank, batch_ids)
    tests = queries.tests_of(bank, [batch_id for family in families for batch_id in family])
    sisters = [
        {
            batch_id: Sister(evidence(tests[batch_id]), collected, spore_class)
            for batch_id, (collected, spore_class) in family.items()
        }
        for family in families
    ]
    found: dict[int, Lent] = {}
    for family, (tested, untested) in zip(sisters, viability.kin_many(sisters, load_storage()), strict=True):
        found |= {batch_id: tested.get(batch_id, untested) for batch_id in family}
    return found
