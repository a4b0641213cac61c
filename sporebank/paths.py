"""Where the files that travel with the program lie."""

from __future__ import annotations

from functools import cache
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


@cache
def resources() -> Path:
    """Return the folder of icons, fonts, label sheets and data tables.

    It lies inside the package in an installed copy and beside it in a checkout.
    """
    inside = _PACKAGE / "resources"
    return inside if inside.is_dir() else _PACKAGE.parent / "resources"
