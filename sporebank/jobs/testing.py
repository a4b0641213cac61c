"""Recording a germination test."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.tables import Replicate as ReplicateTable
from sporebank.bank.tables import Test
from sporebank.core import codes, germination
from sporebank.core.errors import Refusal
from sporebank.core.records import Replicate


@dataclass(frozen=True)
class TestForm:
    """A test as it is counted; without a vial it is of the batch as a whole."""

    __test__ = False  # pytest must not take it for a test of ours

    batch_id: int
    vial_id: int | None
    sown_on: date
    counted_on: date
    replicates: tuple[Replicate, ...]
    medium: str = ""
    temperature: float | None = None
    light: str = ""
    note: str = ""


def check(bank: Bank, form: TestForm) -> tuple[tuple[str, str], ...]:
    """Return `(field, sentence)` for everything that keeps the test from being recorded."""
    collected = queries.batch(bank, form.batch_id).collected
    return tuple(
        germination.problems(
            replicates=form.replicates,
            sown_on=form.sown_on,
            counted_on=form.counted_on,
            collected=collected,
            today=bank.today(),
            temperature=form.temperature,
        )
    )


def record_test(bank: Bank, form: TestForm) -> int:
    """Record a test and return its id; the forecasts of the batch follow."""
    for field, sentence in check(bank, form):
        raise Refusal(sentence, field=field)
    batch = queries.batch(bank, form.batch_id)
    germinated = sum(one.germinated for one in form.replicates)
    sown = sum(one.sown for one in form.replicates)
    with bank.change(f"Test of {codes.grouped(batch.code)}: {germinated} of {sown} germinated") as tx:
        test_id = tx.insert(
            Test,
            batch_id=form.batch_id,
            vial_id=form.vial_id,
            sown_on=form.sown_on.isoformat(),
            counted_on=form.counted_on.isoformat(),
            medium=form.medium,
            temperature=form.temperature,
            light=form.light,
            note=form.note,
        )
        for number, one in enumerate(form.replicates, start=1):
            tx.insert(ReplicateTable, test_id=test_id, number=number, sown=one.sown, germinated=one.germinated)
    return test_id
