"""What a forecast is made from: tests, stays and spore class."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sporebank.bank.bank import Bank
from sporebank.bank.queries import reading
from sporebank.bank.queries.vials import stays
from sporebank.bank.sql import numbers, one, rows
from sporebank.core.dates import PartDate
from sporebank.core.records import Permission, Replicate, SporeClass, Stay, Test


@dataclass(frozen=True)
class VialCase:
    """A vial as a forecast needs it."""

    vial_id: int
    batch_id: int
    collected: PartDate
    spore_class: SporeClass
    stays: tuple[Stay, ...]
    left: int
    permission: Permission
    clone_left: int


def cases(bank: Bank, batch_ids: Sequence[int]) -> list[VialCase]:
    """Return every vial of these batches that is in the bank, by batch and number."""
    return _cases(bank, f"batch.id IN {numbers(batch_ids)} AND vial.culled_on IS NULL")


def case(bank: Bank, vial_id: int) -> VialCase:
    """Return one vial, also one that has been culled."""
    return _cases(bank, f"vial.id = {int(vial_id)}")[0]


def _cases(bank: Bank, which: str) -> list[VialCase]:
    found = rows(
        bank,
        f"""SELECT vial.id, batch.id, batch.collected, batch.spore_class, vial.left, clone.permission,
                (SELECT COALESCE(SUM(other.left), 0) FROM vial AS other JOIN batch AS kin ON kin.id = other.batch_id
                 WHERE kin.clone_id = clone.id)
            FROM vial JOIN batch ON batch.id = vial.batch_id JOIN clone ON clone.id = batch.clone_id
            WHERE {which} AND vial.void = 0 ORDER BY batch.id, vial.number""",
    )
    histories = stays(bank, [row[0] for row in found])
    return [
        VialCase(
            vial_id=vial_id,
            batch_id=batch_id,
            collected=reading.part_date(collected),
            spore_class=SporeClass(spore_class),
            stays=histories[vial_id],
            left=left,
            permission=Permission(permission),
            clone_left=clone_left,
        )
        for vial_id, batch_id, collected, spore_class, left, permission, clone_left in found
    ]


def families(bank: Bank, batch_ids: Sequence[int]) -> list[dict[int, tuple[PartDate, SporeClass]]]:
    """Return, for each taxon that these batches are of, all of its batches with the day and class of their spore."""
    found = rows(
        bank,
        f"""SELECT clone.taxon_id, batch.id, batch.collected, batch.spore_class
            FROM batch JOIN clone ON clone.id = batch.clone_id
            WHERE batch.void = 0 AND clone.taxon_id IN (SELECT DISTINCT own.taxon_id FROM batch AS one
                JOIN clone AS own ON own.id = one.clone_id WHERE one.id IN {numbers(batch_ids)})
            ORDER BY clone.taxon_id, batch.id""",
    )
    grouped: dict[int, dict[int, tuple[PartDate, SporeClass]]] = {}
    for taxon_id, batch_id, collected, spore_class in found:
        grouped.setdefault(taxon_id, {})[batch_id] = (reading.part_date(collected), SporeClass(spore_class))
    return list(grouped.values())


def tests_of(bank: Bank, batch_ids: Sequence[int]) -> dict[int, list[tuple[Test, tuple[Stay, ...]]]]:
    """Return the tests of batches, oldest first, each with the stays of the vial tested.

    A test of a batch as a whole is taken to be of its first vial.
    """
    found = rows(
        bank,
        f"""SELECT test.id, test.batch_id, test.vial_id, sown_on, counted_on, medium, temperature, light, note,
                left_out,
                COALESCE(test.vial_id, (SELECT vial.id FROM vial WHERE vial.batch_id = test.batch_id
                    ORDER BY vial.number LIMIT 1))
            FROM test WHERE test.batch_id IN {numbers(batch_ids)} AND void = 0 ORDER BY sown_on, test.id""",
    )
    counts: dict[int, list[Replicate]] = {row[0]: [] for row in found}
    sql = f"""SELECT test_id, sown, germinated FROM replicate WHERE void = 0 AND test_id IN {numbers(counts)}
        ORDER BY test_id, number"""
    for test_id, sown, germinated in rows(bank, sql):
        counts[test_id].append(Replicate(sown, germinated))
    histories = stays(bank, sorted({row[10] for row in found if row[10] is not None}))
    tests: dict[int, list[tuple[Test, tuple[Stay, ...]]]] = {batch_id: [] for batch_id in batch_ids}
    for row in found:
        sown_on, counted_on = reading.day(row[3]), reading.day(row[4])
        assert sown_on is not None
        assert counted_on is not None
        test = Test(row[0], row[1], row[2], sown_on, counted_on, tuple(counts[row[0]]), *row[5:10])
        tests[row[1]].append((test, histories.get(row[10], ())))
    return tests


def test(bank: Bank, test_id: int) -> Test | None:
    """Return one test, or None where it has been taken back or never was."""
    found = one(bank, "SELECT batch_id FROM test WHERE id = ? AND void = 0", test_id)
    if found is None:
        return None
    return next(test for test, _ in tests_of(bank, found)[found[0]] if test.id == test_id)


def figured_until(bank: Bank) -> tuple[str, int]:
    """Return the day of the last figures and the last deed they take into account."""
    found = one(
        bank,
        """SELECT (SELECT value FROM meta WHERE key = 'figures_day'),
                  (SELECT value FROM meta WHERE key = 'figures_event')""",
    )
    assert found is not None
    return str(found[0] or ""), int(found[1] or 0)
