"""Keeping the figures of every vial up to the day and the last deed."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import date

from sporebank.bank import figures, queries
from sporebank.bank.bank import Bank
from sporebank.bank.figures import VialFigure
from sporebank.core import advice, sharing, viability
from sporebank.core.advice import Lines
from sporebank.core.records import Changed, Forecast
from sporebank.core.viability import Case, History
from sporebank.formats.tables import load_storage
from sporebank.jobs.kin import evidence, lent

#: Batches computed in one go: large enough to share work, small enough to let the keeper's own deeds in between.
CHUNK = 200


def keep_fresh(bank: Bank) -> None:
    """From now on, compute anew after every deed whatever it touched."""
    bank.subscribe(lambda changed: _follow(bank, changed))


def _follow(bank: Bank, changed: Changed) -> None:
    day, event_id = queries.figured_until(bank)
    if "setting" in changed.ids:
        refresh_batches(bank, figures.all_batches(bank))
    else:
        touched = {batch for kind, ids in changed.ids.items() for batch in figures.batches_of(bank, kind, ids)}
        refresh_batches(bank, sorted(touched))
    if day and event_id == changed.event_id - 1:
        figures.mark(bank, date.fromisoformat(day), changed.event_id)


def stale(bank: Bank) -> bool:
    """Return whether the figures are of another day, or miss a deed after which the program was stopped."""
    return queries.figured_until(bank) != (bank.today().isoformat(), figures.last_event(bank))


def refresh_all(bank: Bank) -> None:
    """Compute the figures of the whole bank at once; see `chunks` for doing it bit by bit."""
    for chunk in chunks(bank):
        chunk(bank)


def chunks(bank: Bank) -> Iterator[Callable[[Bank], None]]:
    """Yield the pieces of work that bring the figures of the whole bank up to date, the last one noting it."""
    everything, event_id, today = figures.all_batches(bank), figures.last_event(bank), bank.today()
    for start in range(0, len(everything), CHUNK):
        part = everything[start : start + CHUNK]
        yield lambda bank, part=part: refresh_batches(bank, part)  # type: ignore[misc]  # the default binds this part
    yield lambda bank: figures.mark(bank, today, event_id)


def refresh_batches(bank: Bank, batch_ids: Sequence[int]) -> None:
    """Compute and keep the figures of every vial of these batches."""
    if not batch_ids:
        return
    cases = queries.cases(bank, batch_ids)
    tests, kin = queries.tests_of(bank, batch_ids), lent(bank, batch_ids)
    today, settings = bank.today(), bank.settings
    lines = Lines(settings.alive_line, settings.cull_line)
    forecasts = viability.forecast_many(
        [
            Case(
                evidence(tests[case.batch_id]),
                History(case.collected, case.stays),
                case.spore_class,
                kin[case.batch_id],
            )
            for case in cases
        ],
        load_storage(),
        today,
        line=settings.cull_line,
    )
    figures.write(
        bank,
        [
            VialFigure(
                vial_id=case.vial_id,
                state=advice.state(forecast.share, lines),
                share=forecast.share,
                chance_below=forecast.chance_below,
                crossing=forecast.crossing,
                next_test=forecast.next_test,
                surplus=case.left > 0
                and sharing.surplus(
                    case.permission, forecast.share, case.clone_left, settings.reserve_ug, settings.gift_line
                ),
            )
            for case, forecast in zip(cases, forecasts, strict=True)
        ],
        today,
    )


def forecast_vial(bank: Bank, vial_id: int, on: date) -> Forecast:
    """Return the forecast of one vial for a day."""
    case = queries.case(bank, vial_id)
    tests = queries.tests_of(bank, [case.batch_id])[case.batch_id]
    return viability.forecast(
        evidence(tests),
        History(case.collected, case.stays),
        case.spore_class,
        load_storage(),
        on,
        line=bank.settings.cull_line,
        lent=lent(bank, [case.batch_id])[case.batch_id],
    )
