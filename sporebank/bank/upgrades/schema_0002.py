"""Schema 2, frozen once released: how often each label of a print run was printed."""

TITLE = "print runs that can be printed again"

STATEMENTS: tuple[str, ...] = ("ALTER TABLE printing ADD COLUMN copies INTEGER NOT NULL DEFAULT 1",)
