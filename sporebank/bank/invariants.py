"""What must hold in every bank file, checked by its own queries."""

from __future__ import annotations

from sporebank.bank.bank import Bank
from sporebank.bank.sql import rows

_STANDING = "NOT EXISTS (SELECT 1 FROM stay AS other WHERE other.voids = stay.id) AND stay.voids IS NULL"

_RULES: tuple[tuple[str, str], ...] = (
    (
        "what is left in a vial is the sum of its movements",
        """SELECT vial.code FROM vial LEFT JOIN
           (SELECT vial_id, SUM(micrograms) AS total FROM movement GROUP BY vial_id) AS ledger
           ON ledger.vial_id = vial.id
           WHERE vial.left <> COALESCE(ledger.total, 0)""",
    ),
    (
        "no ledger ever went below zero",
        """SELECT code FROM (SELECT vial.code, SUM(micrograms) OVER
           (PARTITION BY vial_id ORDER BY movement.id) AS running FROM movement JOIN vial ON vial.id = vial_id)
           WHERE running < 0""",
    ),
    (
        "a vial lies where its last stay says",
        f"""SELECT vial.code FROM vial LEFT JOIN
           (SELECT vial_id, place_id, slot,
                ROW_NUMBER() OVER (PARTITION BY vial_id ORDER BY since DESC, id DESC) AS nth
            FROM stay WHERE {_STANDING}) AS last ON last.vial_id = vial.id AND nth = 1
           WHERE vial.place_id IS NOT last.place_id OR vial.slot IS NOT last.slot""",
    ),
    (
        "a slot lies inside its box",
        """SELECT vial.code FROM vial JOIN place ON place.id = vial.place_id
           WHERE vial.slot IS NOT NULL AND vial.slot >= place.rows * place.columns""",
    ),
    (
        "a culled vial is empty and out of its place",
        "SELECT code FROM vial WHERE culled_on IS NOT NULL AND (left <> 0 OR place_id IS NOT NULL)",
    ),
    (
        "a vial taken back is empty and out of its place",
        "SELECT code FROM vial WHERE void = 1 AND (left <> 0 OR place_id IS NOT NULL)",
    ),
    (
        "a batch in use has not been taken back",
        "SELECT vial.code FROM vial JOIN batch ON batch.id = batch_id WHERE vial.void = 0 AND batch.void = 1",
    ),
    (
        "a name in use has not been taken back",
        "SELECT clone.code FROM clone JOIN taxon ON taxon.id = taxon_id WHERE clone.void = 0 AND taxon.void = 1",
    ),
    (
        "no clone is raised from itself",
        """WITH RECURSIVE line (id, above) AS (SELECT id, parent_id FROM clone WHERE parent_id IS NOT NULL UNION
               SELECT line.id, clone.parent_id FROM line JOIN clone ON clone.id = line.above
               WHERE clone.parent_id IS NOT NULL)
           SELECT clone.code FROM line JOIN clone ON clone.id = line.id WHERE line.id = line.above""",
    ),
    (
        "packets held back are in their vials",
        """SELECT vial.code FROM vial JOIN packet ON packet.vial_id = vial.id
           JOIN parcel ON parcel.id = packet.parcel_id WHERE packet.void = 0 AND parcel.void = 0
           AND parcel.dispatched_on IS NULL AND vial.culled_on IS NOT NULL""",
    ),
    (
        "a dispatched packet is booked once",
        """SELECT parcel.code FROM parcel WHERE dispatched_on IS NOT NULL AND void = 0 AND
           (SELECT SUM(micrograms) FROM packet WHERE parcel_id = parcel.id AND packet.void = 0) <>
           (SELECT -SUM(micrograms) FROM movement WHERE REPLACE(note, '-', '') = parcel.code AND reason = 'gift')""",
    ),
    (
        "a closed parcel holds what was packed into it, or was never scanned",
        """SELECT parcel.code FROM parcel JOIN packet ON packet.parcel_id = parcel.id AND packet.void = 0
           WHERE closed_on IS NOT NULL AND parcel.void = 0
           GROUP BY parcel.id HAVING MIN(packed) <> MAX(packed)""",
    ),
    (
        "a parcel was closed before it was sent, and sent before it came back or was lost",
        """SELECT code FROM parcel WHERE void = 0 AND ((gap <> '' AND closed_on IS NULL)
           OR (fate <> '' AND (dispatched_on IS NULL OR fate_on < dispatched_on)))""",
    ),
    (
        "what never arrived was taken back in the ledgers once and whole, or not at all, and what is gone is a loss",
        """SELECT code FROM (SELECT parcel.code, fate,
               (SELECT SUM(micrograms) FROM packet WHERE parcel_id = parcel.id AND packet.void = 0) AS sent,
               (SELECT COALESCE(SUM(micrograms), 0) FROM movement WHERE reason = 'correction'
                   AND REPLACE(note, '-', '') IN (parcel.code || ' came back', parcel.code || ' lost on the way')
               ) AS back,
               (SELECT COALESCE(-SUM(micrograms), 0) FROM movement WHERE reason = 'loss' AND REPLACE(note, '-', '')
                   IN (parcel.code || ' came back, not put back', parcel.code || ' lost on the way')) AS gone
               FROM parcel WHERE dispatched_on IS NOT NULL AND void = 0)
           WHERE back NOT IN (0, sent) OR gone NOT IN (0, back)
               OR (fate = '' AND back <> 0) OR (fate = 'lost' AND gone <> back)""",
    ),
    (
        "a pot looked at has not been taken back, and was sown by then",
        """SELECT pot.code FROM look JOIN pot ON pot.id = pot_id JOIN sowing ON sowing.id = sowing_id
           WHERE look.void = 0 AND (pot.void = 1 OR look.on_day < sowing.sown_on)""",
    ),
    (
        "no more packets of a line of a list are held back or sent than it has",
        """SELECT exchange.name || ' ' || COALESCE(offering.number, '') FROM offering
           JOIN exchange ON exchange.id = offering.exchange_id JOIN line ON line.offering_id = offering.id
           JOIN packet ON packet.line_id = line.id AND packet.void = 0 JOIN parcel ON parcel.id = packet.parcel_id
           WHERE parcel.fate = '' GROUP BY offering.id HAVING COUNT(*) > offering.packets""",
    ),
    (
        "a packet of a line of a list is of a clone that is in it",
        """SELECT packet.code FROM packet JOIN line ON line.id = packet.line_id JOIN vial ON vial.id = packet.vial_id
           JOIN batch ON batch.id = vial.batch_id
           WHERE packet.void = 0 AND line.offering_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM part
               WHERE part.offering_id = line.offering_id AND part.clone_id = batch.clone_id AND part.void = 0)""",
    ),
    (
        "no more packets are held back or sent for a wish of an exchange than were allotted to it",
        """SELECT 'line ' || line.id FROM line JOIN packet ON packet.line_id = line.id AND packet.void = 0
           JOIN parcel ON parcel.id = packet.parcel_id WHERE line.offering_id IS NOT NULL AND parcel.fate = ''
           GROUP BY line.id HAVING COUNT(*) > COALESCE(line.allotted, 0)""",
    ),
    (
        "a line of a list is of a name in use",
        """SELECT taxon.name FROM offering JOIN taxon ON taxon.id = taxon_id
           WHERE offering.void = 0 AND taxon.void = 1""",
    ),
    ("no row points at nothing", 'SELECT "table" FROM pragma_foreign_key_check'),
)


def broken(bank: Bank) -> list[str]:
    """Return a sentence for every rule that does not hold, with up to five of the places where."""
    found = []
    for rule, sql in _RULES:
        where = [str(row[0]) for row in rows(bank, f"{sql} LIMIT 5")]
        if where:
            found.append(f"It should hold that {rule}; it does not for {', '.join(where)}.")
    return found
