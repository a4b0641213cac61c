"""Sowing a batch: spore out of its vial, pots with codes of their own."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.tables import Pot, Sowing
from sporebank.core import amounts, names
from sporebank.core.counted import counted
from sporebank.core.errors import Refusal
from sporebank.core.layout import Kind
from sporebank.core.records import Basis, Reason
from sporebank.jobs import labels
from sporebank.jobs.vials import refuse_before_stored, refuse_future

#: More pots than this from one vial on one day is a typing slip.
MOST_POTS = 500
#: Below this share alive, more spore on a pot only brings mould; the dose is not raised further. Our own choice.
LEAST_ALIVE = 0.05


@dataclass(frozen=True)
class SowForm:
    """One session of sowing. `knowingly` is the keeper's word where another species was sown there that day."""

    vial_id: int
    room: str
    sown_on: date
    pots: int
    micrograms: int
    note: str = ""
    knowingly: bool = False


def dose(bank: Bank, vial_id: int, pots: int) -> int | None:
    """Return the micrograms that coat so many pots lightly and evenly with live spore, by the keeper's settings.

    None where it is not known how much of the spore is alive.
    """
    row, settings = queries.vial_row(bank, vial_id), bank.settings
    if row.share is None:
        return None
    alive = max(row.share.middle, LEAST_ALIVE)
    spores = amounts.spores_to_sow(alive, live_per_cm2=settings.live_per_cm2, pot_cm2=settings.pot_cm2)
    return amounts.from_spores(pots * spores, settings.spore_ng)


def clash(bank: Bank, form: SowForm) -> str:
    """Return a warning where another species was sown in this room on this day, else nothing."""
    own = queries.vial_row(bank, form.vial_id)
    others = {
        names.text(sowing.name)
        for sowing in queries.sown_that_day(bank, form.room.strip(), form.sown_on)
        if sowing.name != own.name
    }
    if not others:
        return ""
    return (
        f"{' and '.join(sorted(others))} was sown in {form.room.strip()} that day. Spore drifts: two species in a room "
        "on one day end up in each other's pots. Sow in another room or on another day."
    )


def sow(bank: Bank, form: SowForm) -> int:
    """Book a sowing, the spore it took and its pots; return the sowing's id.

    Raises:
        Refusal: too little is left, or another species was sown there that day and `knowingly` is not said.
    """
    row = queries.vial_row(bank, form.vial_id)
    _check(bank, form)
    if (warning := clash(bank, form)) and not form.knowingly:
        raise Refusal(warning, field="room")
    with bank.change(f"Sow {names.text(row.name)} in {counted(form.pots, 'pot')}, {form.room.strip()}") as tx:
        sowing_id = tx.insert(
            Sowing,
            code=tx.new_code("S"),
            vial_id=form.vial_id,
            room=form.room.strip(),
            sown_on=form.sown_on.isoformat(),
            micrograms=form.micrograms,
            note=form.note,
        )
        tx.move_spore(
            form.vial_id,
            on_day=form.sown_on.isoformat(),
            micrograms=-form.micrograms,
            reason=Reason.SOWING.value,
            basis=Basis.EYE.value,
        )
        numbers = range(1, form.pots + 1)
        pots = [tx.insert(Pot, code=tx.new_code("P"), sowing_id=sowing_id, number=number) for number in numbers]
        labels.ask(bank, tx, Kind.POT_ALONG, pots)
    return sowing_id


def _check(bank: Bank, form: SowForm) -> None:
    if not form.room.strip():
        raise Refusal("Say in which room it is sown; one species a room a day keeps strangers out.", field="room")
    if not 1 <= form.pots <= MOST_POTS:
        raise Refusal(f"Give a number of pots from 1 to {MOST_POTS}.", field="pots")
    if form.micrograms <= 0:
        raise Refusal("Say how much spore is sown, such as 2 mg.", field="amount")
    refuse_future(form.sown_on, bank.today(), "sown_on")
    refuse_before_stored(bank, {form.vial_id: form.sown_on}, "sown_on")
    free = queries.vial_row(bank, form.vial_id).left - queries.reserved(bank).get(form.vial_id, 0)
    if form.micrograms > free:
        raise Refusal(f"Only {amounts.show(free)} is free in this vial. Sow less, or fewer pots.", field="amount")
