"""What happened to a vial, in words: the same in its panel and in the report."""

from __future__ import annotations

from sporebank.core import amounts
from sporebank.core.records import Mishap, Movement, Stay


def stay_words(stay: Stay) -> str:
    """Return where a vial came to lie, and how warm and dry it is there."""
    return f"To {stay.place}{conditions(stay)}" if stay.place else "Out of the bank"


def conditions(stay: Stay) -> str:
    """Return temperature and humidity as they follow a place: `, 4 °C, 15 % RH`; nothing where neither is known."""
    warmth = "" if stay.temperature is None else f", {stay.temperature:g} °C".replace("-", "−")
    return warmth + ("" if stay.humidity is None else f", {stay.humidity:g} % RH")


def movement_words(movement: Movement) -> str:
    """Return a line of the ledger: `2 mg out, gift: R-ABC-00001-X`."""
    way = "in" if movement.micrograms > 0 else "out"
    return f"{amounts.show(abs(movement.micrograms))} {way}, {why_moved(movement)}"


def why_moved(movement: Movement) -> str:
    """Return why spore went in or out, with the note, and whether that was taken back."""
    note = f": {movement.note}" if movement.note else ""
    return f"{movement.reason.value}{note}{' (taken back)' if movement.reversed else ''}"


def mishap_words(mishap: Mishap) -> str:
    """Return what befell a vial."""
    return f"It {mishap.kind.value}{f': {mishap.note}' if mishap.note else ''}"
