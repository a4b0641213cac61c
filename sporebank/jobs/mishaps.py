"""Putting on record what befell vials: that they got wet, froze and thawed, or got hot."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.tables import Mishap
from sporebank.core import codes
from sporebank.core.errors import Refusal
from sporebank.core.records import MishapKind
from sporebank.jobs.vials import refuse_before_stored, refuse_culled, refuse_future


def record(bank: Bank, vial_ids: Sequence[int], kind: MishapKind, on: date, note: str = "") -> None:
    """Note that something befell these vials; their forecasts warn of it until they are tested after that day.

    Raises:
        Refusal: no vial is chosen, one was culled, or the day is wrong.
    """
    if not vial_ids:
        raise Refusal("Choose the vials it befell first.")
    refuse_future(on, bank.today(), "on")
    rows = queries.vials_by_id(bank, vial_ids)
    refuse_culled(rows)
    refuse_before_stored(bank, dict.fromkeys(vial_ids, on), "on")
    what = codes.grouped(rows[0].code) if len(rows) == 1 else f"{len(rows)} vials"
    with bank.change(f"{what} {kind.value}") as tx:
        for row in rows:
            tx.insert(Mishap, vial_id=row.id, on_day=on.isoformat(), kind=kind.value, note=note.strip())
