"""Build the demo bank that travels with the program.

python -m demo.ship
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from demo.story import build

SHIPPED = Path(__file__).resolve().parent.parent / "resources" / "demo.sporebank"


def ship(target: Path) -> None:
    """Build the demo bank as one compact file."""
    target.unlink(missing_ok=True)
    build(target)
    with closing(sqlite3.connect(target)) as connection:
        connection.execute("PRAGMA journal_mode = delete")
        connection.execute("VACUUM")
    target.with_name(f".{target.name}.lock").unlink(missing_ok=True)


if __name__ == "__main__":
    ship(SHIPPED)
    print(f"The demo bank lies in {SHIPPED}.")
