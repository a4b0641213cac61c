"""Forms for a label layout: the label itself, and one of its fields."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QCheckBox, QLineEdit, QWidget

from sporebank.core.errors import Refusal
from sporebank.core.layout import MOST_LINES, SYMBOL, TEXTS, Align, Fault, Field, Kind, Layout, Stand
from sporebank.window.widgets.choice import Choice, Count
from sporebank.window.widgets.editors import StepEdit
from sporebank.window.widgets.field import Form
from sporebank.window.widgets.flow import FlowLayout

MILLIMETRE_STEP, POINT_STEP = 0.1, 0.25
MOST_WIDTH = 72  # of a number beside a title
_MILLIMETRES = {
    "x": "Left (mm)",
    "y": "Top (mm)",
    "width": "Width (mm)",
    "height": "Height (mm)",
}
_LABEL = {
    "width": "Width of the label (mm)",
    "height": "Height of the label (mm)",
    "stem": "Blank end of a tag (mm)",
}
_POINTS = {"largest": "Largest (pt)", "smallest": "Smallest (pt)"}
_TICKS = {
    "strong": ("Bold", "Set in stronger type"),
    "italic": ("Italic", "Names are italic by themselves, where botany wants it"),
    "turn": ("Reads upwards", "Turned by 90 degrees"),
    "whole": ("Never shortened", "A long name keeps its genus in full, in smaller type"),
    "mandatory": ("Must be there", "A label that has nothing for it is told before printing"),
}


def read_number(editor: StepEdit, name: str) -> float:
    """Return the number in an editor.

    Raises:
        Refusal: there is none, or it cannot be read.
    """
    value = editor.value(name)
    if value is None:
        raise Refusal("Give a number.", field=name)
    return value


class LabelForm(Form):
    """What a label is called, and its size. Signals: `edited` when the keeper changed something."""

    edited = Signal()

    def __init__(self) -> None:
        super().__init__(columns=6)
        self.title, self.round = QLineEdit(), QCheckBox("Round")
        self.numbers = {name: StepEdit(MILLIMETRE_STEP) for name in _LABEL}
        self.add("name", "T&itle", self.title, span=2)
        for name, editor in self.numbers.items():
            self.add(name, f"{name.capitalize()} (mm)", editor).setMaximumWidth(MOST_WIDTH)
            editor.setAccessibleName(_LABEL[name])
            editor.setToolTip(_LABEL[name])
            editor.edited.connect(self.edited)
        self.add("round", " ", self.round)
        self.round.setAccessibleName("Round")
        self.round.setMinimumHeight(self.title.sizeHint().height())
        self.title.textEdited.connect(lambda _: self.edited.emit())
        self.round.clicked.connect(lambda: self.edited.emit())

    def show_layout(self, layout: Layout) -> None:
        """Show a layout."""
        self.title.setText(layout.title)
        self.title.setCursorPosition(0)
        self.round.setChecked(layout.round)
        for name, editor in self.numbers.items():
            editor.set_value(getattr(layout, name))

    def written(self, layout: Layout) -> Layout:
        """Return a layout with what is written here.

        Raises:
            Refusal: a number cannot be read.
        """
        width, height, stem = (read_number(editor, name) for name, editor in self.numbers.items())
        title, is_round = self.title.text().strip(), self.round.isChecked()
        return replace(layout, title=title, width=width, height=height, stem=stem, round=is_round)


class Ticks(QWidget):
    """Texts that are ticked, in the order of ticking. Signals: `edited` when the keeper ticked or unticked one."""

    edited = Signal()

    def __init__(self, texts: Iterable[str]) -> None:
        super().__init__()
        self._chosen: list[str] = []
        self.boxes = {text: QCheckBox(text.capitalize()) for text in texts}
        flow = FlowLayout(self, gap=6)
        for text, box in self.boxes.items():
            box.setAccessibleName(f"Shows {text}")
            box.clicked.connect(lambda ticked, text=text: self._tick(text, ticked))
            flow.addWidget(box)

    def offer(self, texts: Collection[str], chosen: Iterable[str]) -> None:
        """Offer some of the texts, with some of them ticked."""
        self._chosen = list(chosen)
        for text, box in self.boxes.items():
            box.setVisible(text in texts)
            box.setChecked(text in self._chosen)

    def _tick(self, text: str, ticked: bool) -> None:
        others = [one for one in self._chosen if one != text]
        self._chosen = [*others, text] if ticked else others
        self.edited.emit()

    def value(self) -> tuple[str, ...]:
        """Return what is ticked."""
        return tuple(self._chosen)


class EvenForm(Form):
    """Two columns of one width, whatever is said under their fields."""

    def __init__(self) -> None:
        super().__init__(columns=2)
        for column in range(2):
            self._grid.setColumnStretch(column, 1)


class FieldForm(EvenForm):
    """All numbers of one field. Signals: `edited` when the keeper changed one."""

    edited = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.shows = Ticks(dict.fromkeys(text for texts in TEXTS.values() for text in texts))
        self.shows.edited.connect(self.edited)
        self.numbers: dict[str, StepEdit] = {}
        self._add_numbers(_MILLIMETRES, MILLIMETRE_STEP)  # first, since they are in sight on a small screen as well
        self.add("show", "Shows", self.shows, "In the order in which they are ticked.", span=2)
        self._add_numbers(_POINTS, POINT_STEP)
        self.align: Choice[Align] = Choice([(one.value.capitalize(), one) for one in Align])
        self.stand: Choice[Stand] = Choice([(one.value.capitalize(), one) for one in Stand])
        self.lines = Count(1, MOST_LINES, 1)
        self.add("align", "Across", self.align)
        self.add("stand", "Up and down", self.stand)
        self.add("lines", "Most lines", self.lines)
        self.align.edited.connect(self.edited)
        self.stand.edited.connect(self.edited)
        self.lines.valueChanged.connect(lambda _: self.edited.emit())
        self.ticks = {name: QCheckBox(title) for name, (title, _) in _TICKS.items()}
        ways = QWidget()
        flow = FlowLayout(ways, gap=6)
        for name, box in self.ticks.items():
            box.setToolTip(_TICKS[name][1])
            box.clicked.connect(lambda: self.edited.emit())
            flow.addWidget(box)
        self.add("turn", "Type", ways, span=2)

    def _add_numbers(self, titles: Mapping[str, str], step: float) -> None:
        for name, title in titles.items():
            self.numbers[name] = StepEdit(step)
            self.numbers[name].edited.connect(self.edited)
            self.add(name, title, self.numbers[name])

    def show_field(self, kind: Kind, one: Field) -> None:
        """Show a field; what has no meaning for the symbol is hidden."""
        self.shows.offer(TEXTS[kind], one.show)
        for name, editor in self.numbers.items():
            editor.set_value(getattr(one, name))
        self.align.set_value(one.align)
        self.stand.set_value(one.stand)
        self.lines.blockSignals(True)
        self.lines.setValue(one.lines)
        self.lines.blockSignals(False)
        for name, box in self.ticks.items():
            box.setChecked(bool(getattr(one, name)))
        self.show_faults(one, ())

    def written(self, one: Field) -> Field:
        """Return a field with what is written here.

        Raises:
            Refusal: a number cannot be read.
        """
        values: dict[str, Any] = {name: read_number(editor, name) for name, editor in self.numbers.items()}
        values |= {name: box.isChecked() for name, box in self.ticks.items()}
        values["turn"] = 90 if values["turn"] else 0
        return replace(
            one,
            show=self.shows.value(),
            lines=self.lines.value(),
            align=self.align.value(),
            stand=self.stand.value(),
            **values,
        )

    def show_faults(self, one: Field, faults: Iterable[Fault]) -> None:
        """Show beside each number what is wrong with it; a symbol has no type."""
        found = list(faults)
        for name in ("largest", "smallest", "lines", "turn"):
            self.fields[name].setVisible(one.show != (SYMBOL,) or any(fault.number == name for fault in found))
        show_faults(self, found)


def show_faults(form: Form, faults: Iterable[Fault]) -> None:
    """Show faults beside the fields of a form, the first where a number has several."""
    wrong = {fault.number: fault.sentence for fault in reversed(list(faults))}
    for name, field in form.fields.items():
        if name in wrong:
            field.set_error(wrong[name])
        elif field.error:
            field.clear_error()
