"""What is due today, in the order in which it cannot wait."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core.records import Due

#: A season, in days: what crosses the line within it is shown while there is still time to sow or collect again.
SEASON = 90


@dataclass(frozen=True)
class Agenda:
    """What waits, by kind, the most pressing first in each; green spore that is perhaps too late comes before all.

    `to_share` counts orders whose packets can be shared out.
    """

    green: tuple[Due, ...]
    requests: tuple[Due, ...]
    tests: tuple[Due, ...]
    crossing: tuple[Due, ...]
    to_cull: int
    to_share: int = 0

    def waiting(self) -> dict[str, int]:
        """Return how many things wait on each page; what has a page of its own is not counted for Today as well."""
        return {
            "today": len(self.green) + len(self.crossing),
            "test": len(self.tests),
            "share": len(self.requests),
            "exchange": self.to_share,
            "cull": self.to_cull,
        }


def agenda(bank: Bank) -> Agenda:
    """Return what is due."""
    today, settings = bank.today(), bank.settings
    green = timedelta(days=settings.green_days)
    late = queries.green_late(bank, today - green - timedelta(days=1), today, settings.cull_chance)
    return Agenda(
        green=(*late, *queries.green_expiring(bank, today, today + green)),
        requests=tuple(queries.waiting_requests(bank)),
        tests=tuple(queries.tests_due(bank, today)),
        crossing=tuple(queries.crossing(bank, today, today + timedelta(days=SEASON))),
        to_cull=queries.cull_count(bank, settings.cull_chance),
        to_share=queries.orders_to_share(bank, today),
    )
