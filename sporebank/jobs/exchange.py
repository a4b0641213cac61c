"""A round or a standing list until its list is out: what may go, what is on the list, its numbers."""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.change import Change
from sporebank.bank.tables import Exchange as ExchangeTable
from sporebank.bank.tables import Giving, Offering
from sporebank.bank.tables import Part as PartTable
from sporebank.core import amounts, counted, exchange, names
from sporebank.core.errors import Refusal
from sporebank.core.exchange import Exchange, Listed, Part, Shape, Stage, judged_on
from sporebank.core.records import Share
from sporebank.core.surplus import HELD, RELEASED, Bar, Stock, Surplus, Way, own_use, sound, surplus


@dataclass(frozen=True)
class Chance:
    """A clone that may go on the list: its surplus, the line it is on already, and how its taxon was asked for so far.

    `asked`, `given` and `instead` count packets of its taxon over all exchanges and requests.
    """

    surplus: Surplus
    line: int | None
    asked: int
    given: int
    instead: int


@dataclass(frozen=True)
class LineForm:
    """What the keeper sets of a line of the list."""

    packets: int
    packet_ug: int
    limited: bool = False
    note: str = ""


def begin(bank: Bank, new: Exchange) -> int:
    """Begin a round or a standing list and return its id."""
    exchange.refuse_odd(new)
    with bank.change(f"Begin {new.name.strip()}") as tx:
        return tx.insert(ExchangeTable, **_values(new), state=Stage.GATHERING.value)


def change(bank: Bank, changed: Exchange) -> None:
    """Keep the dates and the terms of an exchange as they are now."""
    exchange.refuse_odd(changed)
    before = _unclosed(bank, changed.id)
    if before.shape is not changed.shape and before.stage is not Stage.GATHERING:
        raise Refusal("The list is out; what began as a round stays one. Begin another.", field="shape")
    ways = {one.terms.rules.alternatives for one in (before, changed)}
    if len(ways) > 1 and queries.order_lines(bank, changed.id):
        raise Refusal("Orders are in already; how alternatives are given stays as it is.", field="alternatives")
    with bank.change(f"Change {changed.name.strip()}") as tx:
        tx.update(ExchangeTable, changed.id, **_values(changed))


def _values(one: Exchange) -> dict[str, object]:
    return {
        "name": one.name.strip(),
        "shape": one.shape.value,
        "opens": one.opens.isoformat(),
        "closes": None if one.closes is None else one.closes.isoformat(),
        "ships": one.ships.isoformat(),
        "rules": json.dumps(exchange.terms_values(one.terms), sort_keys=True),
        "note": one.note.strip(),
    }


def move_to(bank: Bank, exchange_id: int, stage: Stage) -> None:
    """Close an exchange, or open it again.

    Raises:
        Refusal: the stage is not one that is chosen by hand.
    """
    one = queries.exchange(bank, exchange_id)
    if stage not in (Stage.OPEN, Stage.CLOSED):
        raise Refusal("An exchange is opened by numbering its list, and shared out by sharing it out.")
    if stage is Stage.OPEN:
        stage = _stage_of(bank, one)
    said = "Close" if stage is Stage.CLOSED else "Open"
    with bank.change(f"{said} {one.name}") as tx:
        tx.update(ExchangeTable, exchange_id, state=stage.value)


def _stage_of(bank: Bank, one: Exchange) -> Stage:
    """Return how far an exchange has come, by what is in it."""
    if not any(line.number for line in queries.listed(bank, one.id)):
        return Stage.GATHERING
    shared = any(line.allotted is not None for line in queries.order_lines(bank, one.id))
    return Stage.SHARED if shared and one.shape is Shape.ROUND else Stage.OPEN


def _unclosed(bank: Bank, exchange_id: int) -> Exchange:
    one = queries.exchange(bank, exchange_id)
    if one.stage is Stage.CLOSED:
        raise Refusal(f"{one.name} is closed. Open it again first.")
    return one


# -- what may go


def bar(bank: Bank, one: Exchange) -> Bar:
    """Return what a gift of this exchange must be."""
    return Bar(bank.settings.gift_line, bank.settings.gift_chance, judged_on(one, bank.today()))


def stocks(bank: Bank, one: Exchange, clone_ids: Sequence[int] | None = None, *, promised: bool = True) -> list[Stock]:
    """Return what there is of clones for an exchange, less what other lists have promised unless that is not asked for.

    The own use of a taxon is kept back once, whichever of its clones are asked for.
    """
    day = judged_on(one, bank.today())
    found = queries.stocks(bank, day, clone_ids, beside=one.id if promised else None)
    together = defaultdict(list)
    for stock in queries.stocks(bank, day, queries.sharing_own_use(bank, {stock.taxon_id for stock in found})):
        together[stock.taxon_id].append(stock)
    held, kept = queries.reserved(bank), dict[int, int]()
    for some in together.values():
        kept |= own_use(some, held, bar(bank, one))
    return [replace(stock, own_ug=kept.get(stock.clone_id, stock.own_ug)) for stock in found]


def preview(bank: Bank, exchange_id: int) -> list[Chance]:
    """Return what may go of every clone that has spore, with the reasons of what stays; nothing is written."""
    one = queries.exchange(bank, exchange_id)
    on_list = {part.clone_id: line.id for line in queries.listed(bank, exchange_id) for part in line.parts}
    found = [surplus(stock, bar(bank, one)) for stock in stocks(bank, one)]
    asked = queries.demand(bank, list({each.stock.taxon_id for each in found}))
    return [
        Chance(each, on_list.get(each.stock.clone_id), *asked.get(each.stock.taxon_id, (0, 0, 0))) for each in found
    ]


def set_way(bank: Bank, way: Way, *, taxon_id: int | None = None, clone_ids: Sequence[int] = ()) -> None:
    """Keep how a taxon, or each of some clones, is given."""
    _refuse_odd_way(way)
    what = names.text(queries.taxon(bank, taxon_id).name) if taxon_id is not None else _clones(bank, clone_ids)
    with bank.change(f"How {what} is given") as tx:
        if taxon_id is not None:
            _keep_way(bank, tx, way, taxon_id=taxon_id)
        for clone_id in clone_ids:
            _keep_way(bank, tx, way, clone_id=clone_id)


def hold(bank: Bank, clone_ids: Sequence[int], held: str) -> None:
    """Hold clones back by hand, release them, or (with nothing) let the rules decide again."""
    said = {HELD: "Hold back", RELEASED: "Release", "": "Let the rules decide on"}[held]
    with bank.change(f"{said} {_clones(bank, clone_ids)}") as tx:
        for clone_id in clone_ids:
            row_id = queries.giving_row(bank, clone_id=clone_id)
            if row_id is None:
                tx.insert(Giving, clone_id=clone_id, held=held)
            else:
                tx.update(Giving, row_id, held=held)


def _keep_way(bank: Bank, tx: Change, way: Way, **whose: int) -> None:
    values = {"own_ug": way.own_ug, "packet_ug": way.packet_ug, "young_days": way.young_days, "held": way.held}
    row_id = queries.giving_row(bank, **whose)
    if row_id is None:
        tx.insert(Giving, **whose, **values)
    else:
        tx.update(Giving, row_id, **values)


def _refuse_odd_way(way: Way) -> None:
    if way.own_ug is not None and way.own_ug < 0:
        raise Refusal("Own use cannot be less than nothing.", field="own_ug")
    if way.packet_ug is not None and way.packet_ug <= 0:
        raise Refusal("Say how much a packet holds, such as 2 mg.", field="packet_ug")
    if way.young_days is not None and way.young_days <= 0:
        raise Refusal("Give an age of at least one day, or leave it empty for any age.", field="young_days")


def _clones(bank: Bank, clone_ids: Sequence[int]) -> str:
    return f"clone {queries.clone(bank, clone_ids[0]).code}" if len(clone_ids) == 1 else f"{len(clone_ids)} clones"


# -- the list


def add_lines(bank: Bank, exchange_id: int, clone_ids: Sequence[int]) -> int:
    """Put clones on the list, a line each, with the packets that may go; return how many lines came to it.

    Clones that are on it already and those of which nothing may go are passed over.
    """
    one = _unclosed(bank, exchange_id)
    on_list = {part.clone_id for line in queries.listed(bank, exchange_id) for part in line.parts}
    wanted = [clone_id for clone_id in clone_ids if clone_id not in on_list]
    found = [surplus(stock, bar(bank, one)) for stock in stocks(bank, one, wanted)]
    lines = [each for each in found if each.packets]
    if not lines:
        raise Refusal("Nothing of this may go now; the column Why says what keeps it.")
    with bank.change(f"Put {counted.lines(len(lines))} on the list of {one.name}") as tx:
        for each in lines:
            offering = tx.insert(
                Offering,
                exchange_id=exchange_id,
                taxon_id=each.stock.taxon_id,
                packet_ug=each.stock.packet_ug,
                packets=each.packets,
            )
            tx.insert(PartTable, offering_id=offering, clone_id=each.stock.clone_id)
        if one.stage is not Stage.GATHERING:
            _number(bank, tx, exchange_id)
    return len(lines)


def described(bank: Bank, one: Exchange) -> list[Listed]:
    """Return the lines of the list as things stand: how old and how alive what may go is, and what is short."""
    listed = queries.listed(bank, one.id)
    clones = [part.clone_id for line in listed for part in line.parts]
    here = {stock.clone_id: stock for stock in stocks(bank, one, clones)}

    def told(part: Part) -> Part:
        vials = sound(here[part.clone_id], bar(bank, one)) if part.clone_id in here else ()
        shares = [vial.share for vial in vials if vial.share is not None]
        if not shares:
            return part
        low, high = min(share.low for share in shares), max(share.high for share in shares)
        share = Share(low, sum(share.middle for share in shares) / len(shares), high)
        return replace(part, collected=(vials[0].collected, vials[-1].collected), share=share)

    gone = Counter[int]()
    for line in queries.order_lines(bank, one.id):
        gone[line.offering_id] += line.held + line.sent

    def short(line: Listed) -> int:
        mine = [replace(here[part.clone_id], packet_ug=line.packet_ug) for part in line.parts if part.clone_id in here]
        can = sum(surplus(replace(stock, promised_ug=0), bar(bank, one)).packets for stock in mine)
        return max(line.packets - gone[line.id] - can, 0)

    return [replace(line, parts=tuple(map(told, line.parts)), short=short(line)) for line in listed]


def change_line(bank: Bank, exchange_id: int, offering_id: int, form: LineForm) -> None:
    """Keep the packets, their size, the mark and the note of a line.

    Raises:
        Refusal: more packets than may go, or fewer than are allotted already.
    """
    one, line = _unclosed(bank, exchange_id), _line(bank, exchange_id, offering_id)
    if form.packet_ug <= 0:
        raise Refusal("Say how much a packet holds, such as 2 mg.", field="packet_ug")
    if form.packet_ug != line.packet_ug and line.left < line.packets:
        raise Refusal("Packets of this size are allotted already; the size stays.", field="packet_ug")
    most = may_go(bank, one, line, form.packet_ug) + queries.packets_of(bank, offering_id)
    if form.packets > most:
        raise Refusal(
            f"No more than {counted.packets(most)} of {amounts.show(form.packet_ug)} may go.", field="packets"
        )
    if form.packets < line.packets - line.left:
        raise Refusal(f"{counted.packets(line.packets - line.left)} of it are allotted already.", field="packets")
    with bank.change(f"Change {_title(line)} on the list of {one.name}") as tx:
        tx.update(
            Offering,
            offering_id,
            packets=form.packets,
            packet_ug=form.packet_ug,
            limited=int(form.limited),
            note=form.note.strip(),
        )


def may_go(bank: Bank, one: Exchange, line: Listed, packet_ug: int) -> int:
    """Return how many packets of a size may go of the clones of a line now."""
    here = stocks(bank, one, [part.clone_id for part in line.parts])
    return sum(surplus(replace(stock, packet_ug=packet_ug), bar(bank, one)).packets for stock in here)


def pool(bank: Bank, exchange_id: int, offering_ids: Sequence[int]) -> None:
    """Make one line of several of the same taxon; which clone a packet came from stays known by its vial.

    Raises:
        Refusal: they are of several taxa or sizes, or the list is out already.
    """
    _gathering(bank, exchange_id)
    lines = [_line(bank, exchange_id, offering_id) for offering_id in offering_ids]
    if len(lines) < 2:
        raise Refusal("Choose two lines or more of one taxon, to make one of them.")
    if len({line.taxon.id for line in lines}) > 1:
        raise Refusal("Only lines of one taxon can be pooled.")
    if len({line.packet_ug for line in lines}) > 1:
        raise Refusal("Their packets differ in size. Give them one size first.")
    first, *others = lines
    with bank.change(f"Pool {counted.lines(len(lines))} of {names.text(first.taxon.name)}") as tx:
        tx.update(Offering, first.id, packets=sum(line.packets for line in lines))
        for line in others:
            for part in line.parts:
                tx.insert(PartTable, offering_id=first.id, clone_id=part.clone_id)
            tx.update(Offering, line.id, void=1)


def drop_lines(bank: Bank, exchange_id: int, offering_ids: Sequence[int]) -> None:
    """Take lines off the list.

    Raises:
        Refusal: somebody asked for one of them already.
    """
    one = _unclosed(bank, exchange_id)
    asked = queries.asked_for(bank, offering_ids)
    if asked:
        raise Refusal(f"Somebody asked for line {asked[0]} already. Set its packets to what can go instead.")
    with bank.change(f"Take {counted.lines(len(offering_ids))} off the list of {one.name}") as tx:
        for offering_id in offering_ids:
            tx.update(Offering, offering_id, void=1)


def number(bank: Bank, exchange_id: int) -> int:
    """Number the list by the alphabet of names and open it; return how many lines it has."""
    one = _gathering(bank, exchange_id)
    if not queries.listed(bank, exchange_id):
        raise Refusal("Nothing is on the list yet. Put on it what may go.")
    with bank.change(f"Number the list of {one.name}") as tx:
        count = _number(bank, tx, exchange_id)
        tx.update(ExchangeTable, exchange_id, state=Stage.OPEN.value)
    return count


def _number(bank: Bank, tx: Change, exchange_id: int) -> int:
    """Give numbers to the lines that have none, after those that have one; return how many lines there are."""
    lines = queries.listed(bank, exchange_id)
    taken = queries.last_number(bank, exchange_id)
    fresh = sorted((line for line in lines if line.number is None), key=_place)
    below = queries.exchange(bank, exchange_id).terms.limited_below
    for place, line in enumerate(fresh, start=taken + 1):
        tx.update(Offering, line.id, number=place, limited=int(line.limited or line.packets < below))
    return len(lines)


def _place(line: Listed) -> tuple[str, str]:
    return names.sort_key(line.taxon.name), line.parts[0].clone if line.parts else ""


def _gathering(bank: Bank, exchange_id: int) -> Exchange:
    one = queries.exchange(bank, exchange_id)
    if one.stage is Stage.CLOSED:
        raise Refusal(f"{one.name} is closed. Open it again first.")
    if one.stage is not Stage.GATHERING:
        raise Refusal(f"The list of {one.name} is out and numbered; its numbers stay.")
    return one


def _line(bank: Bank, exchange_id: int, offering_id: int) -> Listed:
    found = [line for line in queries.listed(bank, exchange_id) if line.id == offering_id]
    if not found:
        raise Refusal("This line is no longer on the list.")
    return found[0]


def _title(line: Listed) -> str:
    return names.text(line.taxon.name) if line.number is None else f"line {line.number}"
