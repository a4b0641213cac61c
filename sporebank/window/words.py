"""Sentences of the window about viability, the same on a row, in a panel and to a screen reader."""

from __future__ import annotations

from sporebank.core.advice import percent, span
from sporebank.core.records import Share, State

STATE_WORDS = {
    State.ALIVE: "alive",
    State.FADING: "fading",
    State.SPENT: "spent",
    State.UNKNOWN: "not known",
}


def degrees(temperature: float) -> str:
    """Return a temperature with a true minus: `−18 °C`."""
    return f"{temperature:g} °C".replace("-", "−")


def likely(share: Share | None, state: State) -> str:
    """Return how alive spore is: `61 % alive, likely 52 to 69 % (fading)`."""
    if share is None:
        return "Not modelled: go by tests"
    return f"{percent(share.middle)} alive, likely {span(share.low, share.high)} ({STATE_WORDS[state]})"
