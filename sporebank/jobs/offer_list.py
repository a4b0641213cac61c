"""The list of an exchange, gathered for paper and spreadsheet."""

from __future__ import annotations

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import names
from sporebank.core.errors import Refusal
from sporebank.core.exchange import Shape
from sporebank.core.offer_list import OfferList, offer_line, rules_in_words
from sporebank.formats.tables import load_cautions
from sporebank.jobs.exchange import described


def offer_list(bank: Bank, exchange_id: int) -> OfferList:
    """Return the list of an exchange; before it is numbered, with the numbers it would have.

    Raises:
        Refusal: nothing is on it yet.
    """
    one = queries.exchange(bank, exchange_id)
    listed = [line for line in described(bank, one) if line.packets]
    if not listed:
        raise Refusal("Nothing is on the list yet. Put on it what may go.")
    cautions = load_cautions()
    warned = {line.id: cautions.invasive(line.taxon.name) or _noted(line.taxon.invasive_note) for line in listed}
    return OfferList(
        bank=bank.name,
        title=one.name,
        printed_on=bank.today(),
        opens=one.opens,
        closes=one.closes,
        ships=None if one.shape is Shape.STANDING else one.ships,
        rules=rules_in_words(one),
        note=one.note,
        lines=tuple(
            offer_line(line, line.number or place, invasive=bool(warned[line.id]))
            for place, line in enumerate(listed, start=1)
        ),
        warnings=tuple(
            f"{line.number or place} {names.text(line.taxon.name)}. {warned[line.id]}"
            for place, line in enumerate(listed, start=1)
            if warned[line.id]
        ),
    )


def _noted(note: str) -> str:
    return f"Noted as invasive: {note}" if note else ""
