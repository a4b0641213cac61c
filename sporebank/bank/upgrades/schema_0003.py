"""Schema 3, frozen once released: looks at pots, exchanges from the list to the parcel, and what comes back.

`exchange` is a round or a standing list, `offering` a line of its list and `part` a clone whose spore is in it.
"""

TITLE = "looks at pots, rounds and standing lists, donations, permits, results, complaints, parcels received"

STATEMENTS: tuple[str, ...] = (
    """CREATE TABLE look (
        id INTEGER PRIMARY KEY,
        pot_id INTEGER NOT NULL REFERENCES pot (id) ON DELETE RESTRICT,
        on_day TEXT NOT NULL,
        what TEXT NOT NULL,
        count INTEGER CHECK (count >= 0),
        note TEXT NOT NULL DEFAULT '',
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE INDEX look_pot ON look (pot_id)",
    # The exchange: what is offered, and how taxa and clones are given.
    """CREATE TABLE exchange (
        id INTEGER PRIMARY KEY,
        name TEXT NOT NULL,
        shape TEXT NOT NULL,
        state TEXT NOT NULL,
        opens TEXT NOT NULL,
        closes TEXT,
        ships TEXT NOT NULL,
        rules TEXT NOT NULL,
        note TEXT NOT NULL DEFAULT '',
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE UNIQUE INDEX exchange_name ON exchange (name COLLATE NOCASE) WHERE void = 0",
    """CREATE TABLE offering (
        id INTEGER PRIMARY KEY,
        exchange_id INTEGER NOT NULL REFERENCES exchange (id) ON DELETE RESTRICT,
        number INTEGER,
        taxon_id INTEGER NOT NULL REFERENCES taxon (id) ON DELETE RESTRICT,
        packet_ug INTEGER NOT NULL CHECK (packet_ug > 0),
        packets INTEGER NOT NULL CHECK (packets >= 0),
        limited INTEGER NOT NULL DEFAULT 0,
        note TEXT NOT NULL DEFAULT '',
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE UNIQUE INDEX offering_number ON offering (exchange_id, number) WHERE void = 0",
    "CREATE INDEX offering_taxon ON offering (taxon_id)",
    """CREATE TABLE part (
        id INTEGER PRIMARY KEY,
        offering_id INTEGER NOT NULL REFERENCES offering (id) ON DELETE RESTRICT,
        clone_id INTEGER NOT NULL REFERENCES clone (id) ON DELETE RESTRICT,
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE INDEX part_offering ON part (offering_id)",
    "CREATE INDEX part_clone ON part (clone_id)",
    """CREATE TABLE giving (
        id INTEGER PRIMARY KEY,
        taxon_id INTEGER REFERENCES taxon (id) ON DELETE RESTRICT,
        clone_id INTEGER REFERENCES clone (id) ON DELETE RESTRICT,
        own_ug INTEGER CHECK (own_ug >= 0),
        packet_ug INTEGER CHECK (packet_ug > 0),
        young_days INTEGER CHECK (young_days > 0),
        held TEXT NOT NULL DEFAULT '',
        void INTEGER NOT NULL DEFAULT 0,
        CHECK ((taxon_id IS NULL) <> (clone_id IS NULL))
    )""",
    "CREATE UNIQUE INDEX giving_taxon ON giving (taxon_id) WHERE void = 0 AND taxon_id IS NOT NULL",
    "CREATE UNIQUE INDEX giving_clone ON giving (clone_id) WHERE void = 0 AND clone_id IS NOT NULL",
    """CREATE TABLE donation (
        id INTEGER PRIMARY KEY,
        exchange_id INTEGER NOT NULL REFERENCES exchange (id) ON DELETE RESTRICT,
        contact_id INTEGER NOT NULL REFERENCES contact (id) ON DELETE RESTRICT,
        batch_id INTEGER REFERENCES batch (id) ON DELETE RESTRICT,
        received_on TEXT NOT NULL,
        received_as TEXT NOT NULL,
        packets INTEGER NOT NULL CHECK (packets > 0),
        resealed INTEGER NOT NULL DEFAULT 0,
        note TEXT NOT NULL DEFAULT '',
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE INDEX donation_exchange ON donation (exchange_id)",
    "CREATE INDEX donation_contact ON donation (contact_id)",
    "CREATE INDEX donation_batch ON donation (batch_id)",
    # Requests of an exchange: `place` is the stored order, `allotted` what the sharing out gave.
    "ALTER TABLE request ADD COLUMN exchange_id INTEGER REFERENCES exchange (id) ON DELETE RESTRICT",
    "ALTER TABLE request ADD COLUMN place INTEGER",
    "ALTER TABLE request ADD COLUMN helper INTEGER NOT NULL DEFAULT 0",
    "CREATE INDEX request_exchange ON request (exchange_id) WHERE exchange_id IS NOT NULL",
    "CREATE INDEX request_contact ON request (contact_id)",
    "ALTER TABLE line ADD COLUMN offering_id INTEGER REFERENCES offering (id) ON DELETE RESTRICT",
    "ALTER TABLE line ADD COLUMN alternative INTEGER NOT NULL DEFAULT 0",
    "ALTER TABLE line ADD COLUMN stands_for INTEGER REFERENCES line (id) ON DELETE RESTRICT",
    "ALTER TABLE line ADD COLUMN allotted INTEGER",
    "CREATE INDEX line_offering ON line (offering_id) WHERE offering_id IS NOT NULL",
    """CREATE TABLE pin (
        id INTEGER PRIMARY KEY,
        request_id INTEGER NOT NULL REFERENCES request (id) ON DELETE RESTRICT,
        offering_id INTEGER NOT NULL REFERENCES offering (id) ON DELETE RESTRICT,
        kind TEXT NOT NULL,
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE UNIQUE INDEX pin_once ON pin (request_id, offering_id) WHERE void = 0",
    # Packing and sending.
    "ALTER TABLE packet ADD COLUMN code TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE packet ADD COLUMN packed INTEGER NOT NULL DEFAULT 0",
    "CREATE UNIQUE INDEX packet_code ON packet (code) WHERE code <> ''",
    "ALTER TABLE parcel ADD COLUMN closed_on TEXT",
    "ALTER TABLE parcel ADD COLUMN gap TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE parcel ADD COLUMN fate TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE parcel ADD COLUMN fate_on TEXT",
    """CREATE TABLE permit (
        id INTEGER PRIMARY KEY,
        contact_id INTEGER NOT NULL REFERENCES contact (id) ON DELETE RESTRICT,
        kind TEXT NOT NULL,
        number TEXT NOT NULL,
        expires TEXT,
        labels_left INTEGER CHECK (labels_left >= 0),
        note TEXT NOT NULL DEFAULT '',
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE INDEX permit_contact ON permit (contact_id)",
    """CREATE TABLE heed (
        id INTEGER PRIMARY KEY,
        parcel_id INTEGER NOT NULL REFERENCES parcel (id) ON DELETE RESTRICT,
        caution TEXT NOT NULL,
        note TEXT NOT NULL,
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE UNIQUE INDEX heed_once ON heed (parcel_id, caution) WHERE void = 0",
    "ALTER TABLE clone ADD COLUMN country TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE contact ADD COLUMN donor_code TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE contact ADD COLUMN forgotten_on TEXT",
    # Small money: what a person paid (+) and what was charged (-).
    """CREATE TABLE credit (
        id INTEGER PRIMARY KEY,
        contact_id INTEGER NOT NULL REFERENCES contact (id) ON DELETE RESTRICT,
        request_id INTEGER REFERENCES request (id) ON DELETE RESTRICT,
        on_day TEXT NOT NULL,
        cents INTEGER NOT NULL,
        note TEXT NOT NULL DEFAULT '',
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE INDEX credit_contact ON credit (contact_id)",
    "CREATE INDEX credit_request ON credit (request_id)",
    # What comes back from those who got spore.
    """CREATE TABLE outcome (
        id INTEGER PRIMARY KEY,
        packet_id INTEGER NOT NULL REFERENCES packet (id) ON DELETE RESTRICT,
        on_day TEXT NOT NULL,
        germinated INTEGER,
        true_name INTEGER,
        note TEXT NOT NULL DEFAULT '',
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE INDEX outcome_packet ON outcome (packet_id)",
    """CREATE TABLE complaint (
        id INTEGER PRIMARY KEY,
        batch_id INTEGER NOT NULL REFERENCES batch (id) ON DELETE RESTRICT,
        packet_id INTEGER REFERENCES packet (id) ON DELETE RESTRICT,
        on_day TEXT NOT NULL,
        kind TEXT NOT NULL,
        note TEXT NOT NULL DEFAULT '',
        settled TEXT NOT NULL DEFAULT '',
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE INDEX complaint_batch ON complaint (batch_id)",
    "CREATE INDEX complaint_packet ON complaint (packet_id)",
    # Parcels from other banks, and the codes that their things had there.
    """CREATE TABLE receipt (
        id INTEGER PRIMARY KEY,
        parcel TEXT NOT NULL,
        bank TEXT NOT NULL,
        checksum TEXT NOT NULL,
        received_on TEXT NOT NULL,
        contact_id INTEGER REFERENCES contact (id) ON DELETE RESTRICT,
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE UNIQUE INDEX receipt_parcel ON receipt (parcel) WHERE void = 0",
    """CREATE TABLE alias (
        id INTEGER PRIMARY KEY,
        receipt_id INTEGER NOT NULL REFERENCES receipt (id) ON DELETE RESTRICT,
        kind TEXT NOT NULL,
        row_id INTEGER NOT NULL,
        code TEXT NOT NULL,
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE INDEX alias_code ON alias (code)",
    "CREATE INDEX alias_row ON alias (kind, row_id)",
    # A chance below the line changes every day, and is looked for only where it is high.
    "DROP INDEX figure_below",
    "CREATE INDEX figure_below ON figure (chance_below) WHERE chance_below >= 0.5",
)
