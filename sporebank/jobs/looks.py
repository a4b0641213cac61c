"""Looking at pots: what is seen in them on a day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.tables import Look
from sporebank.core import codes, names
from sporebank.core.dates import day_label
from sporebank.core.errors import Refusal
from sporebank.core.looks import LookKind, Pot
from sporebank.jobs.vials import refuse_future

#: More sporelings than this in one pot are a typing slip; a pot of a hundred square centimetres is covered by fewer.
MOST_SPORELINGS = 10_000


@dataclass(frozen=True)
class LookForm:
    """One look at pots; `count` is how many sporelings stand in each, None where nobody counted."""

    pot_ids: tuple[int, ...]
    on: date
    what: LookKind
    count: int | None = None
    note: str = ""


def record(bank: Bank, form: LookForm) -> None:
    """Put on record what was seen in pots, all in one deed.

    Raises:
        Refusal: no pot is chosen, one was taken back, the day is wrong, or the number is.
    """
    pots = queries.pots_by_id(bank, form.pot_ids)
    if len(pots) != len(set(form.pot_ids)):
        raise Refusal("A pot of these has been taken back meanwhile. Choose the pots again.")
    if not pots:
        raise Refusal("Choose the pots first.")
    _check(bank, form, pots)
    with bank.change(f"Look at {_what(bank, pots)}: {_seen(form)}") as tx:
        for pot in pots:
            tx.insert(
                Look,
                pot_id=pot.id,
                on_day=form.on.isoformat(),
                what=form.what.value,
                count=form.count,
                note=form.note.strip(),
            )


def take_back(bank: Bank, look_ids: Sequence[int]) -> None:
    """Take looks that were put on record by mistake back, however long ago, all in one deed.

    Raises:
        Refusal: no look is chosen, or one of them was taken back before.
    """
    if not look_ids:
        raise Refusal("Choose the looks first.")
    looks = queries.looks_by_id(bank, look_ids)
    if len(looks) != len(set(look_ids)):
        raise Refusal("A look of these has been taken back meanwhile. Choose the looks again.")
    pots = queries.pots_by_id(bank, {look.pot_id for look in looks})
    count = "a look" if len(looks) == 1 else f"{len(looks)} looks"
    seen = {look.said() for look in looks}
    said = f": {seen.pop()}" if len(seen) == 1 else ""
    with bank.change(f"Take back {count} at {_what(bank, pots)}{said}") as tx:
        tx.update_many(Look, {look.id: {"void": 1} for look in looks})


def _check(bank: Bank, form: LookForm, pots: Sequence[Pot]) -> None:
    refuse_future(form.on, bank.today(), "on")
    sown = max(pot.sown_on for pot in pots)
    if form.on < sown:
        raise Refusal(f"It was sown on {day_label(sown)}. Give that day or a later one.", field="on")
    if form.count is None:
        return
    if form.what is not LookKind.SPORELINGS:
        raise Refusal("Only sporelings are counted. Leave the number out.", field="count")
    if not 1 <= form.count <= MOST_SPORELINGS:
        raise Refusal(f"Give a number of sporelings from 1 to {MOST_SPORELINGS:,}, or none.", field="count")


def _what(bank: Bank, pots: Sequence[Pot]) -> str:
    which = codes.grouped(pots[0].code) if len(pots) == 1 else f"{len(pots)} pots"
    taxa = {names.text(queries.sowing(bank, sowing_id).name) for sowing_id in {pot.sowing_id for pot in pots}}
    return f"{which}, {taxa.pop()}" if len(taxa) == 1 else which


def _seen(form: LookForm) -> str:
    return form.what.value if form.count is None else f"{form.count:,} {form.what.value}"
