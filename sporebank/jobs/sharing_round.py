"""Sharing out what an exchange offers: gathered from the bank, worked out beside it, kept in one deed."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.tables import Exchange as ExchangeTable
from sporebank.bank.tables import Line, Pin
from sporebank.core.claims import Chance
from sporebank.core.dates import day_label
from sporebank.core.errors import Refusal
from sporebank.core.exchange import Exchange, Listed, OrderLine, Placed, Shape, Stage
from sporebank.core.orders import Alternatives, Method, Offered, Round
from sporebank.core.sharing_out import Cancelled, Given, Outcome, Report, compare, share_out
from sporebank.core.unmet import unmet
from sporebank.jobs import allotting

PINNED, BARRED = "pinned", "barred"


@dataclass(frozen=True)
class Gathered:
    """Everything a sharing out goes by, as it stood when it was read; `lines` are those of the orders."""

    exchange: Exchange
    listed: tuple[Listed, ...]
    placed: tuple[Placed, ...]
    lines: tuple[OrderLine, ...]
    round: Round


@dataclass(frozen=True)
class Shared:
    """What came of it, by the method of the exchange; `fair` and `turns` compare both methods, for a round alone.

    `allotted` and `unmet` are by the line of an order.
    """

    gathered: Gathered
    outcome: Outcome
    fair: Outcome | None
    turns: Outcome | None
    allotted: dict[int, int]
    unmet: dict[int, str]


def gather(bank: Bank, exchange_id: int) -> Gathered:
    """Read what is to be shared out, and to whom.

    Orders of which something was sent are left as they are, and so is what was allotted on a standing list; the rest of
    the list goes to the others, as far as it can still go.

    Raises:
        Refusal: it is too early, the list is not out, nobody asked, or packets are held back already.
    """
    one = queries.exchange(bank, exchange_id)
    placed, listed = queries.placed(bank, exchange_id), queries.listed(bank, exchange_id)
    lines = queries.order_lines(bank, exchange_id)
    _refuse_unasked(one, placed)
    _refuse_early(bank, one, lines)
    done = _done(one, lines)
    left = _left(listed, [line for line in lines if line.request_id in done], allotting.available(bank, one, listed))
    return _gathered(bank, one, placed, listed, lines, done, left)


def gather_whole(bank: Bank, exchange_id: int) -> Gathered:
    """Read a round as if nothing of it were held back or sent, so that both methods can be compared for all its orders.

    Raises:
        Refusal: the list is not out, or nobody asked.
    """
    one = queries.exchange(bank, exchange_id)
    placed, listed = queries.placed(bank, exchange_id), queries.listed(bank, exchange_id)
    lines = queries.order_lines(bank, exchange_id)
    _refuse_unasked(one, placed)
    can = Counter(allotting.available(bank, one, listed))
    for line in lines:
        can[line.offering_id] += line.held + line.sent
    return _gathered(bank, one, placed, listed, lines, set(), _left(listed, [], can))


def _gathered(
    bank: Bank,
    one: Exchange,
    placed: Sequence[Placed],
    listed: Sequence[Listed],
    lines: Sequence[OrderLine],
    done: Collection[int],
    left: Mapping[int, int],
) -> Gathered:
    hand = queries.pins(bank, one.id)
    return Gathered(
        exchange=one,
        listed=tuple(listed),
        placed=tuple(placed),
        lines=tuple(lines),
        round=Round(
            offered=tuple(_offered(line, left[line.id]) for line in listed),
            orders=tuple(each.order for each in placed if each.request_id not in done),
            rules=one.terms.rules,
            pins=frozenset((order, line) for order, line, kind in hand if kind == PINNED and order not in done),
            bars=frozenset((order, line) for order, line, kind in hand if kind == BARRED and order not in done),
        ),
    )


def _done(one: Exchange, lines: Sequence[OrderLine]) -> set[int]:
    """Return the orders that are not shared out anew."""
    if one.shape is Shape.STANDING:
        return {line.request_id for line in lines if line.allotted is not None}
    return {line.request_id for line in lines if line.sent}


def _left(listed: Sequence[Listed], done: Sequence[OrderLine], can: Mapping[int, int]) -> dict[int, int]:
    """Return the packets of each line that can still be allotted: on the list, and there to be held back."""
    allotted, waiting = Counter[int](), Counter[int]()
    for line in done:
        allotted[line.offering_id] += line.allotted or 0
        waiting[line.offering_id] += max((line.allotted or 0) - line.held - line.sent, 0)
    return {line.id: max(min(line.packets - allotted[line.id], can[line.id] - waiting[line.id]), 0) for line in listed}


def _offered(line: Listed, packets: int) -> Offered:
    assert line.number is not None  # the list is out
    return Offered(line.number, line.taxon.name.genus, packets, line.limited)


def _refuse_unasked(one: Exchange, placed: Sequence[Placed]) -> None:
    if one.stage is Stage.GATHERING:
        raise Refusal(f"The list of {one.name} is not out yet. Number it first.")
    if not placed:
        raise Refusal("Nobody has asked for anything yet.")


def _refuse_early(bank: Bank, one: Exchange, lines: Sequence[OrderLine]) -> None:
    if one.stage is Stage.CLOSED:
        raise Refusal(f"{one.name} is closed. Open it again first.")
    first = one.terms.rules.shared_from(one.opens)
    if one.shape is Shape.ROUND and bank.today() < first:
        raise Refusal(f"By its rules {one.name} waits for far post; it is shared out from {day_label(first)} on.")
    if one.shape is Shape.ROUND and any(line.held for line in lines):
        raise Refusal("Packets of this round are held back in their vials already. Give them up first, to share anew.")


def work_out(gathered: Gathered, report: Report, cancelled: Cancelled) -> Shared:
    """Share out what was gathered; needs no bank, may take seconds, and says how far it is.

    Raises:
        Refusal: more is pinned than there is, or than an order may hold.
        Stopped: it was cancelled.
    """
    if gathered.exchange.shape is Shape.STANDING:
        return _one_by_one(gathered)
    fair, turns = compare(gathered.round, report, cancelled)
    outcome = fair if gathered.round.rules.method is Method.FAIR else turns
    fresh = {order.id for order in gathered.round.orders}
    allotted = _allotted(gathered, outcome, [line.id for line in gathered.lines if line.request_id in fresh])
    return Shared(gathered, outcome, fair, turns, allotted, _unmet(gathered, gathered.round, outcome))


def _one_by_one(gathered: Gathered) -> Shared:
    """Serve a standing list: whoever came first is first, and what was allotted before stays.

    The cap of its rules is for a person and a calendar year.
    """
    fresh = {order.id for order in gathered.round.orders}
    left = {line.line: line.packets for line in gathered.round.offered}
    had = had_by_year(gathered.placed, gathered.lines)
    outcomes: list[Outcome] = []
    said: dict[int, str] = {}
    for one in gathered.placed:
        if one.request_id not in fresh:
            continue
        year = (one.contact.id, one.received_on.year)
        alone = _alone(gathered, one, left, had[year])
        outcome = share_out(alone)
        for given in outcome.given:
            left[given.line] -= given.packets
        had[year] += outcome.total
        outcomes.append(outcome)
        said |= _unmet(gathered, alone, outcome)
    given_all = tuple(given for outcome in outcomes for given in outcome.given)
    tallies = tuple(tally for outcome in outcomes for tally in outcome.tallies)
    whole = Outcome(gathered.round.rules.method, given_all, tallies)
    served = [line.id for line in gathered.lines if line.request_id in fresh]
    return Shared(gathered, whole, None, None, _allotted(gathered, whole, served), said)


def had_by_year(placed: Sequence[Placed], lines: Sequence[OrderLine]) -> Counter[tuple[int, int]]:
    """Return the packets that each person was allotted before, by contact and the year in which they asked."""
    asked = {one.request_id: (one.contact.id, one.received_on.year) for one in placed}
    had: Counter[tuple[int, int]] = Counter()
    for line in lines:
        had[asked[line.request_id]] += line.allotted or 0
    return had


def _alone(gathered: Gathered, one: Placed, left: Mapping[int, int], had: int) -> Round:
    """Return a round of one order, of what is left of the list and of its allowance."""
    whole = gathered.round
    offered = tuple(
        replace(line, packets=left[line.line], gone=line.packets - left[line.line]) for line in whole.offered
    )
    order, rules = one.order, whole.rules
    allowance = rules.allowance(order)
    if allowance is not None:
        rules = replace(rules, cap=max(allowance - had, 1), extra=0)
        if allowance <= had:
            order = replace(order, wishes=(), alternatives=())
    mine = frozenset(pin for pin in whole.pins if pin[0] == order.id and order.wishes)
    return Round(offered, (order,), rules, mine, whole.bars)


def _allotted(gathered: Gathered, outcome: Outcome, line_ids: Collection[int]) -> dict[int, int]:
    """Return how many packets each line of the orders got."""
    lines = LineFinder(gathered.lines, gathered.round.rules.alternatives)
    allotted = dict.fromkeys(line_ids, 0)
    for given in outcome.given:
        allotted[lines.of(given.order, given)] += given.packets
    return allotted


class LineFinder:
    """Which line of an order what it gets is written to: first choices, alternates of one, and other alternatives."""

    def __init__(self, lines: Sequence[OrderLine], alternatives: Alternatives) -> None:
        self._per_line = alternatives is Alternatives.PER_LINE
        self._firsts: dict[int, list[int]] = defaultdict(list)
        self._stands: dict[int, int] = {}
        self._others: dict[tuple[int, int], int] = {}
        for line in lines:
            if not line.alternative:
                self._firsts[line.request_id].append(line.id)
            elif line.stands_for is not None:
                self._stands[line.stands_for] = line.id
            else:
                self._others[line.request_id, line.number] = line.id

    def of(self, order: int, got: Given | Chance) -> int:
        """Return the line of an order that what it got, or may get, belongs to."""
        if not got.first and not self._per_line:
            return self._others[order, got.line]
        assert got.wish is not None  # a first choice has its wish, and an alternate belongs to one
        first = self._firsts[order][got.wish]
        return first if got.first else self._stands[first]


def _unmet(gathered: Gathered, shared: Round, outcome: Outcome) -> dict[int, str]:
    """Return why each first choice that was not met in full was not, by its line."""
    mine = {order.id for order in shared.orders}
    firsts = {
        (line.request_id, line.number): line
        for line in gathered.lines
        if not line.alternative and line.request_id in mine
    }
    said = {firsts[one.order, one.line].id: one.reason for one in unmet(shared, outcome)}
    if shared.orders and not any(order.wishes for order in shared.orders):
        said |= {line.id: "The packets allowed a person and year had been given before." for line in firsts.values()}
    return said


def keep(bank: Bank, shared: Shared) -> None:
    """Keep what came of a sharing out: who gets what, and why the rest is not met.

    Raises:
        Refusal: what it went by has changed since.
    """
    gathered = shared.gathered
    now = gather(bank, gathered.exchange.id)
    if now != gathered:
        raise Refusal("Orders, the list or the rules have changed while this was worked out. Share out again.")
    values = {
        line.id: {"allotted": shared.allotted[line.id], "unmet": shared.unmet.get(line.id, "")}
        for line in gathered.lines
        if line.id in shared.allotted
    }
    with bank.change(f"Share out {gathered.exchange.name}") as tx:
        tx.update_many(Line, values)
        if gathered.exchange.shape is Shape.ROUND:
            tx.update(ExchangeTable, gathered.exchange.id, state=Stage.SHARED.value)


def take_back(bank: Bank, exchange_id: int) -> None:
    """Take a sharing out back, so that orders can be changed again; what is held back or sent stays as it is.

    Raises:
        Refusal: nothing is shared out, or packets are held back in vials.
    """
    one, lines = queries.exchange(bank, exchange_id), queries.order_lines(bank, exchange_id)
    kept = {line.request_id for line in lines if line.sent or line.held}
    if any(line.held for line in lines):
        raise Refusal("Packets are held back in their vials. Give them up first.")
    values = {
        line.id: {"allotted": None, "unmet": ""}
        for line in lines
        if line.allotted is not None and line.request_id not in kept
    }
    if not values:
        raise Refusal("Nothing is shared out that could be taken back.")
    with bank.change(f"Take the sharing out of {one.name} back") as tx:
        tx.update_many(Line, values)
        if one.stage is Stage.SHARED:
            tx.update(ExchangeTable, exchange_id, state=Stage.OPEN.value)


def set_hand(bank: Bank, request_id: int, offering_id: int, kind: str) -> None:
    """Pin a line to a request, bar it from it, or (with nothing) leave it to the sharing out again."""
    row_id = queries.pin_row(bank, request_id, offering_id)
    line = queries.offering(bank, offering_id)
    who = queries.request(bank, request_id).contact.name
    said = {PINNED: f"Pin {line} to {who}", BARRED: f"Bar {line} from {who}", "": f"Leave {line} of {who} to the rules"}
    with bank.change(said[kind]) as tx:
        if row_id is not None:
            tx.update(Pin, row_id, **({"kind": kind} if kind else {"void": 1}))
        elif kind:
            tx.insert(Pin, request_id=request_id, offering_id=offering_id, kind=kind)
