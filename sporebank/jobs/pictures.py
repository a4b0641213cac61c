"""What the labels in a picture are, before anything is done about them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import names, scanning
from sporebank.core.codes import KINDS, Code
from sporebank.core.records import VialRow
from sporebank.core.scanning import Fault, Misread
from sporebank.jobs.scanning import carrier

MOST_SHOWN = 60
"""Characters of a symbol that is no label of ours: some hold whole pages."""


@dataclass(frozen=True)
class Label:
    """A label that was read: what carries its code and where that is, or what is wrong with it.

    `holder` is the id of what carries the code, 0 where nothing does.
    """

    text: str
    kind: str = ""
    holder: int = 0
    what: str = ""
    where: str = ""
    fault: Fault | None = None


def recognise(bank: Bank, texts: Sequence[str]) -> tuple[Label, ...]:
    """Return what the labels with these texts are, each code once, in the order in which they were read."""
    read: dict[str, Code | Misread] = {}
    for whole in texts:
        text = whole[:MOST_SHOWN]
        try:
            code = scanning.read(text, bank.tag)
            read.setdefault(code.text, code)
        except Misread as misread:
            read.setdefault(text, misread)
    carriers = {text: carrier(bank, code) for text, code in read.items() if isinstance(code, Code)}
    held = [carried[0] for text, carried in carriers.items() if carried is not None and text.startswith("V")]
    vials = {row.id: row for row in queries.vials_by_id(bank, held)}
    return tuple(
        _wrong(text, one) if isinstance(one, Misread) else _label(one, carriers[text], vials)
        for text, one in read.items()
    )


def _wrong(text: str, misread: Misread) -> Label:
    return Label(text, what=str(misread), fault=misread.fault)


def _label(code: Code, carried: tuple[int, str] | None, vials: Mapping[int, VialRow]) -> Label:
    if carried is None:
        return _wrong(code.text, scanning.unknown(code))
    held, path = carried
    if code.kind == "V":
        row = vials[held]
        where = "culled" if row.culled_on else row.place or "in no place"
        return Label(code.text, code.kind, held, f"{names.text(row.name)}, {row.clone}", where)
    return Label(code.text, code.kind, held, KINDS[code.kind].capitalize(), path)
