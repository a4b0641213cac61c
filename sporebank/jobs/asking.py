"""Orders of an exchange as they come in: kept, changed, withdrawn; checked against its list and its rules."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.change import Change
from sporebank.bank.queries import orders
from sporebank.bank.tables import Contact as ContactTable
from sporebank.bank.tables import Line as LineTable
from sporebank.bank.tables import Pin as PinTable
from sporebank.bank.tables import Request as RequestTable
from sporebank.core.asking import Asked, Asker, Checked, check, numbered
from sporebank.core.dates import day_label
from sporebank.core.errors import Refusal
from sporebank.core.exchange import Exchange, Listed, Placed, Shape, Stage
from sporebank.core.records import Contact, RequestState
from sporebank.jobs.sharing import contact_values
from sporebank.jobs.vials import refuse_future


@dataclass(frozen=True)
class OrderForm:
    """What somebody asks for; `new_contact` is kept with it where the bank has none yet.

    `late` takes an order of a round that came after its last day.
    """

    exchange_id: int
    contact_id: int
    received_on: date
    asked: Asked
    helper: bool = False
    note: str = ""
    new_contact: Contact | None = None
    late: bool = False


@dataclass(frozen=True)
class Desk:
    """All that orders of an exchange are checked against, read at once.

    `had` are the packets of each order of a contact in the year, where a standing list counts them.
    """

    exchange: Exchange
    listed: Sequence[Listed]
    placed: Sequence[Placed]
    donors: frozenset[int]
    year: int
    had: Mapping[int, Mapping[int, int]] = field(default_factory=dict)

    @cached_property
    def lines(self) -> dict[int, Listed]:
        """The lines of the list by their numbers."""
        return numbered(self.listed)

    @cached_property
    def by_contact(self) -> dict[int, list[Placed]]:
        """The orders of each contact."""
        found: dict[int, list[Placed]] = {}
        for order in self.placed:
            found.setdefault(order.contact.id, []).append(order)
        return found

    def asker(self, contact_id: int, *, helper: bool, beside: int | None = None) -> Asker:
        """Return what the rules go by of a person, one order of theirs left out of the count."""
        had = sum(packets for order, packets in self.had.get(contact_id, {}).items() if order != beside)
        return Asker(contact_id in self.donors, helper, had)

    def check(self, asked: Asked, contact_id: int, *, helper: bool, beside: int | None = None) -> Checked:
        """Return an order of a person as it would be kept."""
        return check(asked, self.exchange, self.lines, self.asker(contact_id, helper=helper, beside=beside))


def desk(bank: Bank, exchange_id: int, year: int) -> Desk:
    """Return what orders of an exchange that come in a year are checked against."""
    exchange = queries.exchange(bank, exchange_id)
    return Desk(
        exchange,
        queries.listed(bank, exchange_id),
        queries.placed(bank, exchange_id),
        orders.donors(bank, exchange_id),
        year,
        orders.had_in_year(bank, exchange_id, year) if exchange.shape is Shape.STANDING else {},
    )


def keep_order(bank: Bank, form: OrderForm) -> int:
    """Keep an order as the rules let it be, in the place of its arrival, and return its id.

    Raises:
        Refusal: the exchange takes no orders on that day, the person has one already, or nothing of it can be kept.
    """
    at = desk(bank, form.exchange_id, form.received_on.year)
    refuse_untimely(bank, at.exchange, form.received_on, late=form.late)
    new = None if form.new_contact is None else contact_values(form.new_contact)
    who = queries.contact(bank, form.contact_id).name if new is None else new["name"]
    if at.exchange.shape is Shape.ROUND and new is None and form.contact_id in at.by_contact:
        raise Refusal(f"{who} has an order in {at.exchange.name} already. Change that one instead.", field="name")
    checked = at.check(form.asked, 0 if new is not None else form.contact_id, helper=form.helper)
    _refuse_empty(checked)
    said = "Late order" if is_late(at.exchange, form.received_on) else "Order"
    with bank.change(f"{said} of {who} in {at.exchange.name}") as tx:
        contact_id = form.contact_id if new is None else tx.insert(ContactTable, **new)
        request_id = tx.insert(
            RequestTable,
            contact_id=contact_id,
            state=RequestState.OPEN.value,
            exchange_id=form.exchange_id,
            place=orders.last_place(bank, form.exchange_id) + 1,
            **_request_values(form),
        )
        _write_lines(tx, at, request_id, checked)
    return request_id


def change_order(bank: Bank, request_id: int, form: OrderForm) -> None:
    """Keep what an order asks for now; its person and its place stay, and the keeper's hand on what it still names.

    Raises:
        Refusal: its packets are shared out already, or as in `keep_order`.
    """
    exchange_id = _unshared(bank, request_id)
    at = desk(bank, exchange_id, form.received_on.year)
    refuse_untimely(bank, at.exchange, form.received_on, late=form.late)
    who = queries.request(bank, request_id).contact
    checked = at.check(form.asked, who.id, helper=form.helper, beside=request_id)
    _refuse_empty(checked)
    with bank.change(f"Change the order of {who.name} in {at.exchange.name}") as tx:
        tx.update(RequestTable, request_id, **_request_values(form))
        for line_id in orders.line_ids(bank, request_id):
            tx.update(LineTable, line_id, void=1)
        _let_go(bank, tx, request_id, but=_offerings(at, checked))
        _write_lines(tx, at, request_id, checked)


def withdraw(bank: Bank, request_id: int) -> None:
    """Close an order that its person takes back; it counts no more, and they may place another.

    Raises:
        Refusal: its packets are shared out already.
    """
    exchange = queries.exchange(bank, _unshared(bank, request_id))
    who = queries.request(bank, request_id).contact.name
    with bank.change(f"Withdraw the order of {who} in {exchange.name}") as tx:
        tx.update(RequestTable, request_id, state=RequestState.CLOSED.value)
        _let_go(bank, tx, request_id)


def _offerings(at: Desk, checked: Checked) -> frozenset[int]:
    """Return the lines of the list that an order names, as first choices or alternatives."""
    beside = (wish.alternate for wish in checked.wishes if wish.alternate is not None)
    numbers = (*(wish.line for wish in checked.wishes), *beside, *checked.alternatives)
    return frozenset(at.lines[number].id for number in numbers)


def _let_go(bank: Bank, tx: Change, request_id: int, but: frozenset[int] = frozenset()) -> None:
    """Take pins and bars away from an order, but those on some lines of the list."""
    for offering_id, row_id in orders.hands(bank, request_id).items():
        if offering_id not in but:
            tx.update(PinTable, row_id, void=1)


def is_late(exchange: Exchange, received_on: date) -> bool:
    """Return whether an order came after the last day for wishes."""
    return exchange.closes is not None and received_on > exchange.closes


def why_not(exchange: Exchange) -> str:
    """Return why an exchange takes no orders at its stage, or nothing where it does."""
    return {
        Stage.GATHERING: f"The list of {exchange.name} is not out yet. Number it first.",
        Stage.OPEN: "",
        Stage.SHARED: f"The packets of {exchange.name} are shared out. Take the sharing out back first.",
        Stage.CLOSED: f"{exchange.name} is closed. Open it again first.",
    }[exchange.stage]


def refuse_untimely(bank: Bank, exchange: Exchange, received_on: date, *, late: bool) -> None:
    """Refuse an order where the exchange takes none, or took none on that day."""
    if why := why_not(exchange):
        raise Refusal(why)
    refuse_future(received_on, bank.today(), "received_on")
    if received_on < exchange.opens:
        sentence = f"The list opened on {day_label(exchange.opens)}. Give that day or a later one."
        raise Refusal(sentence, field="received_on")
    if exchange.closes is not None and is_late(exchange, received_on) and not late:
        sentence = f"The last day for wishes was {day_label(exchange.closes)}. Tick “late” to take it all the same."
        raise Refusal(sentence, field="received_on")


def _unshared(bank: Bank, request_id: int) -> int:
    """Return the exchange of an order that may still change."""
    exchange_id = orders.exchange_of(bank, request_id)
    assert exchange_id is not None  # orders alone are changed here
    if why := why_not(queries.exchange(bank, exchange_id)):
        raise Refusal(why)
    state = queries.request(bank, request_id).state
    if state is RequestState.CLOSED:
        raise Refusal("This order was withdrawn. Undo that, or place another.")
    if state is not RequestState.OPEN or orders.is_allotted(bank, request_id):
        raise Refusal("The packets of this order are shared out. Take the sharing out back first.")
    return exchange_id


def _refuse_empty(checked: Checked) -> None:
    if checked.wishes:
        return
    told = " ".join(problem.sentence for problem in checked.problems)
    raise Refusal(told or "Write at least one number of the list.", field="first")


def _request_values(form: OrderForm) -> dict[str, object]:
    return {
        "received_on": form.received_on.isoformat(),
        "helper": int(form.helper),
        "note": form.note.strip(),
    }


def _write_lines(tx: Change, at: Desk, request_id: int, checked: Checked) -> None:
    """Write the lines of an order, ranks from 1; an alternate is a line of its own that stands for its first choice."""
    lines = at.lines
    for rank, wish in enumerate(checked.wishes, start=1):
        first = tx.insert(LineTable, **line_values(request_id, rank, lines[wish.line], wish.packets))
        if wish.alternate is not None:
            values = line_values(request_id, rank, lines[wish.alternate], wish.packets)
            tx.insert(LineTable, **values, alternative=1, stands_for=first)
    for rank, number in enumerate(checked.alternatives, start=1):
        tx.insert(LineTable, **line_values(request_id, rank, lines[number], 1), alternative=1)


def line_values(request_id: int, rank: int, line: Listed, packets: int) -> dict[str, object]:
    """Return the columns of a line of an order that are the same for first choices and alternatives."""
    return {
        "request_id": request_id,
        "rank": rank,
        "taxon_id": line.taxon.id,
        "packets": packets,
        "packet_ug": line.packet_ug,
        "offering_id": line.id,
    }
