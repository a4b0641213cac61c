"""What a forecast is made from: tests, stays and spore class."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import date
from typing import NamedTuple

from sporebank.bank.bank import Bank
from sporebank.bank.queries import reading
from sporebank.bank.queries.vials import stays
from sporebank.bank.sql import numbers, one, rows
from sporebank.core.dates import PartDate
from sporebank.core.records import Advice, Before, Mishap, MishapKind, Permission, Replicate, SporeClass, Stay, Test

Family = dict[int, tuple[PartDate, SporeClass, Before]]
"""The batches of a taxon: when each was collected, how its spore keeps, and where it lay at first."""


class VialFigure(NamedTuple):
    """What follows for one vial from its outlook, as its figures have it."""

    vial_id: int
    outlook_id: int
    surplus: bool
    advice: Advice
    clone_good: int


class CaseVial(NamedTuple):
    """A vial of a case: the micrograms left in it, and its figures so far."""

    vial_id: int
    left: int
    figure: VialFigure | None


class VialCase(NamedTuple):
    """Vials of a batch as their forecast needs them: they lay side by side, and the same befell them."""

    batch_id: int
    clone_id: int
    collected: PartDate
    spore_class: SporeClass
    permission: Permission
    before: Before
    stays: tuple[Stay, ...]
    mishaps: tuple[Mishap, ...]
    vials: tuple[CaseVial, ...]


_Histories = Callable[[Bank, Sequence[int]], dict[int, tuple[Stay, ...]]]
_CLASSES = {each.value: each for each in SporeClass}
_ADVICE = {each.value: each for each in Advice}
_PERMISSIONS = {each.value: each for each in Permission}
_BEFORE = {each.value: each for each in Before}


def cases(bank: Bank, batch_ids: Sequence[int]) -> list[VialCase]:
    """Return every vial of these batches that is in the bank, those alike as one; their stays without places."""
    return _cases(bank, f"batch.id IN {numbers(batch_ids)} AND vial.culled_on IS NULL", _lain)


def left_of_clone(bank: Bank, clone_id: int) -> int:
    """Return the micrograms that are left in all vials of a clone."""
    found = one(
        bank,
        """SELECT COALESCE(SUM(vial.left), 0) FROM vial JOIN batch ON batch.id = vial.batch_id
           WHERE batch.clone_id = ?""",
        clone_id,
    )
    assert found is not None
    return int(found[0])


def case(bank: Bank, vial_id: int) -> VialCase:
    """Return one vial, also one that has been culled."""
    return _cases(bank, f"vial.id = {int(vial_id)}", stays)[0]


def _cases(bank: Bank, which: str, histories_of: _Histories) -> list[VialCase]:
    found = rows(
        bank,
        f"""SELECT batch.id, vial.id, vial.left, figure.vial_id, outlook_id, surplus, advice, clone_good
            FROM vial JOIN batch ON batch.id = vial.batch_id LEFT JOIN figure ON figure.vial_id = vial.id
            WHERE {which} AND vial.void = 0 ORDER BY batch.id, vial.number""",
    )
    ids = [row[1] for row in found]
    histories, befell = histories_of(bank, ids), mishaps(bank, ids)
    alike: dict[tuple[int, int, tuple[Mishap, ...]], tuple[tuple[Stay, ...], list[CaseVial]]] = {}
    for batch_id, vial_id, left, figured, outlook_id, surplus, advice, good in found:
        figure = None if figured is None else VialFigure(vial_id, outlook_id, surplus, _ADVICE[advice], good)
        lain = histories[vial_id]
        key = batch_id, id(lain), befell.get(vial_id, ())  # vials that lay side by side have the very same stays
        if key not in alike:
            alike[key] = lain, []
        alike[key][1].append(CaseVial(vial_id, left, figure))
    batches = _batches(bank, {batch_id for batch_id, _, _ in alike})
    return [
        VialCase(batch_id, *batches[batch_id], lain, happened, tuple(each))
        for (batch_id, _, happened), (lain, each) in alike.items()
    ]


def _batches(bank: Bank, batch_ids: Iterable[int]) -> dict[int, tuple[int, PartDate, SporeClass, Permission, Before]]:
    found = rows(
        bank,
        f"""SELECT batch.id, clone_id, collected, spore_class, permission, before
            FROM batch JOIN clone ON clone.id = batch.clone_id WHERE batch.id IN {numbers(batch_ids)}""",
    )
    return {
        batch_id: (
            clone_id, reading.part_date(collected), _CLASSES[spore_class], _PERMISSIONS[permission], _BEFORE[before]
        )
        for batch_id, clone_id, collected, spore_class, permission, before in found
    }  # fmt: skip


def _lain(bank: Bank, vial_ids: Sequence[int]) -> dict[int, tuple[Stay, ...]]:
    """Return the stays of vials without their places; vials that lay side by side share them, the very same."""
    found = rows(
        bank,
        f"""SELECT vial_id, since, temperature FROM stay WHERE vial_id IN {numbers(vial_ids)} AND voids IS NULL
                AND NOT EXISTS (SELECT 1 FROM stay AS other WHERE other.voids = stay.id)
            ORDER BY vial_id, since, id""",
    )
    lay: dict[int, list[tuple[str, float | None]]] = {vial_id: [] for vial_id in vial_ids}
    for vial_id, since, temperature in found:
        lay[vial_id].append((since, temperature))
    by_vial = {vial_id: tuple(each) for vial_id, each in lay.items()}
    shared = {
        each: tuple(Stay(date.fromisoformat(since), temperature, None) for since, temperature in each)
        for each in set(by_vial.values())
    }
    return {vial_id: shared[each] for vial_id, each in by_vial.items()}


def mishaps(bank: Bank, vial_ids: Sequence[int]) -> dict[int, tuple[Mishap, ...]]:
    """Return what befell these vials, oldest first; vials that nothing befell are not in it."""
    found = rows(
        bank,
        f"""SELECT vial_id, on_day, kind, note FROM mishap WHERE void = 0 AND vial_id IN {numbers(vial_ids)}
            ORDER BY on_day, id""",
    )
    befell: dict[int, list[Mishap]] = {}
    for vial_id, on_day, kind, note in found:
        befell.setdefault(vial_id, []).append(Mishap(date.fromisoformat(on_day), MishapKind(kind), note))
    return {vial_id: tuple(all_of_it) for vial_id, all_of_it in befell.items()}


def unsettled(bank: Bank, batch_id: int) -> dict[int, str]:
    """Return what befell the vials of a batch since they were tested, by the vial, in the order of their numbers."""
    found = rows(
        bank,
        """SELECT vial.id, outlook.unsettled FROM vial JOIN figure ON figure.vial_id = vial.id
               JOIN outlook ON outlook.id = figure.outlook_id
           WHERE vial.batch_id = ? AND vial.void = 0 AND vial.culled_on IS NULL AND outlook.unsettled <> ''
           ORDER BY vial.number""",
        batch_id,
    )
    return {int(vial_id): str(befell) for vial_id, befell in found}


def keeping(bank: Bank) -> dict[str, tuple[float, float | None]]:
    """Return the numbers of how spore keeps that the keeper has changed, each with its spread."""
    found = rows(bank, "SELECT what, value, spread FROM keeping WHERE void = 0 ORDER BY what")
    return {what: (value, spread) for what, value, spread in found}


def keeping_row(bank: Bank, what: str) -> int | None:
    """Return the row of a number that the keeper has changed."""
    found = one(bank, "SELECT id FROM keeping WHERE what = ? AND void = 0", what)
    return None if found is None else int(found[0])


def families(bank: Bank, batch_ids: Sequence[int]) -> list[Family]:
    """Return, for each taxon that these batches are of, all of its batches: collected when, class, where at first."""
    found = rows(
        bank,
        f"""SELECT clone.taxon_id, batch.id, batch.collected, batch.spore_class, batch.before
            FROM batch JOIN clone ON clone.id = batch.clone_id
            WHERE batch.void = 0 AND clone.taxon_id IN (SELECT DISTINCT own.taxon_id FROM batch AS one
                JOIN clone AS own ON own.id = one.clone_id WHERE one.id IN {numbers(batch_ids)})
            ORDER BY clone.taxon_id, batch.id""",
    )
    grouped: dict[int, Family] = {}
    for taxon_id, batch_id, collected, spore_class, before in found:
        family = grouped.setdefault(taxon_id, {})
        family[batch_id] = (reading.part_date(collected), _CLASSES[spore_class], _BEFORE[before])
    return list(grouped.values())


def tests_of(bank: Bank, batch_ids: Sequence[int]) -> dict[int, list[tuple[Test, tuple[Stay, ...]]]]:
    """Return the tests of batches, oldest first, each with what befell the vial tested before, and with its stays.

    A test of a batch as a whole is taken to be of its first vial that nothing had befallen, or of its first.
    """
    found = rows(
        bank,
        f"""SELECT test.id, test.batch_id, test.vial_id, sown_on, counted_on, medium, temperature, light, note,
                left_out,
                COALESCE(test.vial_id,
                    (SELECT vial.id FROM vial WHERE vial.batch_id = test.batch_id AND NOT EXISTS (SELECT 1 FROM mishap
                        WHERE mishap.vial_id = vial.id AND mishap.void = 0 AND mishap.on_day < test.sown_on)
                        ORDER BY vial.number LIMIT 1),
                    (SELECT vial.id FROM vial WHERE vial.batch_id = test.batch_id ORDER BY vial.number LIMIT 1))
            FROM test WHERE test.batch_id IN {numbers(batch_ids)} AND void = 0 ORDER BY sown_on, test.id""",
    )
    counts: dict[int, list[Replicate]] = {row[0]: [] for row in found}
    sql = f"""SELECT test_id, sown, germinated FROM replicate WHERE void = 0 AND test_id IN {numbers(counts)}
        ORDER BY test_id, number"""
    for test_id, sown, germinated in rows(bank, sql):
        counts[test_id].append(Replicate(sown, germinated))
    tested = sorted({row[10] for row in found if row[10] is not None})
    histories, befell = stays(bank, tested), mishaps(bank, tested)
    tests: dict[int, list[tuple[Test, tuple[Stay, ...]]]] = {batch_id: [] for batch_id in batch_ids}
    for test_id, batch_id, vial_id, sown, counted, medium, temperature, light, note, left_out, from_vial in found:
        sown_on, counted_on = date.fromisoformat(sown), date.fromisoformat(counted)
        before = tuple(mishap for mishap in befell.get(from_vial, ()) if mishap.on < sown_on)
        test = Test(
            test_id, batch_id, vial_id, sown_on, counted_on, tuple(counts[test_id]), medium, temperature, light, note,
            left_out, before,
        )  # fmt: skip
        tests[batch_id].append((test, histories.get(from_vial, ())))
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
