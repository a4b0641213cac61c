"""Everything a vial's panel tells, in one reading."""

from __future__ import annotations

from dataclasses import dataclass

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import amounts, viability
from sporebank.core.chart import Chart
from sporebank.core.records import (
    Advice,
    Batch,
    Contribution,
    Event,
    Forecast,
    Mishap,
    Movement,
    Stay,
    Test,
    VialRow,
)
from sporebank.core.settings import Settings
from sporebank.jobs import chart, figures, keeping
from sporebank.jobs.kin import gather


@dataclass(frozen=True)
class VialCard:
    """What a vial is, how alive, for how long, how much is left, where it is, and what happened to it.

    `held` is what is held back for parcels, `pots` how many pots the rest will still sow, None where nobody knows;
    `last_of_clone` is true when no other vial of its clone holds any spore.
    """

    row: VialRow
    batch: Batch
    forecast: Forecast
    chart: Chart
    contributions: tuple[Contribution, ...]
    advice: tuple[Advice, str]
    tests: tuple[Test, ...]
    stays: tuple[Stay, ...]
    mishaps: tuple[Mishap, ...]
    movements: tuple[Movement, ...]
    events: tuple[Event, ...]
    held: int
    pots: int | None
    last_of_clone: bool


def vial_card(bank: Bank, vial_id: int) -> VialCard:
    """Return the card of a vial."""
    row, storage, settings = queries.vial_row(bank, vial_id), keeping.table(bank), bank.settings
    vial, today = queries.case(bank, vial_id), bank.today()
    case, line = gather(bank, [vial], storage)[0], settings.cull_line
    forecast = viability.forecast_many([case], storage, today, line=line, rule=keeping.test_rule(bank))[0]
    held = queries.reserved(bank).get(vial_id, 0)
    return VialCard(
        row=row,
        batch=queries.batch(bank, row.batch_id),
        forecast=forecast,
        chart=chart.drawn(bank, vial, case, storage, forecast.share),
        contributions=viability.contributions(case, storage, today),
        advice=figures.advised(vial, case, forecast, settings, today),
        tests=tuple(test for test, _ in queries.tests_of(bank, [row.batch_id])[row.batch_id]),
        stays=vial.stays,
        mishaps=vial.mishaps,
        movements=queries.ledger(bank, vial_id),
        events=tuple(queries.events_of_vial(bank, vial_id)),
        held=held,
        pots=None if forecast.share is None else _pots(row.left - held, forecast.share.middle, settings),
        last_of_clone=row.left == queries.left_of_clone(bank, vial.clone_id),
    )


def _pots(micrograms: int, alive: float, settings: Settings) -> int:
    return amounts.pots_worth(
        micrograms,
        alive,
        spores_per_mg=1e6 / settings.spore_ng,
        live_per_cm2=settings.live_per_cm2,
        pot_cm2=settings.pot_cm2,
    )
