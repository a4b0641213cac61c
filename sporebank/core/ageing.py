"""How fast spore ages where it lies: sigma, the days in which it loses one probit.

log10 sigma is normal, with a median and a spread per spore class and store. One standard normal deviate z says
where in that spread a batch lies, in every store alike. A temperature that is not known has a deviate of its own, u:
where, from cold to warm, it lay.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import inf, log10

from sporebank.core.storage import ClassRow

COLDEST_MODELLED = -60.0
ROOM = 20.0
FRIDGE = 5.0
_ROOM_TOP, _FRIDGE_BOTTOM, _FREEZER = 25.0, 4.0, -20.0
_SOMEWHERE = 1.4  # half the way from fridge to room, widened so that the band takes in both; our own choice


@dataclass(frozen=True)
class Pace:
    """log10 sigma = median + spread * z + doubt * u, at most cap + cap_spread * z; u is even from -1 to 1."""

    median: float
    spread: float
    cap: float = inf
    cap_spread: float = 0.0
    doubt: float = 0.0


def dickie(celsius: float) -> float:
    """Return log10 of the ageing of seed at a temperature against 0 degrees C, at one moisture.

    Dickie, Ellis, Kraak, Ryder & Tompsett 1990, Annals of Botany 65: 197-204 (constants from memory).
    """
    return quadratic(celsius, 0.0329, 0.000478)


def quadratic(celsius: float, ch: float, cq: float) -> float:
    """Return the temperature term CH t + CQ t^2 of the seed viability equation."""
    return ch * celsius + cq * celsius**2


def modelled(celsius: float | None) -> bool:
    """Return whether ageing at a temperature is modelled: not below -60 degrees C."""
    return celsius is None or celsius >= COLDEST_MODELLED


@lru_cache(maxsize=1024)
def pace(row: ClassRow, celsius: float | None) -> Pace:
    """Return the pace of ageing at a temperature; only where `modelled` says so may it be trusted.

    Between the stores log10 sigma is linear in temperature; above 25 degrees C it shortens by `dickie`; from
    -20 to -60 it is as at -20. Below the fridge it is capped by the fridge's: the freezer gets no credit.
    A temperature that is not known is any from 2 to 23 degrees C, each as likely.
    """
    if celsius is None:
        return _somewhere(row)
    import numpy as np  # heavy, needed only here: the window asks what is modelled before it needs any number

    places = (_FREEZER, _FRIDGE_BOTTOM, FRIDGE, ROOM)
    stores = (row.freezer, row.fridge, row.fridge, row.room)
    median = float(np.interp(celsius, places, [log10(store.days) for store in stores]))
    spread = float(np.interp(celsius, places, [store.spread for store in stores]))
    if celsius > _ROOM_TOP:
        median -= dickie(celsius) - dickie(_ROOM_TOP)
    if celsius < _FRIDGE_BOTTOM:
        return Pace(median, spread, log10(row.fridge.days), row.fridge.spread)
    return Pace(median, spread)


def _somewhere(row: ClassRow) -> Pace:
    room, fridge = log10(row.room.days), log10(row.fridge.days)
    spread = max(row.room.spread, row.fridge.spread)
    return Pace((room + fridge) / 2, spread, doubt=_SOMEWHERE * (fridge - room) / 2)
