"""The part of the Store page about collecting and cleaning."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QWidget

from sporebank.core.counting import purity
from sporebank.core.dates import PartDate
from sporebank.core.errors import Refusal
from sporebank.core.records import Basis, Before, Cleaning
from sporebank.formats.tables import load_cautions
from sporebank.window.gather import Gather, whole
from sporebank.window.state import WindowState
from sporebank.window.widgets.choice import Choice, WordChoice
from sporebank.window.widgets.day import DayEdit
from sporebank.window.widgets.editors import NumberEdit, PartDateEdit, parse_number
from sporebank.window.widgets.field import Form
from sporebank.window.widgets.section import Section
from sporebank.window.widgets.simple import label

#: Apertures in micrometres, ISO 3310-1, series R 20/3 with its neighbours, as far as spore and chaff need them.
APERTURES = (38, 45, 53, 63, 75, 90, 106, 125, 150, 180, 212, 250, 300, 355, 425)
#: Percent of spore in a heap judged by eye. No source gives any: the words and the figures are our own choice.
BY_EYE = {"clean": 98, "a little chaff": 90, "much chaff": 60}
PRACTICE = (
    "Common practice, no source: cleaning takes half an hour or more; 30 to 40 fronds may give next to nothing; "
    "a little chaff does no harm, much brings mould."
)


class PurityEdit(QWidget):
    """How clean: in words, in percent, or from a count of spores and other particles. Signals: `edited`."""

    edited = Signal()
    WORDS, PERCENT, COUNT, NONE = "words", "percent", "count", "none"

    def __init__(self) -> None:
        super().__init__()
        ways = [(f"{word.capitalize()} (about {share} %)", word) for word, share in BY_EYE.items()]
        ways += [("In percent", self.PERCENT), ("By count", self.COUNT), ("Not judged", self.NONE)]
        self.way: Choice[str] = Choice(ways)
        self.percent, self.spores, self.other = NumberEdit("%", "such as 95"), NumberEdit(), NumberEdit()
        self.spores.line.setPlaceholderText("spores")
        self.other.line.setPlaceholderText("other")
        self.share = QLabel()
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self.way, 3)
        for editor in (self.percent, self.spores, self.other):
            editor.said.hide()
            editor.edited.connect(self._show_share)
            row.addWidget(editor, 2)
        row.addWidget(self.share)
        self.setFocusProxy(self.way)
        self.way.edited.connect(self.show_way)
        self.show_way()

    def setAccessibleName(self, name: str) -> None:
        """Name every editor of the row."""
        super().setAccessibleName(name)
        for editor, more in ((self.way, ""), (self.percent, ": percent"), (self.spores, ": spores counted")):
            editor.setAccessibleName(name + more)
        self.other.setAccessibleName(f"{name}: other particles counted")

    def show_way(self) -> None:
        """Show the editors of the way chosen."""
        way = self.way.value()
        self.percent.setVisible(way == self.PERCENT)
        for editor in (self.spores, self.other):
            editor.setVisible(way == self.COUNT)
        self.share.setVisible(way == self.COUNT)
        self.edited.emit()

    def _show_share(self) -> None:
        try:
            share = self.value() if self.way.value() == self.COUNT else None
        except Refusal:
            share = None
        self.share.setText("" if share is None else f"= {share} %")
        self.edited.emit()

    def set_value(self, value: int | None) -> None:
        """Show a percentage that is on record, or that it was not judged."""
        self.way.set_value(self.NONE if value is None else self.PERCENT)
        self.percent.set_value(value)
        self.show_way()

    def value(self) -> int | None:
        """Return the percentage of spore, or None where it was not judged.

        Raises:
            Refusal: it cannot be read, or nothing was counted.
        """
        way = self.way.value()
        if way == self.PERCENT:
            return whole(self.percent)
        if way == self.COUNT:
            return purity(whole(self.spores) or 0, whole(self.other) or 0)
        return BY_EYE.get(way)

    @property
    def basis(self) -> Basis:
        """On what it is known."""
        return Basis.CHAMBER if self.way.value() == self.COUNT else Basis.EYE


#: Why it is asked.
BEFORE_HINT = "What spore went through before it came counts too; where it is not known, the forecast is less sure."


def before_editor() -> Choice[Before]:
    """Return a choice of where spore lay before it came."""
    return Choice([(one.value.capitalize(), one) for one in Before])


@dataclass(frozen=True)
class Cleaned:
    """What the part says; the fields of `jobs.store.StoreForm` by name."""

    collected: PartDate
    fronds: int | None
    cleaned_on: date | None
    cleaning: Cleaning
    screen_um: int | None
    minutes: int | None
    purity: int | None
    purity_basis: Basis
    before: Before


class CleaningPart(Section):
    """When it was collected, how many fronds, and how it was worked clean."""

    def __init__(self, state: WindowState, today: date) -> None:
        super().__init__("Collected and cleaned")
        self._state, self._today = state, today
        self.collected, self.cleaned_on = PartDateEdit(), DayEdit()
        self.fronds, self.minutes = NumberEdit(), NumberEdit("min")
        self.cleaning: Choice[Cleaning] = Choice([(one.value.capitalize(), one) for one in Cleaning])
        self.aperture = WordChoice([str(aperture) for aperture in APERTURES])
        self.purity, self.before = PurityEdit(), before_editor()
        form = Form(columns=2)
        form.add("collected", "Collecte&d on", self.collected, "A year or a month will do.")
        form.add("fronds", "Fro&nds picked", self.fronds)
        form.add("cleaned_on", "C&leaned on", self.cleaned_on)
        form.add("minutes", "M&inutes it took", self.minutes)
        form.add("cleaning", "How", self.cleaning)
        self._screen_field = form.add("screen_um", "Screen (&µm)", self.aperture, "Apertures of ISO 3310-1.")
        form.add("purity", "How clean", self.purity, span=2)
        form.add("before", "Until stored it lay", self.before, BEFORE_HINT, span=2)
        dust = label(load_cautions().work("spore dust"), "warn", wrap=True)
        for number in (self.fronds, self.minutes):
            number.said.hide()
        self.add(form, label(PRACTICE, "small", wrap=True), dust)
        self.forms: tuple[Form, ...] = (form,)
        self.cleaning.edited.connect(self._show_screen)
        self.start_over()

    @property
    def written(self) -> bool:
        """Whether the keeper wrote a day or a number here."""
        return any(one.line.text().strip() for one in (self.collected, self.fronds, self.cleaned_on, self.minutes))

    def start_over(self) -> None:
        """Empty the part; how it is cleaned stays as used last."""
        for editor in (self.collected, self.fronds, self.minutes, self.cleaned_on):
            editor.set_value(None)
        self.cleaning.set_value(self._state.get("store/cleaning", Cleaning.TILTED))
        self.aperture.setCurrentText(self._state.get("store/screen", ""))
        self.purity.way.set_value(self._state.get("store/purity", "clean"))
        self.before.set_value(Before.ROOM)
        self.purity.show_way()
        self._show_screen()

    def _screened(self) -> bool:
        return self.cleaning.value() in (Cleaning.SCREENED, Cleaning.BOTH)

    def _show_screen(self) -> None:
        self._screen_field.setVisible(self._screened())

    def _opening(self) -> int | None:
        text = self.aperture.text()
        return round(parse_number(text)) if text and self._screened() else None

    def value(self, gather: Gather) -> Cleaned:
        """Return what is written."""
        missing = "When was it collected? A year alone will do, such as 2025."
        return Cleaned(
            collected=gather.demanded("collected", self.collected.value, PartDate.of(self._today), missing),
            fronds=gather.of("fronds", lambda: whole(self.fronds), None),
            cleaned_on=gather.of("cleaned_on", self.cleaned_on.value, None),
            cleaning=self.cleaning.value(),
            screen_um=gather.of("screen_um", self._opening, None),
            minutes=gather.of("minutes", lambda: whole(self.minutes), None),
            purity=gather.of("purity", self.purity.value, None),
            purity_basis=self.purity.basis,
            before=self.before.value(),
        )

    def remember(self) -> None:
        """Remember what is likely the same next time."""
        self._state.put("store/cleaning", self.cleaning.value().value)
        self._state.put("store/purity", self.purity.way.value())
        if self._screened():
            self._state.put("store/screen", self.aperture.text())
