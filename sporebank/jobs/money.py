"""Small money: what is owed for an order, and payments and refunds."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.queries import credits as reading
from sporebank.bank.queries.orders import exchange_of
from sporebank.bank.tables import Credit
from sporebank.core import money
from sporebank.core.errors import Refusal
from sporebank.core.exchange import Exchange
from sporebank.core.money import Account
from sporebank.core.offer_list import money as written
from sporebank.jobs.vials import refuse_future


def accounts(bank: Bank, exchange_id: int) -> dict[int, Account]:
    """Return what is owed for each order of an exchange that has a parcel; nothing where it asks for no money."""
    one = queries.exchange(bank, exchange_id)
    if not money.charges(one.terms):
        return {}
    return _accounts(bank, one, reading.people(bank, exchange_id))


def account(bank: Bank, request_id: int) -> Account | None:
    """Return what is owed for one order, None where its exchange asks for no money."""
    exchange_id = exchange_of(bank, request_id)
    if exchange_id is None or not money.charges((one := queries.exchange(bank, exchange_id)).terms):
        return None
    contact_id = queries.request(bank, request_id).contact.id
    kept = reading.paid(bank, [exchange_id], [contact_id]).get(contact_id, 0)
    return _accounts(bank, one, [contact_id]).get(request_id, Account(0, 0, kept, one.terms.currency))


def _accounts(bank: Bank, one: Exchange, contact_ids: Sequence[int]) -> dict[int, Account]:
    """Return the accounts of people in all exchanges of one currency; what they paid goes to the oldest order first."""
    alike = {other.id: other.terms for other in queries.exchanges(bank) if other.terms.currency == one.terms.currency}
    home, paid = bank.settings.country, reading.paid(bank, list(alike), contact_ids)
    costs: dict[int, dict[int, int]] = defaultdict(dict)
    for contact_id, request_id, exchange_id, country, packets in reading.given(bank, list(alike), contact_ids):
        abroad = bool(home and country and country != home)
        costs[contact_id][request_id] = money.charge(alike[exchange_id], packets, abroad=abroad)
    found: dict[int, Account] = {}
    for contact_id, of_orders in costs.items():
        owed, kept = money.settle(list(of_orders.values()), paid.get(contact_id, 0))
        for (request_id, cost), left in zip(of_orders.items(), owed, strict=True):
            found[request_id] = Account(cost, left, kept, one.terms.currency)
    return found


def sums(bank: Bank, request_id: int) -> tuple[tuple[str, str], ...]:
    """Return what a packing list says of money, nothing where none is asked for."""
    found = account(bank, request_id)
    return () if found is None else found.sums()


def pay(bank: Bank, request_id: int, cents: int, on: date, note: str = "") -> None:
    """Put on record what somebody paid for an order, or with a sum below nothing what was given back.

    Raises:
        Refusal: it is nothing, more is given back than is kept, the exchange asks for no money, or the day is to come.
    """
    found = account(bank, request_id)
    if found is None:
        raise Refusal("This exchange asks for no money.")
    if not cents:
        raise Refusal("Give the sum, such as 4.50.", field="cents")
    if -cents > found.kept:
        kept = written(max(found.kept, 0), found.currency)
        raise Refusal(f"Only {kept} is kept for them; no more can be given back.", field="cents")
    refuse_future(on, bank.today(), "on")
    contact = queries.request(bank, request_id).contact
    what = f"Payment of {contact.name}" if cents > 0 else f"Money back to {contact.name}"
    with bank.change(f"{what}, {written(abs(cents), found.currency)}") as tx:
        tx.insert(
            Credit, contact_id=contact.id, request_id=request_id, on_day=on.isoformat(), cents=cents, note=note.strip()
        )
