"""Sentences that the window says in several places."""

from __future__ import annotations

from sporebank.core.advice import percent, span
from sporebank.core.counted import packets
from sporebank.core.packing import Opened
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


def opened_again(parcel: Opened) -> str:
    """Return that a parcel is open again, and where packets left out of it can be held back anew."""
    said = f"The parcel to {parcel.who} is open again."
    if not parcel.waiting:
        return said
    waits = "waits" if parcel.waiting == 1 else "wait"
    first = f" {parcel.closed} is closed; open it again first." if parcel.closed else ""
    return f"{said} Under Sharing out on the Exchange page, {packets(parcel.waiting)} {waits} to be held back.{first}"
