"""Orders of many people from a table: seen first, with all that is doubtful, and then taken in by one deed.

The same table twice changes nothing. A bad row loses no good one.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.change import Change
from sporebank.bank.queries import orders
from sporebank.bank.tables import Contact as ContactTable
from sporebank.bank.tables import Line as LineTable
from sporebank.bank.tables import Request as RequestTable
from sporebank.core import asking
from sporebank.core.asking import Asker, Checked
from sporebank.core.counted import counted
from sporebank.core.errors import Refusal
from sporebank.core.exchange import Exchange, Listed, Shape
from sporebank.core.matching import Head, Meaning, Names, Table, find_head, letter
from sporebank.core.orders import Wish
from sporebank.core.people import People, called
from sporebank.core.records import Contact, RequestState
from sporebank.jobs.asking import Desk, desk, line_values, why_not
from sporebank.jobs.order_rows import RowProblem, RowReader, RowsOrder
from sporebank.jobs.sharing import contact_values


@dataclass(frozen=True)
class Take:
    """What is taken in, and how: rows without a day came on `received_on`; `late` lets in what came too late.

    `accepted` are the keys of the suggestions that the keeper accepted.
    """

    exchange_id: int
    table: Table
    received_on: date
    late: bool = False
    accepted: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Incoming:
    """An order of the table as it would be kept; a contact with an id below 0 is new."""

    row: int
    contact: Contact
    received_on: date
    helper: bool
    note: str
    checked: Checked


@dataclass(frozen=True)
class Preview:
    """What a table would bring; `unchanged` orders are in already."""

    take: Take
    exchange: Exchange
    head: Head
    orders: tuple[Incoming, ...]
    unchanged: int
    problems: tuple[RowProblem, ...]

    @property
    def new_people(self) -> int:
        """How many people of the orders the bank does not know yet."""
        return len({one.contact.id for one in self.orders if one.contact.id < 0})

    @property
    def known_people(self) -> int:
        """How many people of the orders the bank knows."""
        return len({one.contact.id for one in self.orders if one.contact.id > 0})


def preview(bank: Bank, take: Take) -> Preview:
    """Return what a table would bring; nothing is written.

    Raises:
        Refusal: the exchange takes no orders, or the table does not say what its columns are.
    """
    at = desk(bank, take.exchange_id, take.received_on.year)
    if why := why_not(at.exchange):
        raise Refusal(why)
    head = find_head(take.table.rows, take.accepted)
    _refuse_headless(head)
    reader = RowReader(
        bank, at.exchange, head, People.of(queries.contacts(bank)), Names.of(at.listed), take.received_on, take.late,
        take.accepted, take.table.form,
    )  # fmt: skip
    found = reader.read(row for row in take.table.rows if row.number > head.row.number)
    settling = _Settling(bank, at, head)
    for order in found:
        settling.settle(order)
    unread = [RowProblem(row, "", sentence) for row, sentence in take.table.problems]
    problems = sorted([*reader.problems, *unread, *settling.problems], key=lambda one: one.row)
    new = sorted(settling.orders, key=lambda one: (one.received_on, one.row))
    return Preview(take, at.exchange, head, tuple(new), settling.unchanged, tuple(problems))


def take_in(bank: Bank, take: Take) -> int:
    """Keep the orders of a table that are not in yet, and return how many; where there is none, nothing is written."""
    found = preview(bank, take)
    if not found.orders:
        return 0
    count = counted(len(found.orders), "order")
    with bank.change(f"Take in {count} of {found.exchange.name}") as tx:
        people = _write_people(tx, found.orders)
        last = orders.last_place(bank, take.exchange_id)
        requests = _write_requests(tx, found, people, last)
        _write_lines(tx, queries.listed(bank, take.exchange_id), zip(requests, found.orders, strict=True))
    return len(found.orders)


def _refuse_headless(head: Head) -> None:
    """Refuse a table of which no column says who asks, or for what, unless a suggestion may still settle it."""
    if any(question.suggestion for question in head.questions):
        return
    if not {Meaning.NAME, Meaning.EMAIL} & head.columns.keys():
        raise Refusal("No column says who asks. Call it Name or E-mail in the first row.")
    if not {Meaning.FIRST, Meaning.NUMBER, Meaning.TAXON} & head.columns.keys():
        raise Refusal("No column says what is asked for. Call it First choices, Number or Taxon in the first row.")


# -- which orders are new


@dataclass(frozen=True)
class _Prior:
    """An order that its person has already: in the bank, or from a row before."""

    wishes: tuple[Wish, ...]
    alternatives: tuple[int, ...]
    received_on: date
    row: int | None = None
    withdrawn: bool = False


@dataclass
class _Settling:
    """Orders of a table one after the other, each against those that its person has already."""

    bank: Bank
    desk: Desk
    head: Head
    orders: list[Incoming] = field(default_factory=list)
    problems: list[RowProblem] = field(default_factory=list)
    unchanged: int = 0

    def __post_init__(self) -> None:
        self._desks: dict[int, Desk] = {}
        self._had: dict[int, dict[int, dict[int, int]]] = {}
        self._plenty = {
            number: replace(line, packets=max(line.packets, 1), left=max(line.left, 1))
            for number, line in self.desk.lines.items()
        }
        self._prior: dict[int, list[_Prior]] = {}
        for withdrawn, placed in (
            (False, self.desk.placed),
            (True, orders.withdrawn(self.bank, self.desk.exchange.id)),
        ):
            for one in placed:
                prior = _Prior(one.order.wishes, one.order.alternatives, one.received_on, withdrawn=withdrawn)
                self._prior.setdefault(one.contact.id, []).append(prior)

    @property
    def _standing(self) -> bool:
        return self.desk.exchange.shape is Shape.STANDING

    def settle(self, order: RowsOrder) -> None:
        """Take an order among the new ones, unless it is in already or there is another of its person."""
        at = self._desk(order.received_on.year)
        checked = at.check(order.asked, order.contact.id, helper=order.helper)
        known = self._prior.get(order.contact.id, [])
        prior = [one for one in known if not one.withdrawn]
        same = [one for one in known if self._same(one, order, checked)]
        if same:
            self.unchanged += 1
            if all(one.withdrawn for one in same):
                self._say(order, f"{called(order.contact)} took this order back. Type it anew if it counts again.")
        elif prior and not self._standing:
            self._say(order, _difference(order.contact, prior[0], checked))
        else:
            if not checked.wishes:
                self._say(order, f"Nothing of the order of {called(order.contact)} can be kept.")
            for problem in checked.problems:
                self._say(order, problem.sentence, Meaning.FIRST)
            if checked.wishes:
                self._keep(order, checked)

    def _say(self, order: RowsOrder, sentence: str, meaning: Meaning | None = None) -> None:
        places = () if meaning is None else self.head.columns.get(meaning, ())
        self.problems.append(RowProblem(order.row, letter(places[0]) if places else "", sentence))

    def _desk(self, year: int) -> Desk:
        """Return what orders of a year are checked against, with those of the table that came before."""
        if year not in self._desks:
            kept = orders.had_in_year(self.bank, self.desk.exchange.id, year) if self._standing else {}
            self._had[year] = kept
            self._desks[year] = replace(self.desk, year=year, had=kept)
        return self._desks[year]

    def _keep(self, order: RowsOrder, checked: Checked) -> None:
        who, day = order.contact, order.received_on
        self._prior.setdefault(who.id, []).append(_Prior(checked.wishes, checked.alternatives, day, order.row))
        if self._standing:
            self._had[day.year].setdefault(who.id, {})[-order.row] = checked.packets
        self.orders.append(Incoming(order.row, who, day, order.helper, order.note, checked))

    def _same(self, prior: _Prior, order: RowsOrder, checked: Checked) -> bool:
        """Return whether an order is in already.

        Lines may be gone since it came in. On a standing list what was had may have changed, too: there it is the same
        where its lines lie between those that would be kept now and those that the rules would let be kept at most.
        """
        asker = Asker(order.contact.id in self.desk.donors, order.helper)
        most = asking.check(order.asked, self.desk.exchange, self._plenty, asker)
        if not self._standing:
            return any((prior.wishes, prior.alternatives) == (one.wishes, one.alternatives) for one in (checked, most))
        if order.dated and prior.received_on != order.received_on:
            return False
        return _lines(checked.wishes) <= _lines(prior.wishes) <= _lines(most.wishes)


def _lines(wishes: Sequence[Wish]) -> set[int]:
    return {wish.line for wish in wishes}


def _difference(who: Contact, prior: _Prior, checked: Checked) -> str:
    """Return in what an order of the table differs from the one that its person has already."""
    before, after = _lines(prior.wishes), _lines(checked.wishes)
    parts = [f"asks for {_named(after - before)} as well"] if after - before else []
    parts += [f"does not ask for {_named(before - after)}"] if before - after else []
    said = " and ".join(parts) or "has another rank, other packets or other alternatives"
    where = "already" if prior.row is None else f"in row {prior.row}"
    return f"{called(who)} has an order {where}, which stays as it is. This row {said}."


def _named(lines: set[int]) -> str:
    return ", ".join(map(str, sorted(lines)))


# -- writing


def _write_people(tx: Change, new: Sequence[Incoming]) -> dict[int, int]:
    """Write who is new, and return the rows of all by the ids that they have in the preview."""
    people = {one.contact.id: one.contact for one in new}
    unknown = [contact for contact in people.values() if contact.id < 0]
    rows = tx.insert_many(ContactTable, [contact_values(contact) for contact in unknown])
    return {key: key for key in people} | {one.id: row for one, row in zip(unknown, rows, strict=True)}


def _write_requests(tx: Change, found: Preview, people: Mapping[int, int], last: int) -> list[int]:
    values = [
        {
            "contact_id": people[one.contact.id],
            "received_on": one.received_on.isoformat(),
            "state": RequestState.OPEN.value,
            "note": one.note,
            "exchange_id": found.exchange.id,
            "place": place,
            "helper": int(one.helper),
        }
        for place, one in enumerate(found.orders, start=last + 1)
    ]
    return tx.insert_many(RequestTable, values)


def _write_lines(tx: Change, listed: Sequence[Listed], new: Iterable[tuple[int, Incoming]]) -> None:
    """Write the lines of all orders; an alternate stands for its first choice, which is written before it."""
    lines = asking.numbered(listed)
    firsts: list[dict[str, object]] = []
    others: list[dict[str, object]] = []
    beside: list[tuple[int, dict[str, object]]] = []
    for request_id, one in new:
        for rank, wish in enumerate(one.checked.wishes, start=1):
            if wish.alternate is not None:
                values = line_values(request_id, rank, lines[wish.alternate], wish.packets)
                beside.append((len(firsts), {**values, "alternative": 1}))
            firsts.append(line_values(request_id, rank, lines[wish.line], wish.packets))
        for rank, number in enumerate(one.checked.alternatives, start=1):
            others.append({**line_values(request_id, rank, lines[number], 1), "alternative": 1})
    first_ids = tx.insert_many(LineTable, firsts)
    tx.insert_many(LineTable, others)
    tx.insert_many(LineTable, [{**values, "stands_for": first_ids[place]} for place, values in beside])
