"""Amounts of spore: whole micrograms in the ledger, milligrams and pots' worth for people."""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction
from math import floor, isfinite

from sporebank.core.errors import Refusal

SPORE_NG = 33.9
"""Mean mass of a spore in nanograms, 23 species: Gómez-Noguez et al. 2016, Flora 223: 99-105."""

APPARENT_DENSITY = 0.8
"""Grams in a cubic centimetre of spore itself; published masses and sizes imply 0.75 to 0.9. The choice is ours."""

PACKING = 0.6
"""The share of a heap that is spore and not air, below the 0.64 of spheres at random. The choice is ours."""

BY_EYE = {
    "a trace": 200,
    "a pinch": 2_000,
    "a knife tip": 10_000,
    "half a thimble": 250_000,
}
"""Sizes by eye, in micrograms. No source gives any: the names and the amounts are ours."""

MOST = 1_000_000_000
"""Micrograms in a kilogram: more than one vial, packet or pot will ever hold is a typing slip."""

_UNITS = {"": 1000, "mg": 1000, "µg": 1, "μg": 1, "ug": 1, "mcg": 1, "g": 1_000_000}
_AMOUNT = re.compile(r"(\d{1,15}(?:[.,]\d{0,15})?|[.,]\d{1,15})([a-zµμ]*)")
_THOUSANDS = re.compile(r"[1-9]\d{0,2},\d{3}")


def parse_milligrams(text: str) -> int:
    """Read an amount and return micrograms; milligrams unless a unit (µg, mg, g) is written behind it.

    Raises:
        Refusal: it is no amount, finer than a microgram or over a kilogram, or its comma could be read in two ways.
    """
    found = _AMOUNT.fullmatch("".join(text.split()).lower())
    if found is None or found[2] not in _UNITS:
        raise Refusal(f"“{text.strip()}” is not an amount. Write milligrams, such as 14.2 or 0,5.", field="amount")
    if _THOUSANDS.fullmatch(found[1]):
        plain = found[1].replace(",", "")
        raise Refusal(f"“{found[1]}” can be read in two ways. Write {plain}, or use a point.", field="amount")
    micrograms = Fraction(found[1].replace(",", ".")) * _UNITS[found[2]]
    if micrograms.denominator != 1:
        raise Refusal("The ledger holds whole micrograms (0.001 mg). Round the amount.", field="amount")
    return _possible(int(micrograms), "amount")


def show(micrograms: int) -> str:
    """Return an amount for people in milligrams, to three figures, never more than there is: `14.2 mg`."""
    size = abs(micrograms)
    decimals = max(0, min(3, 6 - len(str(size))))
    units = size // 10 ** (3 - decimals)
    whole, rest = divmod(units, 10**decimals)
    fraction = f".{rest:0{decimals}d}".rstrip("0").rstrip(".") if decimals else ""
    return f"{'−' if micrograms < 0 and units else ''}{whole}{fraction} mg"


def exact(micrograms: int) -> str:
    """Return an amount in milligrams to the last microgram, as a ledger needs it to add up: `20.235 mg`."""
    sign = "−" if micrograms < 0 else ""
    whole, rest = divmod(abs(micrograms), 1000)
    fraction = f".{rest:03}".rstrip("0") if rest else ""
    return f"{sign}{whole}{fraction} mg"


def from_microlitres(volume: float, apparent_density: float = APPARENT_DENSITY, packing: float = PACKING) -> int:
    """Return the micrograms in a heap of spore, its volume in microlitres (cubic millimetres)."""
    return _whole(volume * apparent_density * packing * 1000, "volume")


def from_spores(spores: float, spore_ng: float = SPORE_NG) -> int:
    """Return the micrograms that so many spores weigh."""
    return _whole(spores * spore_ng / 1000, "count")


def spores_per_mg(spore_ng: float = SPORE_NG) -> float:
    """Return how many spores of a mass in nanograms weigh a milligram."""
    return 1_000_000 / spore_ng


def spores_to_sow(alive: float, *, live_per_cm2: float, pot_cm2: float) -> float:
    """Return how many spores, dead and alive, put so many live ones on a pot; `alive` is above 0, up to 1."""
    return live_per_cm2 * pot_cm2 / alive


def pots_worth(micrograms: int, alive: float, *, spores_per_mg: float, live_per_cm2: float, pot_cm2: float) -> int:
    """Return how many whole pots an amount will sow at the share alive, from 0 to 1."""
    if micrograms <= 0 or alive <= 0:
        return 0
    needed = spores_to_sow(alive, live_per_cm2=live_per_cm2, pot_cm2=pot_cm2)
    return floor(micrograms / 1000 * spores_per_mg / needed)


def split(micrograms: int, parts: int | Sequence[float]) -> tuple[int, ...]:
    """Divide an amount into n equal parts, or by weights, to the microgram; the parts add up to the whole.

    What cannot be divided goes to the parts that lack most, the first of them first.

    Raises:
        Refusal: there is nothing to divide, nobody to divide by, or a weight below zero.
    """
    weights = [Fraction(1)] * parts if isinstance(parts, int) else _weights(parts)
    total = sum(weights)
    if micrograms < 0 or total <= 0:
        raise Refusal("Divide an amount above zero into at least one part.", field="amount")
    exact = [micrograms * weight / total for weight in weights]
    shares = [floor(share) for share in exact]
    lacking = sorted(range(len(exact)), key=lambda part: shares[part] - exact[part])
    for part in lacking[: micrograms - sum(shares)]:
        shares[part] += 1
    return tuple(shares)


def _weights(parts: Sequence[float]) -> list[Fraction]:
    if not all(isfinite(weight) and weight >= 0 for weight in parts):
        raise Refusal("A part cannot be below zero.", field="amount")
    return [Fraction(weight) for weight in parts]


def _whole(micrograms: float, field: str) -> int:
    if not (isfinite(micrograms) and micrograms >= 0):
        raise Refusal("An amount cannot be below zero.", field=field)
    return _possible(round(micrograms), field)


def _possible(micrograms: int, field: str) -> int:
    if micrograms > MOST:
        raise Refusal("That is over a kilogram of spore. Check the amount and its unit.", field=field)
    return micrograms
