"""Schema 2, frozen once released: copies in a print run; what befell a vial and the last test that speaks for it.

Figures are derived; they are computed anew after this upgrade.
"""

TITLE = "print runs that can be printed again, and what tests tell of each vial"

STATEMENTS: tuple[str, ...] = (
    "ALTER TABLE printing ADD COLUMN copies INTEGER NOT NULL DEFAULT 1",
    "ALTER TABLE figure ADD COLUMN tested TEXT",
    "ALTER TABLE figure ADD COLUMN unsettled TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE figure ADD COLUMN clone_good INTEGER NOT NULL DEFAULT 0",
    "DELETE FROM meta WHERE key IN ('figures_day', 'figures_event')",
)
