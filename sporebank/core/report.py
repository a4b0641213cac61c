"""The batch report, as frozen records: all that the bank knows of a batch, and the decline of one of its vials."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sporebank.core.chart import Chart
from sporebank.core.records import (
    Advice,
    Batch,
    Contribution,
    Forecast,
    Mishap,
    Movement,
    Sowing,
    State,
    Stay,
    Test,
    VialRow,
)
from sporebank.core.tolerance import Agreement


@dataclass(frozen=True)
class VialReport:
    """One vial of the batch, culled or not: where it has been, what befell it, and its ledger, oldest first."""

    row: VialRow
    stays: tuple[Stay, ...]
    mishaps: tuple[Mishap, ...]
    ledger: tuple[Movement, ...]


@dataclass(frozen=True)
class BatchReport:
    """What is told of a batch on one day.

    `forecast`, what each source adds to it, `advice` and `chart` are of one vial, the one the report was asked for or
    the first; `renew_below` is the percentage below which the batch is to be renewed, 0 where it was never tested.
    """

    bank: str
    on: date
    batch: Batch
    forecast: Forecast
    contributions: tuple[Contribution, ...]
    advice: tuple[Advice, str]
    state: State
    chart: Chart
    tests: tuple[tuple[Test, Agreement | None], ...]
    renew_below: int
    sowings: tuple[Sowing, ...]
    vials: tuple[VialReport, ...]
    raised_from: str = ""
