"""What is seen in the pots of the story, round after round."""

from __future__ import annotations

import random
from datetime import date

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core.looks import LookKind, Pot
from sporebank.jobs.looks import LookForm, record

DAYS = (date(2025, 4, 26), date(2025, 6, 14), date(2025, 9, 6), date(2026, 1, 17), date(2026, 4, 11), date(2026, 5, 16))
SOWINGS = 10
"""So many of the last sowings are looked at; of those before, the ferns are out of their pots."""

_WEEKS = ((26, LookKind.SPORELINGS), (10, LookKind.PROTHALLI), (3, LookKind.FILM))
"""From which week on each stage is seen in a pot of middling pace (common practice, no source)."""


def look_round(bank: Bank) -> None:
    """Look at every pot that is not lost yet."""
    for sowing in queries.sowings(bank, SOWINGS):
        pots: dict[LookKind, list[int]] = {}
        for pot in queries.pots(bank, sowing.id):
            what = _seen(pot, (bank.today() - sowing.sown_on).days / 7)
            if what is not None:
                pots.setdefault(what, []).append(pot.id)
        for what, ids in pots.items():
            alone = what is LookKind.SPORELINGS and len(ids) == 1
            count = random.Random(ids[0]).randrange(3, 40) if alone else None
            record(bank, LookForm(tuple(ids), bank.today(), what, count))


def _seen(pot: Pot, weeks: float) -> LookKind | None:
    chance = random.Random(pot.id)  # a pot keeps its pace and its luck
    grown, luck = weeks * chance.uniform(0.7, 1.4), chance.random()
    last = None if pot.last is None else pot.last.what
    if last in (LookKind.MOULD, LookKind.LOST):
        return LookKind.LOST if last is LookKind.MOULD else None
    if luck < 0.06 and grown > 6:
        return LookKind.MOULD
    if luck > 0.96 and grown > 20:
        return LookKind.STRANGER
    return next((what for week, what in _WEEKS if grown >= week), None)
