"""Taking dead vials out of the bank, with the reason, reversibly on record."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.tables import Vial
from sporebank.core import advice, codes
from sporebank.core.errors import Refusal
from sporebank.core.papers import CullItem, CullSheet
from sporebank.core.records import Basis, CullCandidate, Reason
from sporebank.jobs.vials import refuse_culled, refuse_early, refuse_future

DISPOSAL = "Invasive: seal and bin, do not compost."


def candidates(bank: Bank) -> list[CullCandidate]:
    """Return the vials past viability, in walking order, each with advice and reason."""
    settings, today = bank.settings, bank.today()
    found = []
    for vial, below, tested, unsettled, last, invasive in queries.past_viability(bank, settings.cull_chance):
        what, why = advice.cull(below, settings.cull_line, tested, today, settings.test_age_days, unsettled)
        found.append(CullCandidate(vial, below, tested, last, invasive, what, why))
    return found


def cull(bank: Bank, vial_ids: Sequence[int], on: date, reasons: dict[int, str] | None = None) -> None:
    """Empty these vials and their slots.

    Args:
        bank: the bank.
        vial_ids: the vials.
        on: the day.
        reasons: why, per vial; where none is given, the keeper's own choice is noted.

    Raises:
        Refusal: nothing is chosen, the day is wrong, or a vial is culled already or held back for a parcel.
    """
    if not vial_ids:
        raise Refusal("Choose the vials to cull first.")
    refuse_future(on, bank.today(), "on")
    rows = queries.vials_by_id(bank, vial_ids)
    refuse_culled(rows)
    refuse_early(bank, rows, on)
    held = queries.reserved(bank)
    for row in rows:
        if row.id in held:
            raise Refusal(f"{codes.grouped(row.code)} is held back for a parcel. Change the parcel first.")
    what = codes.grouped(rows[0].code) if len(rows) == 1 else f"{len(rows)} vials"
    with bank.change(f"Cull {what}") as tx:
        for row in rows:
            if row.left:
                tx.move_spore(
                    row.id,
                    on_day=on.isoformat(),
                    micrograms=-row.left,
                    reason=Reason.CULL.value,
                    basis=Basis.EYE.value,
                )
            tx.place(row.id, since=on.isoformat(), place_id=None, slot=None, temperature=None, humidity=None)
            why = (reasons or {}).get(row.id, "The keeper's own choice.")
            tx.update(Vial, row.id, culled_on=on.isoformat(), cull_reason=why)


def sheet(bank: Bank, chosen: Sequence[CullCandidate], on: date) -> CullSheet:
    """Return the sheet that goes along to the cold store: what, where, why, to be signed."""
    return CullSheet(
        bank=bank.name,
        on=on,
        items=tuple(
            CullItem(
                place=one.vial.place,
                place_key=one.vial.place_key,
                code=one.vial.code,
                name=one.vial.name,
                clone=one.vial.clone,
                left=one.vial.left,
                why=one.reason,
                last_of_clone=one.last_of_clone,
                disposal=DISPOSAL if one.invasive_note else "",
            )
            for one in chosen
        ),
        signed_by=bank.settings.keeper,
    )
