"""Schema 4, frozen once released: what is foreseen of vials that are alike is kept once, as their `outlook`."""

TITLE = "what is foreseen of vials that are alike is kept once"

_SHARED = """on_day, state, low, middle, high, chance_below, crosses_earliest, crosses, crosses_latest, next_test,
    first_day, last_day, ends, tested, unsettled"""
_ALIKE = f"batch_id, {_SHARED}"

STATEMENTS: tuple[str, ...] = (
    """CREATE TABLE outlook (
        id INTEGER PRIMARY KEY,
        batch_id INTEGER NOT NULL REFERENCES batch (id) ON DELETE RESTRICT,
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
        first_day INTEGER,
        last_day INTEGER,
        ends BLOB,
        tested TEXT,
        unsettled TEXT NOT NULL DEFAULT ''
    )""",
    f"""INSERT INTO outlook (id, {_ALIKE}) SELECT MIN(vial_id), {_ALIKE}
        FROM figure JOIN vial ON vial.id = figure.vial_id GROUP BY {_ALIKE}""",
    "ALTER TABLE figure RENAME TO figure_before",
    """CREATE TABLE figure (
        vial_id INTEGER PRIMARY KEY REFERENCES vial (id) ON DELETE RESTRICT,
        outlook_id INTEGER NOT NULL REFERENCES outlook (id) ON DELETE RESTRICT,
        surplus INTEGER NOT NULL DEFAULT 0,
        advice TEXT NOT NULL DEFAULT 'keep',
        clone_good INTEGER NOT NULL DEFAULT 0
    )""",
    f"""INSERT INTO figure SELECT vial_id, MIN(vial_id) OVER (PARTITION BY {_ALIKE}), surplus, advice, clone_good
        FROM figure_before JOIN vial ON vial.id = figure_before.vial_id""",
    "DROP TABLE figure_before",
    "CREATE INDEX figure_outlook ON figure (outlook_id)",
    "CREATE INDEX outlook_batch ON outlook (batch_id)",
    "CREATE INDEX outlook_state ON outlook (state)",
    "CREATE INDEX outlook_below ON outlook (chance_below) WHERE chance_below >= 0.5",
    "CREATE INDEX outlook_crosses ON outlook (crosses)",
    "CREATE INDEX outlook_next_test ON outlook (next_test)",
)
