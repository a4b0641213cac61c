"""Recording a germination test, and leaving one out of the forecast that is not to be trusted."""

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
    found = germination.problems(
        replicates=form.replicates,
        sown_on=form.sown_on,
        counted_on=form.counted_on,
        collected=queries.batch(bank, form.batch_id).collected,
        today=bank.today(),
        temperature=form.temperature,
    )
    if form.vial_id is not None and queries.vial_row(bank, form.vial_id).batch_id != form.batch_id:
        found.append(("vial_id", "This vial is of another batch. Choose one of this batch, or none."))
    return tuple(found)


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


def leave_out(bank: Bank, test_id: int, reason: str) -> None:
    """Let the forecast no longer go by a test; it stays on record, marked with the reason.

    Raises:
        Refusal: no reason is given, or the test has been taken back.
    """
    why = reason.strip()
    if not why:
        raise Refusal("Say why, such as mould on a dish: whoever reads the test later will ask.", field="reason")
    _mark(bank, test_id, why, "Leave out the test of", f": {why}")


def take_back_in(bank: Bank, test_id: int) -> None:
    """Let the forecast go by a test again that was left out.

    Raises:
        Refusal: the test has been taken back.
    """
    _mark(bank, test_id, "", "Take back in the test of")


def _mark(bank: Bank, test_id: int, why: str, deed: str, after: str = "") -> None:
    test = queries.test(bank, test_id)
    if test is None:
        raise Refusal("This test has been taken back. Do it again first, by the page History.")
    batch = queries.batch(bank, test.batch_id)
    what = f"{codes.grouped(batch.code)}, {test.germinated} of {test.sown} germinated"
    with bank.change(f"{deed} {what}{after}") as tx:
        tx.update(Test, test_id, left_out=why)
