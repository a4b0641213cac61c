"""What people gave and got."""

from __future__ import annotations

from sporebank.bank.bank import Bank
from sporebank.bank.queries import reading
from sporebank.bank.sql import rows
from sporebank.core.given import Passed


def passed(bank: Bank, contact_id: int) -> list[Passed]:
    """Return what a person gave and got, by year and taxon, the latest year first.

    Packets that were sent count as got, unless they came back or were lost.
    """
    found = rows(
        bank,
        """SELECT year, gave, taxon, SUM(packets) FROM (
               SELECT substr(donation.received_on, 1, 4) AS year, 1 AS gave, taxon.name AS taxon, donation.packets,
                   taxon.sort_key
               FROM donation JOIN batch ON batch.id = donation.batch_id JOIN clone ON clone.id = batch.clone_id
                   JOIN taxon ON taxon.id = clone.taxon_id
               WHERE donation.contact_id = ?1 AND donation.void = 0
               UNION ALL
               SELECT substr(parcel.dispatched_on, 1, 4), 0, taxon.name, 1, taxon.sort_key
               FROM request JOIN parcel ON parcel.request_id = request.id AND parcel.void = 0
                   JOIN packet ON packet.parcel_id = parcel.id AND packet.void = 0
                   JOIN vial ON vial.id = packet.vial_id JOIN batch ON batch.id = vial.batch_id
                   JOIN clone ON clone.id = batch.clone_id JOIN taxon ON taxon.id = clone.taxon_id
               WHERE request.contact_id = ?1 AND request.void = 0 AND parcel.dispatched_on IS NOT NULL
                   AND parcel.fate = '')
           GROUP BY year, gave, taxon ORDER BY year DESC, gave DESC, sort_key""",
        contact_id,
    )
    return [Passed(int(year), bool(gave), reading.name(taxon), packets) for year, gave, taxon, packets in found]
