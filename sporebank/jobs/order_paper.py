"""The empty order form of an exchange, gathered from the bank."""

from __future__ import annotations

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core.errors import Refusal
from sporebank.core.order_paper import EmptyForm, FormLine


def empty_form(bank: Bank, exchange_id: int) -> EmptyForm:
    """Return the order form of an exchange, with the lines of which there are packets.

    Raises:
        Refusal: its list is not numbered yet.
    """
    one = queries.exchange(bank, exchange_id)
    lines = tuple(
        FormLine(line.number, line.taxon.name, line.packet_ug, line.limited, line.note)
        for line in queries.listed(bank, exchange_id)
        if line.number is not None and line.packets
    )
    if not lines:
        raise Refusal(
            "No line with packets has a number yet. Number the list first; the form is then filled in by them."
        )
    return EmptyForm(bank.name, one.name, one.opens, one.closes, one.terms.rules, lines)
