"""The keeper's own codes of clones: which comes next."""

from __future__ import annotations

import re
from collections.abc import Sequence

_NUMBERED = re.compile(r"(.*?)(\d+)(\D*)")
FIRST = "C-01"


def next_code(codes: Sequence[str]) -> str:
    """Return the next free code in the pattern met most often: after C-09 and C-13 comes C-14.

    Leading noughts are kept; of patterns met equally often, the one met last counts. Without any numbered code
    the first is C-01.
    """
    series: dict[tuple[str, str], list[str]] = {}
    for code in codes:
        if found := _NUMBERED.fullmatch(code.strip()):
            series.setdefault((found[1], found[3]), []).append(found[2])
    if not series:
        return _free(FIRST[:2], 1, 2, "", codes)
    (before, after), numbers = max(reversed(series.items()), key=lambda item: len(item[1]))
    highest = max(numbers, key=int)
    return _free(before, int(highest) + 1, len(highest), after, codes)


def _free(before: str, number: int, width: int, after: str, codes: Sequence[str]) -> str:
    taken = {code.strip().casefold() for code in codes}
    while (code := f"{before}{number:0{width}d}{after}").casefold() in taken:
        number += 1
    return code
