"""From what was shared out to packets: the vial of each packet, in pieces that a stop in between does not harm."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.change import Change
from sporebank.bank.tables import Line, Packet, Parcel
from sporebank.bank.tables import Request as RequestTable
from sporebank.core.errors import Refusal
from sporebank.core.exchange import Exchange, Listed, OrderLine
from sporebank.core.layout import Kind
from sporebank.core.records import RequestState
from sporebank.core.surplus import surplus
from sporebank.jobs import exchange, labels

#: Orders that get their packets in one deed.
AT_ONCE = 50


@dataclass(frozen=True)
class Held:
    """What a piece of work did: orders that have their packets now, packets held back, packets no vial was left for."""

    orders: int
    packets: int
    missing: int


def waiting(bank: Bank, exchange_id: int) -> list[int]:
    """Return the orders to which more packets are allotted than are held back in vials, in their stored order."""
    lines = queries.order_lines(bank, exchange_id)
    return list(dict.fromkeys(line.request_id for line in lines if _missing(line)))


def _missing(line: OrderLine) -> int:
    return max((line.allotted or 0) - line.held - line.sent, 0)


def pieces(bank: Bank, exchange_id: int) -> Iterator[partial[Held]]:
    """Yield the work of holding back every packet that is allotted, a few orders each; each is one deed.

    Whatever stops it, what is held back stays so, and asking again goes on with the rest.
    """
    orders = waiting(bank, exchange_id)
    for start in range(0, len(orders), AT_ONCE):
        yield partial(hold_back, exchange_id=exchange_id, request_ids=orders[start : start + AT_ONCE])


def hold_back(bank: Bank, exchange_id: int, request_ids: Sequence[int]) -> Held:
    """Choose the vial of every packet of these orders and hold it back there; nothing leaves the ledger yet.

    The oldest spore that still qualifies goes first, a vial is emptied before the next is opened, and neither reserve
    nor own need is touched. Where vials do not suffice any more, the line says so.
    """
    one = queries.exchange(bank, exchange_id)
    lines = [line for line in queries.order_lines(bank, exchange_id, request_ids) if _missing(line)]
    vials = _Vials(bank, one, {line.offering_id for line in lines})
    drawn = {line.id: vials.take(line, _missing(line)) for line in lines}
    with bank.change(f"Hold back packets of {one.name}") as tx:
        packets = _write(bank, tx, lines, drawn)
    missing = sum(_missing(line) - len(drawn[line.id]) for line in lines)
    return Held(len({line.request_id for line in lines}), packets, missing)


def _write(bank: Bank, tx: Change, lines: Sequence[OrderLine], drawn: dict[int, list[int]]) -> int:
    by_order: dict[int, list[OrderLine]] = defaultdict(list)
    for line in lines:
        by_order[line.request_id].append(line)
    made: list[tuple[int, int]] = []
    for request_id, some in by_order.items():
        parcel_id = queries.parcel_of(bank, request_id)
        if parcel_id is None:
            parcel_id = tx.insert(Parcel, code=tx.new_code("R"), request_id=request_id)
        for line in some:
            common = {"line_id": line.id, "parcel_id": parcel_id, "micrograms": line.packet_ug}
            new = [{"vial_id": vial_id, "code": tx.new_code("K"), **common} for vial_id in drawn[line.id]]
            made += zip(drawn[line.id], tx.insert_many(Packet, new), strict=True)
            if len(drawn[line.id]) < _missing(line):
                held = line.held + line.sent + len(drawn[line.id])
                tx.update(Line, line.id, allotted=held, unmet="No vial that may go holds enough of it any more.")
        if any(drawn[line.id] for line in some):
            tx.update(RequestTable, request_id, state=RequestState.FILLED.value)
    walk = queries.in_walking_order(bank, list({vial_id for vial_id, _ in made}))
    place = {row.id: number for number, row in enumerate(walk)}
    labels.ask(bank, tx, Kind.PACKET, [packet for _, packet in sorted(made, key=lambda one: place[one[0]])])
    return len(made)


def available(bank: Bank, one: Exchange, listed: Sequence[Listed]) -> dict[int, int]:
    """Return, per line of a list, how many packets could be held back now beyond those that are."""
    vials = _Vials(bank, one, {line.id for line in listed})
    return {line.id: vials.left(line.id) for line in listed}


class _Vials:
    """The vials that the lines of a list may be filled from, and what is still free in them."""

    def __init__(self, bank: Bank, one: Exchange, offering_ids: set[int]) -> None:
        self._listed = {line.id: line for line in queries.listed(bank, one.id) if line.id in offering_ids}
        clones = [part.clone_id for line in self._listed.values() for part in line.parts]
        self._stocks = {stock.clone_id: stock for stock in exchange.stocks(bank, one, clones, promised=False)}
        self._bar = exchange.bar(bank, one)
        self._queues = {line.id: self._queue(line) for line in self._listed.values()}

    def _queue(self, line: Listed) -> list[int]:
        """Return a vial for every packet that may go of a line, the oldest spore first."""
        found = []
        for part in line.parts:
            stock = self._stocks.get(part.clone_id)
            if stock is not None:
                oldest = {vial.vial_id: vial.collected.first() for vial in stock.vials}
                drawn = surplus(replace(stock, packet_ug=line.packet_ug), self._bar).drawn
                found += [(oldest[vial_id], vial_id, count) for vial_id, count in drawn]
        return [vial_id for _, vial_id, count in sorted(found) for _ in range(count)]

    def left(self, offering_id: int) -> int:
        """Return how many packets of a line there are vials for."""
        return len(self._queues[offering_id])

    def take(self, line: OrderLine, count: int) -> list[int]:
        """Take the vials of so many packets of a line, fewer where there are no more."""
        queue = self._queues[line.offering_id]
        taken, self._queues[line.offering_id] = queue[:count], queue[count:]
        return taken


def give_up(bank: Bank, exchange_id: int) -> int:
    """Give up every packet of an exchange that is not dispatched, so that it can be shared out anew; return how many.

    Raises:
        Refusal: there is none.
    """
    one = queries.exchange(bank, exchange_id)
    packets = queries.packets_held(bank, exchange_id)
    if not packets:
        raise Refusal("No packet of this exchange is held back.")
    with bank.change(f"Give up the packets of {one.name}") as tx:
        labels.drop(bank, tx, Kind.PACKET, [packet for packet, _, _ in packets])
        tx.update_many(Packet, {packet: {"void": 1} for packet, _, _ in packets})
        state = RequestState.OPEN.value
        tx.update_many(RequestTable, {request_id: {"state": state} for _, request_id, _ in packets})
        tx.update_many(Parcel, {parcel_id: {"closed_on": None, "gap": ""} for _, _, parcel_id in packets})
    return len(packets)
