"""The part of the Store page about the amount: weighed, by volume, by a chamber count, or by eye."""

from __future__ import annotations

import re
from dataclasses import dataclass

from PySide6.QtCore import QTimer, Signal
from PySide6.QtWidgets import QLineEdit

from sporebank.core import amounts, counting
from sporebank.core.counted import counted
from sporebank.core.counting import Chamber
from sporebank.core.errors import Refusal
from sporebank.core.records import Basis
from sporebank.core.settings import Settings
from sporebank.formats.tables import load_chambers
from sporebank.window.context import Context
from sporebank.window.widgets.choice import Choice
from sporebank.window.widgets.editors import AmountEdit, NumberEdit
from sporebank.window.widgets.field import Form
from sporebank.window.widgets.section import Section
from sporebank.window.widgets.simple import Chips, label

PAUSE_MS = 150
_WAYS = (
    (Basis.WEIGHED, "Weighed"),
    (Basis.VOLUME, "By volume"),
    (Basis.CHAMBER, "Chamber count"),
    (Basis.EYE, "By eye"),
)
_HEAVY = "Common practice, no source: a heavy batch sows 30 to 40 pots as growers sow, which is thickly."


@dataclass(frozen=True)
class Reckoned:
    """An amount, the keeper's own words for it, and on what it is known."""

    micrograms: int
    said: str
    basis: Basis


class ChamberForm(Form):
    """A count in a chamber, with what was counted reckoned back to the whole suspension. Signals: `edited`."""

    edited = Signal()

    def __init__(self) -> None:
        super().__init__(columns=2)
        self.chamber: Choice[Chamber] = Choice([(_chamber(one), one) for one in load_chambers()])
        self.counts = QLineEdit()
        self.counts.setPlaceholderText("such as 12 9 14 11")
        self.dilution, self.volume = NumberEdit("×", "1"), NumberEdit("µL", "such as 1000")
        self.add("chamber", "Chamber", self.chamber, span=2)
        self.add("counts", "Spores in each s&quare", self.counts, "One number for each square counted.", span=2)
        self.add("dilution", "Diluted (times)", self.dilution, "5 means one part in five.")
        self.add("volume", "Sus&pension in all (µL)", self.volume)
        self.chamber.edited.connect(self.edited)
        self.counts.textEdited.connect(lambda _: self.edited.emit())
        for editor in (self.dilution, self.volume):
            editor.edited.connect(self.edited)

    def numbers(self) -> list[int]:
        """Return the counts.

        Raises:
            Refusal: something between them is no whole number.
        """
        words = [word for word in re.split(r"[\s,;+]+", self.counts.text()) if word]
        if not all(word.isdecimal() for word in words):
            raise Refusal("Write whole numbers with spaces between them, such as 12 9 14 11.", field="counts")
        return [int(word) for word in words]

    def reckon(self, spore_ng: float) -> Reckoned:
        """Return what the count comes to."""
        counts = self.numbers()
        dilution, volume = self.dilution.value("dilution") or 1.0, self.volume.value("volume")
        each = counting.per_microlitre(counts, self.chamber.value(), dilution)
        if not volume:
            raise Refusal("How much suspension is there in all? Give microlitres, such as 1000.", field="volume")
        said = f"{sum(counts)} spores in {len(counts)} squares, {self.chamber.value().name}, of {volume:g} µL"
        return Reckoned(amounts.from_spores(each * volume, spore_ng), said, Basis.CHAMBER)


class AmountPart(Section):
    """How much there is in all. Signals: `edited` when it may have changed by the keeper's hand."""

    edited = Signal()

    def __init__(self, context: Context) -> None:
        super().__init__("Amount")
        self._context, self._settings = context, Settings()
        self._way = Basis.WEIGHED
        self.ways = Chips("How it is known", [(way.value, text) for way, text in _WAYS])
        self.weighed, self.volume = AmountEdit(), NumberEdit("mm³", "such as 15")
        sizes = [(f"{name.capitalize()} (about {amounts.show(size)})", name) for name, size in amounts.BY_EYE.items()]
        self.named: Choice[str] = Choice(sizes)
        self.chamber = ChamberForm()
        weigh, fill, eye = Form(), Form(), Form()
        weigh.add("amount", "Amo&unt in all (mg)", self.weighed)
        fill.add("volume", "Vol&ume in all (mm³, which is µL)", self.volume, "Lightly tapped down, air between spores.")
        eye.add("size", "Abo&ut so much", self.named, "Sizes are our own choice; weigh where you can.")
        self._forms = {Basis.WEIGHED: weigh, Basis.VOLUME: fill, Basis.CHAMBER: self.chamber, Basis.EYE: eye}
        self.comes_to = label(wrap=True)
        self.surety = label(role="mute", wrap=True)
        self.add(self.ways, *self._forms.values(), self.comes_to, self.surety, label(_HEAVY, "small", wrap=True))
        self.forms = tuple(self._forms.values())
        self._pause = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._pause.timeout.connect(self._ask_surety)
        self._connect()
        self.show_way(context.state.get("store/basis", Basis.WEIGHED))

    def _connect(self) -> None:
        self.ways.chosen.connect(lambda key: self._choose(Basis(key)))
        for signal in (self.weighed.edited, self.volume.edited, self.named.edited, self.chamber.edited):
            signal.connect(self._read_back)

    def _choose(self, way: Basis) -> None:
        self.show_way(way)
        self._read_back()

    def show_way(self, way: Basis) -> None:
        """Show the editors of a way to know the amount."""
        self._way = way
        self.ways.set_chosen(way.value)
        for one, form in self._forms.items():
            form.setVisible(one is way)
        self._show_reading()

    @property
    def written(self) -> bool:
        """Whether the keeper wrote an amount, in any of the ways."""
        editors = (self.weighed, self.volume, self.chamber.dilution, self.chamber.volume)
        return any(line.text().strip() for line in (self.chamber.counts, *(one.line for one in editors)))

    def start_over(self) -> None:
        """Empty the part; the way it is known stays."""
        for editor in (self.weighed, self.volume, self.chamber.volume, self.chamber.dilution):
            editor.set_value(None)
        self.chamber.counts.clear()
        self._show_reading()

    def set_settings(self, settings: Settings) -> None:
        """Reckon by these settings from now on."""
        self._settings = settings
        self._show_reading()

    def value(self) -> Reckoned:
        """Return the amount.

        Raises:
            Refusal: it cannot be read, or nothing is written.
        """
        if self._way is Basis.CHAMBER:
            return self.chamber.reckon(self._settings.spore_ng)
        if self._way is Basis.EYE:
            return Reckoned(amounts.BY_EYE[self.named.value()], self.named.value(), Basis.EYE)
        if self._way is Basis.VOLUME:
            volume = self.volume.value("volume")
            if volume is None:
                raise Refusal("How much is there? Give cubic millimetres, such as 15.", field="volume")
            return Reckoned(amounts.from_microlitres(volume), f"{volume:g} mm³", Basis.VOLUME)
        weight = self.weighed.value()
        if weight is None:
            raise Refusal("How much is there? Give milligrams, such as 14.2.", field="amount")
        return Reckoned(weight, amounts.show(weight), Basis.WEIGHED)

    @property
    def blank(self) -> bool:
        """Whether it is to be weighed and nothing is written."""
        return self._way is Basis.WEIGHED and not self.weighed.line.text().strip()

    @property
    def field(self) -> str:
        """The field of the way chosen that a refusal about the amount belongs beside."""
        return next(iter(self._forms[self._way].fields))

    def remember(self) -> None:
        """Remember what is likely the same next time."""
        self._context.state.put("store/basis", self._way.value)

    # -- what it comes to

    def _read_back(self) -> None:
        self._show_reading()
        self.edited.emit()

    def _show_reading(self) -> None:
        try:
            self.comes_to.setText(_pots(self.value().micrograms, self._settings))
        except Refusal:
            self.comes_to.setText("")
        self.comes_to.setVisible(bool(self.comes_to.text()))
        self.surety.hide()
        if self._way is Basis.CHAMBER:
            self._pause.start()

    def _ask_surety(self) -> None:
        try:
            counts = self.chamber.numbers()
        except Refusal:
            return
        if counts and self._way is Basis.CHAMBER:
            self._context.read(lambda bank: counting.precision(sum(counts)), self._show_surety)

    def _show_surety(self, sentence: str) -> None:
        self.surety.setText(sentence)
        self.surety.setVisible(self._way is Basis.CHAMBER)


def _pots(micrograms: int, settings: Settings) -> str:
    pots = amounts.pots_worth(
        micrograms,
        1.0,
        spores_per_mg=amounts.spores_per_mg(settings.spore_ng),
        live_per_cm2=settings.live_per_cm2,
        pot_cm2=settings.pot_cm2,
    )
    if not pots:
        return f"= {amounts.show(micrograms)}, too little for one pot"
    return f"= {amounts.show(micrograms)}, about {counted(pots, 'pot')} in a light even coat while all of it lives"


def _chamber(chamber: Chamber) -> str:
    memory = ", check against yours" if chamber.basis == "from memory" else ""
    return f"{chamber.name} ({chamber.depth_mm:g} mm × {chamber.area_mm2:g} mm²{memory})"
