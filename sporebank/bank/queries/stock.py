"""What the bank has of each clone, as the exchange looks at it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from itertools import groupby
from typing import Any

from sporebank.bank.bank import Bank
from sporebank.bank.queries import reading
from sporebank.bank.queries.exchange import reserved
from sporebank.bank.sql import numbers, one, rows
from sporebank.core.records import Permission, Share, SporeClass
from sporebank.core.surplus import Lying, Stock, Way, chance_alive


def stocks(bank: Bank, on: date, clone_ids: Sequence[int] | None = None, *, beside: int | None = None) -> list[Stock]:
    """Return what there is of every clone (or of some) in vials that are not empty, by name.

    Args:
        bank: the bank.
        on: the day on which it is to be alive; figures go on along their courses.
        clone_ids: the clones, all where none are named.
        beside: an exchange; what others promise counts against it, what itself promises does not. Without one only
            what is held back for parcels counts.
    """
    narrower = "" if clone_ids is None else f" AND clone.id IN {numbers(clone_ids)}"
    found = rows(
        bank,
        f"""SELECT clone.id, clone.code, clone.permission, taxon.id, taxon.name,
                COALESCE(mine.own_ug, its.own_ug, 0), COALESCE(mine.packet_ug, its.packet_ug, ?),
                COALESCE(mine.young_days, its.young_days), COALESCE(NULLIF(mine.held, ''), its.held, ''),
                vial.id, vial.left, batch.collected, batch.spore_class, batch.id, outlook.first_day, outlook.last_day,
                outlook.ends, COALESCE(outlook.unsettled, '')
            FROM vial JOIN batch ON batch.id = vial.batch_id JOIN clone ON clone.id = batch.clone_id
            JOIN taxon ON taxon.id = clone.taxon_id LEFT JOIN figure ON figure.vial_id = vial.id
            LEFT JOIN outlook ON outlook.id = figure.outlook_id
            LEFT JOIN giving AS mine ON mine.clone_id = clone.id AND mine.void = 0
            LEFT JOIN giving AS its ON its.taxon_id = taxon.id AND its.void = 0
            WHERE vial.void = 0 AND vial.culled_on IS NULL AND vial.left > 0{narrower}
            ORDER BY taxon.sort_key, clone.sort_key, clone.id, batch.collected, batch.id, vial.number""",
        bank.settings.packet_ug,
    )
    shares, held, said = _shares(found, on), reserved(bank), complaints(bank)
    vials = [_lying(bank, row, share, held, said) for row, share in zip(found, shares, strict=True)]
    promises = {} if beside is None else _promised(bank, beside)
    grouped = groupby(zip(found, vials, strict=True), lambda pair: pair[0][0])
    return [_stock(bank, list(group), promises) for _, group in grouped]


def _promised(bank: Bank, beside: int) -> dict[int, int]:
    """Return, per clone, the micrograms that lists not closed promise and nobody holds back.

    A pooled line may take all its packets from any of its clones, and counts against each.
    """
    found = rows(
        bank,
        """SELECT part.clone_id, offering.packets, offering.packet_ug,
                (SELECT COUNT(*) FROM packet JOIN line ON line.id = packet.line_id
                    JOIN parcel ON parcel.id = packet.parcel_id
                    WHERE line.offering_id = offering.id AND packet.void = 0 AND parcel.fate = '')
            FROM offering JOIN exchange ON exchange.id = offering.exchange_id
            JOIN part ON part.offering_id = offering.id
            WHERE exchange.state <> 'closed' AND exchange.void = 0 AND exchange.id <> ?
                AND offering.void = 0 AND part.void = 0""",
        beside,
    )
    promised: dict[int, int] = defaultdict(int)
    for clone_id, packets, each, held in found:
        promised[clone_id] += max(packets - held, 0) * each
    return promised


def _lying(bank: Bank, row: tuple[Any, ...], share: Share | None, held: dict[int, int], said: dict[int, str]) -> Lying:
    return Lying(
        vial_id=row[9],
        collected=reading.part_date(row[11]),
        spore_class=SporeClass(row[12]),
        free=max(row[10] - held.get(row[9], 0), 0),
        share=share,
        chance=chance_alive(share, bank.settings.gift_line),
        unsettled=row[17],
        complaint=said.get(row[13], ""),
    )


def _stock(bank: Bank, group: list[tuple[tuple[Any, ...], Lying]], promises: dict[int, int]) -> Stock:
    clone_id, code, permission, taxon_id, name, own, packet, young, held = group[0][0][:9]
    return Stock(
        clone_id=clone_id,
        clone=code,
        taxon_id=taxon_id,
        name=reading.name(name),
        permission=Permission(permission),
        vials=tuple(vial for _, vial in group),
        own_ug=own,
        reserve_ug=bank.settings.reserve_ug,
        promised_ug=promises.get(clone_id, 0),
        packet_ug=packet,
        young_days=young,
        held=held,
    )


def _shares(found: Sequence[tuple[Any, ...]], on: date) -> list[Share | None]:
    """Return the share alive of each vial on a day, None where it is not modelled."""
    import numpy as np  # heavy, and with what it brings needed only here

    from sporebank.core.course import between

    shares: list[Share | None] = [None] * len(found)
    known = [number for number, row in enumerate(found) if row[16] is not None]
    if known:
        ends = (
            np.frombuffer(b"".join(found[number][16] for number in known), np.float32).astype(float).reshape(-1, 2, 4)
        )
        first, last = (np.array([found[number][column] for number in known], float) for column in (14, 15))
        at = between(first, last, ends, on.toordinal())
        for number, (low, middle, high, _) in zip(known, at.tolist(), strict=True):
            shares[number] = Share(low, middle, high)
    return shares


def complaints(bank: Bank) -> dict[int, str]:
    """Return what is said of each batch and not settled: misnamed, a stranger in it, dead."""
    found = rows(bank, "SELECT batch_id, kind FROM complaint WHERE void = 0 AND settled = '' ORDER BY id")
    return {int(batch_id): str(kind) for batch_id, kind in found}


def giving_row(bank: Bank, *, taxon_id: int | None = None, clone_id: int | None = None) -> int | None:
    """Return the row that says how a taxon or a clone is given, where there is one."""
    found = one(bank, "SELECT id FROM giving WHERE taxon_id IS ? AND clone_id IS ? AND void = 0", taxon_id, clone_id)
    return None if found is None else int(found[0])


def packet_size(bank: Bank, taxon_id: int | None) -> int:
    """Return the micrograms in a packet of a taxon, the usual ones where the keeper set none."""
    found = one(bank, "SELECT packet_ug FROM giving WHERE taxon_id = ? AND void = 0", taxon_id)
    return bank.settings.packet_ug if found is None or found[0] is None else int(found[0])


def way(bank: Bank, *, taxon_id: int | None = None, clone_id: int | None = None) -> Way:
    """Return how a taxon or a clone is given, as the keeper set it."""
    row_id = giving_row(bank, taxon_id=taxon_id, clone_id=clone_id)
    found = rows(bank, "SELECT own_ug, packet_ug, young_days, held FROM giving WHERE id = ?", row_id)
    return Way(*found[0]) if found else Way()


def demand(bank: Bank, taxon_ids: Sequence[int]) -> dict[int, tuple[int, int, int]]:
    """Return, per taxon, how many packets were asked for, given as wished and given instead of others so far.

    A parcel that came back or was lost is left out with its wishes, since they are served again.
    """
    found = rows(
        bank,
        f"""SELECT line.taxon_id, SUM(CASE WHEN line.alternative = 0 THEN line.packets ELSE 0 END),
                SUM(CASE WHEN line.alternative = 0 THEN COALESCE(line.allotted, got.count, 0) ELSE 0 END),
                SUM(CASE WHEN line.alternative = 1 THEN COALESCE(line.allotted, got.count, 0) ELSE 0 END)
            FROM line JOIN request ON request.id = line.request_id
            LEFT JOIN (SELECT line_id, COUNT(*) AS count FROM packet WHERE void = 0 GROUP BY line_id) AS got
                ON got.line_id = line.id
            WHERE line.taxon_id IN {numbers(taxon_ids)} AND line.void = 0 AND request.void = 0
                AND NOT EXISTS (SELECT 1 FROM parcel WHERE request_id = request.id AND void = 0 AND fate <> '')
            GROUP BY line.taxon_id""",
    )
    counts: dict[int, tuple[int, int, int]] = defaultdict(lambda: (0, 0, 0))
    counts.update({row[0]: (row[1], row[2], row[3]) for row in found})
    return counts
