"""How much spore coats a pot."""

from __future__ import annotations

from math import ceil


def coat(alive: float, *, spore_ng: float, live_per_cm2: float, pot_cm2: float) -> int:
    """Return the whole micrograms that coat one pot with so many live spores per square centimetre.

    Args:
        alive: share alive, 0 to 1; below 5 % more spore does not help, so it is not raised further.
        spore_ng: mass of a spore, nanograms.
        live_per_cm2: live spores wished on a square centimetre.
        pot_cm2: surface of the pot, square centimetres.
    """
    spores = live_per_cm2 * pot_cm2 / max(alive, 0.05)
    return max(1, ceil(spores * spore_ng / 1000.0))
