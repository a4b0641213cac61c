"""The panel of a vial: what it is, how alive, for how long, how much is left, where it is, what happened."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from sporebank.core import amounts, codes, forecast_words
from sporebank.core.advice import percent, span
from sporebank.core.crossing import crossing_sentence, due_sentence
from sporebank.core.dates import day_label
from sporebank.core.happenings import conditions, mishap_words, movement_words, stay_words
from sporebank.core.records import Forecast, Stay, Test
from sporebank.window.widgets.band import Band
from sporebank.window.widgets.chart import DeclineChart
from sporebank.window.widgets.names import NameLabel
from sporebank.window.widgets.simple import Empty, Happening, HistoryList, label, rule

if TYPE_CHECKING:
    from sporebank.jobs.cards import VialCard

TOLD_HERE = "What it is, how alive, how much and where is told here."


class VialPanel(QStackedWidget):
    """Shows one vial, or says how many are chosen. Signals: `chart_wanted` when its chart is to be seen large."""

    chart_wanted = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setObjectName("panel")
        self.setAccessibleName("The vial chosen")
        self._empty = Empty("vial", "Choose a vial", TOLD_HERE)
        self._about = _About()
        self._about.open_chart.clicked.connect(self.chart_wanted)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)  # the panel itself takes the keys
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setWidget(self._about)
        scroll.viewport().setAutoFillBackground(False)
        self._about.setAutoFillBackground(False)
        self._scroll = scroll
        self.addWidget(self._empty)
        self.addWidget(scroll)

    def show_none(self, chosen: int, shown: int) -> None:
        """Say that none or several of the vials shown in the table are chosen."""
        if chosen > 1:
            self._empty.say(f"{chosen:,} vials chosen", "Take, move or print labels for all of them at once.")
        else:
            self._empty.say("Choose a vial" if shown else "No vial to choose", TOLD_HERE)
        self.setAccessibleDescription(self._empty.title.text())
        self.setCurrentWidget(self._empty)

    def show_card(self, card: VialCard, today: date, line: float) -> None:
        """Show one vial."""
        self._about.show_card(card, today, line)
        self.setAccessibleDescription(self._about.spoken())
        self.setCurrentWidget(self._scroll)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Scroll with the keys, so that the keyboard alone reads to the end."""
        bar = self._scroll.verticalScrollBar()
        steps = {
            Qt.Key.Key_Down: bar.singleStep(), Qt.Key.Key_Up: -bar.singleStep(),
            Qt.Key.Key_PageDown: bar.pageStep(), Qt.Key.Key_PageUp: -bar.pageStep(),
            Qt.Key.Key_End: bar.maximum(), Qt.Key.Key_Home: -bar.maximum(),
        }  # fmt: skip
        step = steps.get(Qt.Key(event.key()))
        if step is None:
            super().keyPressEvent(event)
        else:
            bar.setValue(bar.value() + step)


class _About(QWidget):
    def __init__(self) -> None:
        super().__init__()
        self._name = NameLabel()
        self._what = label(role="mute", wrap=True)
        self._last = label(role="warn", wrap=True)
        self._figure = label(role="figure")
        self._likely = label(role="mute", wrap=True)
        self._band = Band()
        self._chart = DeclineChart()
        self.open_chart = QPushButton("Open the chart")
        self.open_chart.setProperty("quiet", True)
        self.open_chart.setSizePolicy(QSizePolicy.Policy.Maximum, QSizePolicy.Policy.Fixed)
        self._crossing = label(wrap=True)
        self._next_test = label(wrap=True)
        self._basis = label(role="mute", wrap=True)
        self._sources = label(role="small", wrap=True)
        self._cautions = label(role="warn", wrap=True)
        self._advice = label(role="strong", wrap=True)
        self._why = label(wrap=True)
        self._left = label(wrap=True)
        self._place = label(wrap=True)
        self._note = label(role="mute", wrap=True)
        self._history = HistoryList()
        self._build()

    def _build(self) -> None:
        layout = QVBoxLayout(self)
        layout.setContentsMargins(18, 18, 16, 18)
        layout.setSpacing(6)
        figure = QHBoxLayout()
        figure.setSpacing(10)
        figure.addWidget(self._figure)
        figure.addWidget(self._likely, 1, Qt.AlignmentFlag.AlignBottom)
        self._likely.setContentsMargins(0, 0, 0, 5)
        layout.addWidget(self._name)
        layout.addWidget(self._what)
        layout.addWidget(self._last)
        layout.addLayout(figure)
        layout.addWidget(self._band)
        layout.addWidget(self._chart)
        layout.addWidget(self.open_chart, 0, Qt.AlignmentFlag.AlignRight)
        for widget in (
            self._crossing, self._next_test, self._basis, self._sources, self._cautions, rule(),
            label("ADVICE", "section"), self._advice, self._why, rule(),
            label("LEFT", "section"), self._left, label("PLACE", "section"), self._place, self._note, rule(),
            label("WHAT HAPPENED", "section"), self._history,
        ):  # fmt: skip
            layout.addWidget(widget)
        layout.addStretch(1)
        for text in (self._name, self._what, self._crossing, self._basis, self._sources, self._why):
            text.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.MinimumExpanding)

    def show_card(self, card: VialCard, today: date, line: float) -> None:
        row, forecast = card.row, card.forecast
        self._name.set_name(row.name)
        unsure = "" if row.verified else " · name not verified"
        self._what.setText(f"{codes.grouped(row.code)} · clone {row.clone} · collected {row.collected.label()}{unsure}")
        _say(self._last, "The last vial of its clone." if card.last_of_clone else "")
        self._show_forecast(card, forecast, today, line)
        advice, why = card.advice
        self._advice.setText(advice.value.capitalize())
        self._why.setText(why)
        self._left.setText(_left(card))
        self._place.setText(_place(row.place, card.stays))
        _say(self._note, row.note)
        self._history.show_lines(happenings(card))

    def _show_forecast(self, card: VialCard, forecast: Forecast, today: date, line: float) -> None:
        share = forecast.share
        self._figure.setText("?" if share is None else percent(share.middle))
        self._likely.setText(
            "Not modelled here: go by tests." if share is None else f"alive today, likely {span(share.low, share.high)}"
        )
        self._band.setVisible(share is not None)
        self._band.set_share(share, card.row.state)
        self._crossing.setText(crossing_sentence(forecast.crossing, line, today))
        due = forecast.next_test
        _say(self._next_test, "" if due is None else due_sentence(due, today))
        self._basis.setText(forecast.basis)
        _say(self._sources, "\n".join(forecast_words.sources(card.contributions)))
        _say(self._cautions, "\n".join(forecast.cautions))
        self._chart.show_chart(None if card.chart.empty else card.chart)

    def spoken(self) -> str:
        """Return the panel as a screen reader says it."""
        parts = (
            self._name.accessibleName(), self._what, self._figure, self._likely, self._crossing, self._advice,
            self._why, self._left,
        )  # fmt: skip
        return ". ".join(part if isinstance(part, str) else part.text() for part in parts)


def happenings(card: VialCard) -> list[Happening]:
    """Return what happened to a vial, the latest first: stays, movements, mishaps and tests."""
    dated: list[tuple[date, str]] = [(stay.since, stay_words(stay)) for stay in card.stays]
    dated += [(movement.on, movement_words(movement)) for movement in card.movements]
    dated += [(mishap.on, mishap_words(mishap)) for mishap in card.mishaps]
    dated += [(test.counted_on, _test(test)) for test in card.tests]
    dated.sort(key=lambda pair: pair[0], reverse=True)
    return [Happening(day_label(day), what) for day, what in dated]


def _test(test: Test) -> str:
    why = f" (left out: {test.left_out})" if test.left_out else ""
    return f"Test: {test.germinated} of {test.sown} germinated{why}"


def _left(card: VialCard) -> str:
    held = f" · {amounts.show(card.held)} held for parcels" if card.held else ""
    return f"{amounts.show(card.row.left)} · {_enough(card.pots)}{held}"


def _enough(pots: int | None) -> str:
    if pots is None:
        return "for how many pots is not known"
    return {0: "not enough for a pot", 1: "enough for 1 pot"}.get(pots, f"enough for about {pots:,} pots")


def _place(place: str, stays: tuple[Stay, ...]) -> str:
    if not place:
        return "Out of the bank"
    since = f", since {day_label(stays[-1].since)}" if stays else ""
    return f"{place}{conditions(stays[-1]) if stays else ''}{since}"


def _say(target: QWidget, text: str) -> None:
    target.setText(text)  # type: ignore[attr-defined]  # a label, as `label` made it
    target.setVisible(bool(text))
