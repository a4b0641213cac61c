"""Rounds and standing lists: what they offer, and who asks for what."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Collection, Sequence
from datetime import date
from typing import Any

from sporebank.bank.bank import Bank
from sporebank.bank.queries import names, reading
from sporebank.bank.sql import numbers, one, rows
from sporebank.core.exchange import Exchange, Listed, OrderLine, Part, Placed, Shape, Stage, terms_from
from sporebank.core.orders import Order, Wish
from sporebank.core.records import Contact, Source

_EXCHANGE = "id, name, shape, state, opens, closes, ships, rules, note"

#: Whether a request counts in its exchange: it has not been taken back, nor closed with nothing that arrived.
COUNTS = """request.void = 0 AND (request.state <> 'closed' OR EXISTS (SELECT 1 FROM parcel AS gone
    WHERE gone.request_id = request.id AND gone.void = 0 AND gone.dispatched_on IS NOT NULL
        AND gone.fate = ''))"""


def exchanges(bank: Bank) -> list[Exchange]:
    """Return all rounds and standing lists, those that opened last first."""
    sql = f"SELECT {_EXCHANGE} FROM exchange WHERE void = 0 ORDER BY state = 'closed', opens DESC, id DESC"
    return [_exchange(row) for row in rows(bank, sql)]


def sharing_own_use(bank: Bank, taxon_ids: Collection[int]) -> list[int]:
    """Return the clones of taxa of which the keeper keeps some back, but for those with an own use of their own."""
    found = rows(
        bank,
        f"""SELECT clone.id FROM giving AS its JOIN clone ON clone.taxon_id = its.taxon_id
            LEFT JOIN giving AS mine ON mine.clone_id = clone.id AND mine.void = 0
            WHERE its.taxon_id IN {numbers(taxon_ids)} AND its.own_ug > 0 AND its.void = 0 AND mine.own_ug IS NULL
            ORDER BY clone.id""",
    )
    return [clone_id for (clone_id,) in found]


def exchange(bank: Bank, exchange_id: int) -> Exchange:
    """Return one exchange."""
    found = one(bank, f"SELECT {_EXCHANGE} FROM exchange WHERE id = ?", exchange_id)
    assert found is not None
    return _exchange(found)


def _exchange(row: tuple[Any, ...]) -> Exchange:
    number, name, shape, stage, opens, closes, ships, rules, note = row
    opened, shipped = reading.day(opens), reading.day(ships)
    assert opened is not None
    assert shipped is not None
    terms = terms_from(json.loads(rules))
    return Exchange(number, name, Shape(shape), Stage(stage), opened, reading.day(closes), shipped, terms, note)


def listed(bank: Bank, exchange_id: int) -> list[Listed]:
    """Return the lines of an exchange's list: by number, those that have none yet by name."""
    found = rows(
        bank,
        f"""SELECT offering.id, offering.number, offering.packet_ug, offering.packets, offering.limited, offering.note,
                COALESCE(asked.allotted, 0), {names.COLUMNS}
            FROM offering JOIN taxon ON taxon.id = offering.taxon_id
            LEFT JOIN (SELECT line.offering_id, SUM(line.allotted) AS allotted FROM line
                JOIN request ON request.id = line.request_id
                WHERE line.void = 0 AND {COUNTS} AND request.exchange_id = ? GROUP BY line.offering_id
            ) AS asked ON asked.offering_id = offering.id
            WHERE offering.exchange_id = ? AND offering.void = 0
            ORDER BY offering.number IS NULL, offering.number, taxon.sort_key, offering.id""",
        exchange_id,
        exchange_id,
    )
    parts = _parts(bank, [row[0] for row in found])
    return [
        Listed(
            id=row[0],
            number=row[1],
            taxon=names.taxon_from(row[7:]),
            packet_ug=row[2],
            packets=row[3],
            left=row[3] - row[6],
            limited=bool(row[4]),
            note=row[5],
            parts=tuple(parts[row[0]]),
        )
        for row in found
    ]


def _parts(bank: Bank, offering_ids: list[int]) -> dict[int, list[Part]]:
    """Return the clones in each line."""
    found = rows(
        bank,
        f"""SELECT part.offering_id, clone.id, clone.code, clone.source, clone.origin, clone.country, clone.note,
                (SELECT COALESCE(GROUP_CONCAT(DISTINCT contact.donor_code), '') FROM donation
                    JOIN batch ON batch.id = donation.batch_id JOIN contact ON contact.id = donation.contact_id
                    WHERE batch.clone_id = clone.id AND donation.void = 0 AND contact.donor_code <> '')
            FROM part JOIN clone ON clone.id = part.clone_id
            WHERE part.offering_id IN {numbers(offering_ids)} AND part.void = 0
            ORDER BY part.offering_id, clone.sort_key""",
    )
    parts: dict[int, list[Part]] = defaultdict(list)
    for offering_id, clone_id, code, source, origin, country, note, donors in found:
        given = tuple(sorted(donors.split(","))) if donors else ()
        parts[offering_id].append(Part(clone_id, code, Source(source), origin, country, note, given))
    return parts


def placed(bank: Bank, exchange_id: int, which: str = COUNTS) -> list[Placed]:
    """Return the orders of an exchange in their stored order; whoever gave to it is a donor.

    The lines of an order are the numbers of the list; who lives in no country on record counts as at home.
    """
    home = bank.settings.country
    found = rows(
        bank,
        f"""SELECT request.id, request.place, request.received_on, request.helper, request.note,
                EXISTS (SELECT 1 FROM donation WHERE donation.exchange_id = request.exchange_id
                    AND donation.contact_id = request.contact_id AND donation.void = 0),
                contact.id, contact.name, contact.organisation, contact.address, contact.country, contact.email,
                contact.note
            FROM request JOIN contact ON contact.id = request.contact_id
            WHERE request.exchange_id = ? AND {which} ORDER BY request.place, request.id""",
        exchange_id,
    )
    firsts, others = _wishes(bank, exchange_id, which)
    return [
        Placed(
            request_id=row[0],
            contact=(who := Contact(*row[6:])),
            received_on=reading.day(row[2]),  # type: ignore[arg-type]  # the column is never empty
            order=Order(
                id=row[0],
                place=row[1],
                wishes=tuple(firsts[row[0]]),
                alternatives=tuple(others[row[0]]),
                donor=bool(row[5]),
                helper=bool(row[3]),
                abroad=bool(who.country and home and who.country != home),
                who=who.name,
            ),
            note=row[4],
        )
        for row in found
    ]


def _wishes(bank: Bank, exchange_id: int, which: str) -> tuple[dict[int, list[Wish]], dict[int, list[int]]]:
    """Return the first choices and the alternatives of each request, by rank."""
    found = rows(
        bank,
        f"""SELECT line.request_id, offering.number, line.packets, line.alternative, other.number
            FROM line JOIN request ON request.id = line.request_id JOIN offering ON offering.id = line.offering_id
            LEFT JOIN line AS stand ON stand.stands_for = line.id AND stand.void = 0
            LEFT JOIN offering AS other ON other.id = stand.offering_id
            WHERE request.exchange_id = ? AND {which} AND line.void = 0 AND line.stands_for IS NULL
            ORDER BY line.request_id, line.alternative, line.rank""",
        exchange_id,
    )
    firsts: dict[int, list[Wish]] = defaultdict(list)
    others: dict[int, list[int]] = defaultdict(list)
    for request_id, number, packets, alternative, instead in found:
        if alternative:
            others[request_id].append(number)
        else:
            firsts[request_id].append(Wish(number, packets, instead))
    return firsts, others


def last_number(bank: Bank, exchange_id: int) -> int:
    """Return the highest number a line of a list ever had, 0 where none has one; it is never given again."""
    found = one(bank, "SELECT COALESCE(MAX(number), 0) FROM offering WHERE exchange_id = ?", exchange_id)
    return 0 if found is None else int(found[0])


def offerings_of(bank: Bank, taxon_id: int) -> list[int]:
    """Return every line of any list that is of this taxon."""
    return [int(row[0]) for row in rows(bank, "SELECT id FROM offering WHERE taxon_id = ? AND void = 0", taxon_id)]


def asked_for(bank: Bank, offering_ids: Sequence[int]) -> list[int]:
    """Return the numbers of those of these lines that an order asks for, as first choice or alternative."""
    found = rows(
        bank,
        f"""SELECT DISTINCT offering.number FROM line JOIN request ON request.id = line.request_id
            JOIN offering ON offering.id = line.offering_id
            WHERE line.offering_id IN {numbers(offering_ids)} AND line.void = 0 AND {COUNTS}
            ORDER BY offering.number""",
    )
    return [int(row[0]) for row in found]


def order_lines(bank: Bank, exchange_id: int, request_ids: Sequence[int] | None = None) -> list[OrderLine]:
    """Return every line of the orders of an exchange (or of some), first choices before alternatives, each by rank."""
    narrower = "" if request_ids is None else f" AND request.id IN {numbers(request_ids)}"
    found = rows(
        bank,
        f"""SELECT line.id, line.request_id, offering.number, line.alternative, line.stands_for, line.packets,
                line.allotted, line.unmet, offering.id, offering.packet_ug,
                (SELECT COUNT(*) FROM packet JOIN parcel ON parcel.id = packet.parcel_id
                    WHERE packet.line_id = line.id AND packet.void = 0 AND parcel.dispatched_on IS NULL),
                (SELECT COUNT(*) FROM packet JOIN parcel ON parcel.id = packet.parcel_id
                    WHERE packet.line_id = line.id AND packet.void = 0 AND parcel.dispatched_on IS NOT NULL)
            FROM line JOIN request ON request.id = line.request_id JOIN offering ON offering.id = line.offering_id
            WHERE request.exchange_id = ? AND {COUNTS} AND line.void = 0{narrower}
            ORDER BY request.place, request.id, line.alternative, line.rank, line.id""",
        exchange_id,
    )
    return [OrderLine(row[0], row[1], row[2], bool(row[3]), *row[4:]) for row in found]


def packets_of(bank: Bank, offering_id: int) -> int:
    """Return how many packets of a line of a list are held back in vials, or sent and neither lost nor back."""
    found = one(
        bank,
        """SELECT COUNT(*) FROM packet JOIN line ON line.id = packet.line_id
           JOIN parcel ON parcel.id = packet.parcel_id
           WHERE line.offering_id = ? AND packet.void = 0 AND parcel.fate = ''""",
        offering_id,
    )
    return 0 if found is None else int(found[0])


def pins(bank: Bank, exchange_id: int) -> list[tuple[int, int, str]]:
    """Return the keeper's hand in a sharing out: the request, the number of the line, and pinned or barred."""
    found = rows(
        bank,
        f"""SELECT pin.request_id, offering.number, pin.kind FROM pin JOIN request ON request.id = pin.request_id
            JOIN offering ON offering.id = pin.offering_id
            WHERE request.exchange_id = ? AND {COUNTS} AND pin.void = 0 ORDER BY pin.id""",
        exchange_id,
    )
    return [(row[0], row[1], row[2]) for row in found]


def pin_row(bank: Bank, request_id: int, offering_id: int) -> int | None:
    """Return the row that pins a line to a request or bars it from it, where there is one."""
    sql = "SELECT id FROM pin WHERE request_id = ? AND offering_id = ? AND void = 0"
    found = one(bank, sql, request_id, offering_id)
    return None if found is None else int(found[0])


def offering(bank: Bank, offering_id: int) -> str:
    """Return a line of a list as it is called: its number and its name."""
    sql = "SELECT offering.number, taxon.name FROM offering JOIN taxon ON taxon.id = taxon_id WHERE offering.id = ?"
    number, name = rows(bank, sql, offering_id)[0]
    return str(name) if number is None else f"{number} {name}"


def orders_to_share(bank: Bank, today: date) -> int:
    """Return how many orders wait for packets: of standing lists all, of rounds once wishes can no longer come."""
    found = one(
        bank,
        f"""SELECT COUNT(*) FROM request JOIN exchange ON exchange.id = request.exchange_id
            WHERE {COUNTS} AND exchange.void = 0 AND exchange.state IN ('open', 'shared out')
                AND (exchange.closes IS NULL OR exchange.closes < ?)
                AND EXISTS (SELECT 1 FROM line WHERE line.request_id = request.id AND line.void = 0
                    AND line.allotted IS NULL)""",
        today.isoformat(),
    )
    return 0 if found is None else int(found[0])


def exchange_of(bank: Bank, request_id: int) -> str:
    """Return the name of the exchange that a request is an order of; empty for a plain request."""
    sql = "SELECT exchange.name FROM exchange JOIN request ON exchange.id = request.exchange_id WHERE request.id = ?"
    found = one(bank, sql, request_id)
    return "" if found is None else str(found[0])


def parcel_of(bank: Bank, request_id: int) -> int | None:
    """Return the parcel of a request, where it has one that is not dispatched."""
    sql = "SELECT id FROM parcel WHERE request_id = ? AND void = 0 AND dispatched_on IS NULL ORDER BY id LIMIT 1"
    found = one(bank, sql, request_id)
    return None if found is None else int(found[0])


def packets_held(bank: Bank, exchange_id: int) -> list[tuple[int, int, int]]:
    """Return the packets of an exchange that are held back and not dispatched, each with its request and its parcel."""
    found = rows(
        bank,
        """SELECT packet.id, parcel.request_id, parcel.id FROM packet JOIN parcel ON parcel.id = packet.parcel_id
           JOIN request ON request.id = parcel.request_id
           WHERE request.exchange_id = ? AND packet.void = 0 AND parcel.void = 0 AND parcel.dispatched_on IS NULL""",
        exchange_id,
    )
    return [(row[0], row[1], row[2]) for row in found]
