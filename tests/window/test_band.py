from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest
from PySide6.QtGui import QColor, QImage
from PySide6.QtWidgets import QWidget

from sporebank.core.crossing import crossing_sentence
from sporebank.core.records import Crossing, Share, State
from sporebank.window.theme import Theme, tokens
from sporebank.window.widgets.band import Band
from sporebank.window.words import likely

Show = Callable[[QWidget], QWidget]
TODAY = date(2026, 5, 4)


def _columns_of(image: QImage, colour: QColor) -> list[int]:
    return [x for x in range(image.width()) if any(image.pixelColor(x, y) == colour for y in range(image.height()))]


def test_a_band_says_what_it_draws(theme: Theme, show: Show) -> None:
    band = Band()
    band.set_share(Share(0.21, 0.44, 0.60), State.FADING)
    show(band)
    assert band.accessibleName() == "44 % alive, likely 21 to 60 % (fading)"
    assert likely(None, State.UNKNOWN) == "Not modelled: go by tests"


def test_the_tick_stands_at_the_middle(theme: Theme, show: Show) -> None:
    band = Band()
    show(band)
    band.resize(400, 24)
    found = []
    for middle in (0.25, 0.75):
        band.set_share(Share(0.1, middle, 0.9), State.ALIVE)
        tick = _columns_of(band.grab().toImage(), tokens().colour("alive"))
        assert tick, "no tick was drawn"
        found.append(sum(tick) / len(tick))
    band.set_share(Share(0.5, 0.5, 0.5), State.ALIVE)
    half = _columns_of(band.grab().toImage(), tokens().colour("alive"))
    assert found[0] < sum(half) / len(half) < found[1]
    assert sum(half) / len(half) == pytest.approx(sum(found) / 2, abs=1.5)


def test_sentences_of_crossing() -> None:
    crossing = Crossing(date(2028, 6, 3), date(2031, 2, 9), date(2034, 9, 1))
    assert crossing_sentence(crossing, 0.2, TODAY) == "Falls below 20 % about Feb 2031 (likely Jun 2028 to Sep 2034)."
    perhaps = Crossing(date(2018, 6, 3), date(2021, 2, 9), None)
    assert crossing_sentence(perhaps, 0.2, TODAY) == (
        "Has perhaps fallen below 20 % already, about Feb 2021 (likely Jun 2018 to beyond a century)."
    )
    past = Crossing(date(2018, 6, 3), date(2021, 2, 9), date(2023, 1, 1))
    assert crossing_sentence(past, 0.2, TODAY) == "Fell below 20 % about Feb 2021 (likely Jun 2018 to Jan 2023)."
    green = Crossing(date(2026, 5, 9), date(2026, 5, 12), date(2026, 5, 31))
    assert crossing_sentence(green, 0.2, TODAY) == (
        "Falls below 20 % in about 8 days: 12 May 2026 (likely 9 May 2026 to 31 May 2026)."
    )
    assert crossing_sentence(Crossing(None, None, None), 0.2, TODAY) == "Not foreseen to fall below 20 %."
    assert (
        crossing_sentence(Crossing(date(2040, 1, 1), None, None), 0.2, TODAY)
        == "Not foreseen to fall below 20 % before Jan 2040."
    )
    assert crossing_sentence(None, 0.2, TODAY) == "When it falls below the line is not modelled."
