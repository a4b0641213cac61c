"""Sort keys that put 9 before 10."""

from __future__ import annotations

import re

_DIGITS = re.compile(r"\d+")


def natural(text: str) -> str:
    """Return a key by which `K-9` comes before `K-10`, whatever the case of letters."""
    return _DIGITS.sub(lambda match: match.group().zfill(10), text.casefold())
