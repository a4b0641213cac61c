"""The picture of a vial's decline, gathered from the bank."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.queries import VialCase
from sporebank.core import chart, viability
from sporebank.core.chart import Chart, SisterCurve
from sporebank.core.exposure import settled
from sporebank.core.records import Share, Stay, Test
from sporebank.core.storage import StorageTable
from sporebank.core.viability import Case, History
from sporebank.jobs import keeping
from sporebank.jobs.kin import evidence, gather, lent

MOST_SISTERS = 8
"""More curves than this cannot be told apart."""


def vial_chart(bank: Bank, vial_id: int) -> Chart:
    """Return the chart of a vial, without its sister batches."""
    vial, storage = queries.case(bank, vial_id), keeping.table(bank)
    case = gather(bank, [vial], storage)[0]
    share = viability.forecast_many([case], storage, bank.today())[0].share
    return drawn(bank, vial, case, storage, share)


def drawn(bank: Bank, vial: VialCase, case: Case, storage: StorageTable, share: Share | None) -> Chart:
    """Return the chart of a vial of which the case and the share alive today are known."""
    row, today, line = queries.vial_row(bank, vial.vials[0].vial_id), bank.today(), bank.settings.cull_line
    tests = [test for test, _ in queries.tests_of(bank, [vial.batch_id])[vial.batch_id]]
    began = settled(vial.collected, [*(stay.since for stay in vial.stays), *(test.sown_on for test in tests)])
    return Chart(
        name=row.name,
        code=row.code,
        clone=row.clone,
        collected=vial.collected,
        began=began,
        today=today,
        line=line,
        share=share,
        curve=viability.curve(case.evidence, case.history, case.spore_class, storage, today, line=line, lent=case.lent),
        tests=chart.dots(tests),
        stays=chart.spans(vial.stays, vial.before, began, today, _called(bank)),
    )


def _called(bank: Bank) -> dict[str, str]:
    """Return a short word for every spot, by its path: the nearest place around it with a temperature of its own."""
    called: dict[str, str] = {}
    for place, path, _ in queries.places(bank):
        above = path.removesuffix(place.name).removesuffix(" / ")
        called[path] = place.name if place.temperature is not None or not above else called.get(above, place.name)
    return called


def with_sisters(bank: Bank, vial_id: int, alone: Chart) -> Chart:
    """Return the chart with the middle curves of the most tested other batches of the taxon."""
    batch_id, storage = queries.case(bank, vial_id).batch_id, keeping.table(bank)
    family = queries.families(bank, [batch_id])[0]
    found = queries.tests_of(bank, list(family))
    tests = {one: evidence(each) for one, each in found.items()}
    kin = lent([family], tests, storage)
    tested = [one for one in family if one != batch_id and tests[one]]
    tested.sort(key=lambda one: (-sum(test.sown for test in tests[one]), one))
    sisters = []
    for batch in queries.batches_by_id(bank, tested[:MOST_SISTERS]):
        history = History(batch.collected, _last_stays(found[batch.id]), batch.before)
        case = Case(tests[batch.id], history, batch.spore_class, kin[batch.id])
        curve = viability.curve(
            case.evidence, case.history, case.spore_class, storage, alone.today, line=alone.line, lent=case.lent
        )
        if curve is not None:
            sisters.append(SisterCurve(batch.code, batch.clone.code, curve.dates, curve.middle))
    return replace(alone, sisters=tuple(sisters), tested_sisters=len(tested))


def _last_stays(tests: Sequence[tuple[Test, tuple[Stay, ...]]]) -> tuple[Stay, ...]:
    """Return the stays of the vial last tested, which stands for its batch."""
    return tests[-1][1]
