"""Schema 1, frozen: the tables of the first release.

What the file itself promises, whatever program writes it: the ledger, the stays and the record of deeds are only
appended to, never for a vial whose storing was undone; what is left in a vial is the sum of its movements and never
below zero; a slot holds one vial; nothing physical disappears while something points at it.
"""

TITLE = "the first bank"

_PLAIN = (
    "CREATE TABLE meta (key TEXT NOT NULL PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID",
    "CREATE TABLE setting (id INTEGER PRIMARY KEY CHECK (id = 1), value TEXT NOT NULL)",
    "CREATE TABLE serial (kind TEXT NOT NULL PRIMARY KEY, last INTEGER NOT NULL) WITHOUT ROWID",
    """CREATE TABLE event (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        at TEXT NOT NULL,
        by TEXT NOT NULL,
        title TEXT NOT NULL,
        kind TEXT NOT NULL CHECK (kind IN ('do', 'undo', 'redo')),
        of_event INTEGER REFERENCES event (id) ON DELETE RESTRICT
    )""",
    "CREATE INDEX event_of ON event (of_event) WHERE of_event IS NOT NULL",
    """CREATE TABLE entry (
        id INTEGER PRIMARY KEY,
        event_id INTEGER NOT NULL REFERENCES event (id) ON DELETE RESTRICT,
        kind TEXT NOT NULL,
        row_id INTEGER NOT NULL,
        before TEXT,
        after TEXT
    )""",
    "CREATE INDEX entry_event ON entry (event_id)",
    "CREATE INDEX entry_row ON entry (kind, row_id)",
    """CREATE TABLE taxon (
        id INTEGER PRIMARY KEY,
        name TEXT NOT NULL,
        sort_key TEXT NOT NULL,
        family TEXT NOT NULL DEFAULT '',
        spore_class TEXT NOT NULL,
        verified INTEGER NOT NULL DEFAULT 0,
        old_name TEXT NOT NULL DEFAULT '',
        invasive_note TEXT NOT NULL DEFAULT '',
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE UNIQUE INDEX taxon_name ON taxon (name) WHERE void = 0",
    "CREATE INDEX taxon_sort ON taxon (sort_key)",
    """CREATE TABLE contact (
        id INTEGER PRIMARY KEY,
        name TEXT NOT NULL,
        organisation TEXT NOT NULL DEFAULT '',
        address TEXT NOT NULL DEFAULT '',
        country TEXT NOT NULL DEFAULT '',
        email TEXT NOT NULL DEFAULT '',
        note TEXT NOT NULL DEFAULT '',
        void INTEGER NOT NULL DEFAULT 0
    )""",
    """CREATE TABLE clone (
        id INTEGER PRIMARY KEY,
        code TEXT NOT NULL,
        sort_key TEXT NOT NULL,
        taxon_id INTEGER NOT NULL REFERENCES taxon (id) ON DELETE RESTRICT,
        source TEXT NOT NULL,
        origin TEXT NOT NULL DEFAULT '',
        acquired TEXT,
        acquired_from TEXT NOT NULL DEFAULT '',
        permission TEXT NOT NULL,
        permit_note TEXT NOT NULL DEFAULT '',
        network_number TEXT NOT NULL DEFAULT '',
        received_as TEXT NOT NULL DEFAULT '',
        parent_id INTEGER REFERENCES clone (id) ON DELETE RESTRICT,
        note TEXT NOT NULL DEFAULT '',
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE UNIQUE INDEX clone_code ON clone (code COLLATE NOCASE) WHERE void = 0",
    "CREATE INDEX clone_taxon ON clone (taxon_id)",
    """CREATE TABLE batch (
        id INTEGER PRIMARY KEY,
        code TEXT NOT NULL UNIQUE,
        clone_id INTEGER NOT NULL REFERENCES clone (id) ON DELETE RESTRICT,
        collected TEXT NOT NULL,
        cleaned_on TEXT,
        fronds INTEGER,
        cleaning TEXT NOT NULL,
        screen_um INTEGER,
        minutes INTEGER,
        purity INTEGER CHECK (purity BETWEEN 0 AND 100),
        purity_basis TEXT NOT NULL,
        amount_basis TEXT NOT NULL,
        amount_said TEXT NOT NULL DEFAULT '',
        spore_class TEXT NOT NULL,
        note TEXT NOT NULL DEFAULT '',
        before TEXT NOT NULL DEFAULT 'in a room',
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE INDEX batch_clone ON batch (clone_id)",
    """CREATE TABLE place (
        id INTEGER PRIMARY KEY,
        code TEXT NOT NULL UNIQUE,
        parent_id INTEGER REFERENCES place (id) ON DELETE RESTRICT,
        kind TEXT NOT NULL,
        name TEXT NOT NULL,
        temperature REAL,
        humidity REAL CHECK (humidity BETWEEN 0 AND 100),
        rows INTEGER NOT NULL DEFAULT 0,
        columns INTEGER NOT NULL DEFAULT 0,
        path TEXT NOT NULL,
        path_key TEXT NOT NULL,
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE INDEX place_parent ON place (parent_id)",
    """CREATE TABLE vial (
        id INTEGER PRIMARY KEY,
        code TEXT NOT NULL UNIQUE,
        batch_id INTEGER NOT NULL REFERENCES batch (id) ON DELETE RESTRICT,
        number INTEGER NOT NULL,
        left INTEGER NOT NULL DEFAULT 0 CHECK (left >= 0),
        place_id INTEGER REFERENCES place (id) ON DELETE RESTRICT,
        slot INTEGER,
        culled_on TEXT,
        cull_reason TEXT NOT NULL DEFAULT '',
        note TEXT NOT NULL DEFAULT '',
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE INDEX vial_batch ON vial (batch_id)",
    "CREATE UNIQUE INDEX vial_slot ON vial (place_id, slot) WHERE slot IS NOT NULL AND void = 0",
    "CREATE INDEX vial_place ON vial (place_id) WHERE void = 0",
    "CREATE INDEX vial_note ON vial (note) WHERE note <> ''",
    """CREATE TABLE movement (
        id INTEGER PRIMARY KEY,
        event_id INTEGER NOT NULL REFERENCES event (id) ON DELETE RESTRICT,
        vial_id INTEGER NOT NULL REFERENCES vial (id) ON DELETE RESTRICT,
        on_day TEXT NOT NULL,
        micrograms INTEGER NOT NULL CHECK (micrograms <> 0),
        reason TEXT NOT NULL,
        basis TEXT NOT NULL,
        note TEXT NOT NULL DEFAULT '',
        voids INTEGER REFERENCES movement (id) ON DELETE RESTRICT
    )""",
    "CREATE INDEX movement_vial ON movement (vial_id)",
    "CREATE UNIQUE INDEX movement_voids ON movement (voids) WHERE voids IS NOT NULL",
    """CREATE TABLE stay (
        id INTEGER PRIMARY KEY,
        event_id INTEGER NOT NULL REFERENCES event (id) ON DELETE RESTRICT,
        vial_id INTEGER NOT NULL REFERENCES vial (id) ON DELETE RESTRICT,
        since TEXT NOT NULL,
        place_id INTEGER REFERENCES place (id) ON DELETE RESTRICT,
        slot INTEGER,
        temperature REAL,
        humidity REAL,
        voids INTEGER REFERENCES stay (id) ON DELETE RESTRICT
    )""",
    "CREATE INDEX stay_vial ON stay (vial_id, since)",
    "CREATE UNIQUE INDEX stay_voids ON stay (voids) WHERE voids IS NOT NULL",
    """CREATE TABLE mishap (
        id INTEGER PRIMARY KEY,
        vial_id INTEGER NOT NULL REFERENCES vial (id) ON DELETE RESTRICT,
        on_day TEXT NOT NULL,
        kind TEXT NOT NULL,
        note TEXT NOT NULL DEFAULT '',
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE INDEX mishap_vial ON mishap (vial_id)",
    """CREATE TABLE test (
        id INTEGER PRIMARY KEY,
        batch_id INTEGER NOT NULL REFERENCES batch (id) ON DELETE RESTRICT,
        vial_id INTEGER REFERENCES vial (id) ON DELETE RESTRICT,
        sown_on TEXT NOT NULL,
        counted_on TEXT NOT NULL,
        medium TEXT NOT NULL DEFAULT '',
        temperature REAL,
        light TEXT NOT NULL DEFAULT '',
        note TEXT NOT NULL DEFAULT '',
        left_out TEXT NOT NULL DEFAULT '',
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE INDEX test_batch ON test (batch_id)",
    """CREATE TABLE replicate (
        id INTEGER PRIMARY KEY,
        test_id INTEGER NOT NULL REFERENCES test (id) ON DELETE RESTRICT,
        number INTEGER NOT NULL,
        sown INTEGER NOT NULL CHECK (sown > 0),
        germinated INTEGER NOT NULL CHECK (germinated BETWEEN 0 AND sown),
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE INDEX replicate_test ON replicate (test_id)",
    """CREATE TABLE sowing (
        id INTEGER PRIMARY KEY,
        code TEXT NOT NULL UNIQUE,
        vial_id INTEGER NOT NULL REFERENCES vial (id) ON DELETE RESTRICT,
        room TEXT NOT NULL,
        sown_on TEXT NOT NULL,
        micrograms INTEGER NOT NULL CHECK (micrograms > 0),
        note TEXT NOT NULL DEFAULT '',
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE INDEX sowing_day ON sowing (sown_on, room)",
    "CREATE INDEX sowing_vial ON sowing (vial_id)",
    """CREATE TABLE pot (
        id INTEGER PRIMARY KEY,
        code TEXT NOT NULL UNIQUE,
        sowing_id INTEGER NOT NULL REFERENCES sowing (id) ON DELETE RESTRICT,
        number INTEGER NOT NULL,
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE INDEX pot_sowing ON pot (sowing_id)",
    """CREATE TABLE request (
        id INTEGER PRIMARY KEY,
        contact_id INTEGER NOT NULL REFERENCES contact (id) ON DELETE RESTRICT,
        received_on TEXT NOT NULL,
        state TEXT NOT NULL,
        note TEXT NOT NULL DEFAULT '',
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE INDEX request_state ON request (state)",
    """CREATE TABLE line (
        id INTEGER PRIMARY KEY,
        request_id INTEGER NOT NULL REFERENCES request (id) ON DELETE RESTRICT,
        rank INTEGER NOT NULL,
        taxon_id INTEGER REFERENCES taxon (id) ON DELETE RESTRICT,
        clone_id INTEGER REFERENCES clone (id) ON DELETE RESTRICT,
        packets INTEGER NOT NULL CHECK (packets > 0),
        packet_ug INTEGER NOT NULL CHECK (packet_ug > 0),
        unmet TEXT NOT NULL DEFAULT '',
        void INTEGER NOT NULL DEFAULT 0,
        CHECK ((taxon_id IS NULL) <> (clone_id IS NULL))
    )""",
    "CREATE INDEX line_request ON line (request_id)",
    """CREATE TABLE parcel (
        id INTEGER PRIMARY KEY,
        code TEXT NOT NULL UNIQUE,
        request_id INTEGER NOT NULL REFERENCES request (id) ON DELETE RESTRICT,
        dispatched_on TEXT,
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE INDEX parcel_request ON parcel (request_id)",
    """CREATE TABLE packet (
        id INTEGER PRIMARY KEY,
        line_id INTEGER NOT NULL REFERENCES line (id) ON DELETE RESTRICT,
        parcel_id INTEGER NOT NULL REFERENCES parcel (id) ON DELETE RESTRICT,
        vial_id INTEGER NOT NULL REFERENCES vial (id) ON DELETE RESTRICT,
        micrograms INTEGER NOT NULL CHECK (micrograms > 0),
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE INDEX packet_line ON packet (line_id)",
    "CREATE INDEX packet_parcel ON packet (parcel_id)",
    "CREATE INDEX packet_vial ON packet (vial_id)",
    # How spore keeps, where the keeper knows better than the table that travels with the program.
    """CREATE TABLE keeping (
        id INTEGER PRIMARY KEY,
        what TEXT NOT NULL,
        value REAL NOT NULL,
        spread REAL,
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE UNIQUE INDEX keeping_what ON keeping (what) WHERE void = 0",
    # Labels: own layouts, own sheets and printers; what waits to be printed, and what was.
    """CREATE TABLE layout (
        id INTEGER PRIMARY KEY,
        name TEXT NOT NULL,
        kind TEXT NOT NULL,
        value TEXT NOT NULL,
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE UNIQUE INDEX layout_name ON layout (name COLLATE NOCASE) WHERE void = 0",
    """CREATE TABLE sheet (
        id INTEGER PRIMARY KEY,
        name TEXT NOT NULL,
        value TEXT NOT NULL,
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE UNIQUE INDEX sheet_name ON sheet (name COLLATE NOCASE) WHERE void = 0",
    """CREATE TABLE printer (
        id INTEGER PRIMARY KEY,
        name TEXT NOT NULL,
        across_mm REAL NOT NULL DEFAULT 0,
        down_mm REAL NOT NULL DEFAULT 0,
        scale_x REAL NOT NULL DEFAULT 1 CHECK (scale_x BETWEEN 0.9 AND 1.1),
        scale_y REAL NOT NULL DEFAULT 1 CHECK (scale_y BETWEEN 0.9 AND 1.1),
        dpi INTEGER NOT NULL DEFAULT 600,
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE UNIQUE INDEX printer_name ON printer (name COLLATE NOCASE) WHERE void = 0",
    """CREATE TABLE printing (
        id INTEGER PRIMARY KEY,
        on_day TEXT NOT NULL,
        layout TEXT NOT NULL,
        sheet TEXT NOT NULL,
        first_cell INTEGER NOT NULL DEFAULT 0,
        next_cell INTEGER NOT NULL DEFAULT 0,
        void INTEGER NOT NULL DEFAULT 0
    )""",
    """CREATE TABLE label (
        id INTEGER PRIMARY KEY,
        kind TEXT NOT NULL,
        target_id INTEGER NOT NULL,
        printing_id INTEGER REFERENCES printing (id) ON DELETE RESTRICT,
        void INTEGER NOT NULL DEFAULT 0
    )""",
    "CREATE INDEX label_waiting ON label (kind, target_id) WHERE printing_id IS NULL",
    "CREATE INDEX label_printing ON label (printing_id) WHERE printing_id IS NOT NULL",
    # What follows is derived and may be emptied and computed again at any time.
    """CREATE TABLE figure (
        vial_id INTEGER PRIMARY KEY REFERENCES vial (id) ON DELETE RESTRICT,
        on_day TEXT NOT NULL,
        state TEXT NOT NULL,
        low REAL,
        middle REAL,
        high REAL,
        chance_below REAL,
        crosses_earliest TEXT,
        crosses TEXT,
        crosses_latest TEXT,
        next_test TEXT,
        surplus INTEGER NOT NULL DEFAULT 0,
        advice TEXT NOT NULL DEFAULT 'keep',
        first_day INTEGER,
        last_day INTEGER,
        ends BLOB
    )""",
    "CREATE INDEX figure_state ON figure (state)",
    "CREATE INDEX figure_below ON figure (chance_below)",
    "CREATE INDEX figure_crosses ON figure (crosses)",
    "CREATE INDEX figure_next_test ON figure (next_test)",
)


def _append_only(table: str) -> tuple[str, str]:
    refuse = f"BEGIN SELECT RAISE(ABORT, '{table} is only appended to'); END"
    return (
        f"CREATE TRIGGER {table}_stays_as_written BEFORE UPDATE ON {table} {refuse}",
        f"CREATE TRIGGER {table}_is_kept BEFORE DELETE ON {table} {refuse}",
    )


def _not_on_a_ghost(table: str) -> str:
    return f"""CREATE TRIGGER {table}_needs_its_vial BEFORE INSERT ON {table}
        WHEN (SELECT void FROM vial WHERE id = NEW.vial_id) = 1
        BEGIN SELECT RAISE(ABORT, 'the vial has been taken back'); END"""


_TRIGGERS = (
    _not_on_a_ghost("movement"),
    _not_on_a_ghost("stay"),
    """CREATE TRIGGER movement_counts AFTER INSERT ON movement BEGIN
        UPDATE vial SET left = left + NEW.micrograms WHERE id = NEW.vial_id;
    END""",
    # A stay that voids another only takes it out of the history, so the latest one standing is looked up anew.
    """CREATE TRIGGER stay_places AFTER INSERT ON stay BEGIN
        UPDATE vial SET (place_id, slot) = (
            SELECT place_id, slot FROM stay AS one
            WHERE one.vial_id = NEW.vial_id AND one.voids IS NULL
                AND NOT EXISTS (SELECT 1 FROM stay AS other WHERE other.voids = one.id)
            ORDER BY one.since DESC, one.id DESC LIMIT 1
        ) WHERE id = NEW.vial_id;
    END""",
)

STATEMENTS: tuple[str, ...] = (
    *_PLAIN,
    *_TRIGGERS,
    *_append_only("movement"),
    *_append_only("stay"),
    *_append_only("event"),
    *_append_only("entry"),
)
