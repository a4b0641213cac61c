"""Sheets and rolls of labels by their dimensions: those of the program, and the keeper's own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QCheckBox, QFrame, QHBoxLayout, QLineEdit, QScrollArea, QVBoxLayout, QWidget

from sporebank.core.errors import Refusal
from sporebank.core.layout import Fault, Kind, Layout, suits
from sporebank.core.sheets import Sheet, roll
from sporebank.jobs.label_stock import Stock, keep_sheet, remove_sheet
from sporebank.window.columns import Column
from sporebank.window.context import Context
from sporebank.window.label_field_form import MILLIMETRE_STEP, EvenForm, read_number, show_faults
from sporebank.window.label_stock_tab import Stocked, StockEditor, StockTab, whose
from sporebank.window.widgets.choice import Choice, Count
from sporebank.window.widgets.editors import StepEdit
from sporebank.window.widgets.sheet_picture import SheetPicture
from sporebank.window.widgets.simple import label

PICTURE_WIDTH, PICTURE_HEIGHT = 210, 250
MOST_CELLS = 200  # across or down
FRESH = Sheet("", "Sheet", 210.0, 297.0, 3, 8, 60.0, 30.0, 10.0, 12.5, 65.0, 34.0)
"""A sheet to begin with: A4, without a maker."""

_LABEL = {"label_width": "Label &width (mm)", "label_height": "Label &height (mm)"}
_PAPER = {
    "paper_width": "&Paper width (mm)",
    "paper_height": "Paper heigh&t (mm)",
    "columns": "Labels across",
    "rows": "Labels down",
    "left": "&Left margin (mm)",
    "top": "&Upper margin (mm)",
    "pitch_x": "Pitch across (mm)",
    "pitch_y": "Pitch down (mm)",
}
_HINTS = {"pitch_x": "From one label to the next, gap and all.", "pitch_y": "From one label to the next, gap and all."}

SHEETS = Stocked[Sheet](
    kind="sheet",
    name="Sheets and rolls",
    columns=(
        Column("title", "Sheet or roll", lambda one: one.title, 228),
        Column("own", "Whose", whose, 58),
    ),
    of=lambda found: found.sheets,
    keep=keep_sheet,
    remove=remove_sheet,
    fresh=FRESH,
)


class SheetsTab(StockTab[Sheet]):
    """Every sheet and roll."""

    def __init__(self, context: Context) -> None:
        super().__init__(context, SHEETS, SheetEditor())


class SheetEditor(StockEditor[Sheet]):
    """The dimensions of a sheet or roll, with a picture of it; what contradicts itself is said beside its number."""

    def __init__(self) -> None:
        super().__init__()
        self._one: Sheet = FRESH
        self._sheet: Sheet | None = None
        self._wrong: tuple[Fault, ...] = ()
        self._layouts: Sequence[Layout] = ()
        self.title, self.round = QLineEdit(), QCheckBox("Round labels")
        self.paper: Choice[bool] = Choice([("Sheet", False), ("Roll", True)])
        self.numbers = {
            name: StepEdit(MILLIMETRE_STEP) for name in (*_LABEL, *_PAPER) if name not in ("columns", "rows")
        }
        self.counts = {name: Count(1, MOST_CELLS, 1) for name in ("columns", "rows")}
        self.picture = SheetPicture(PICTURE_HEIGHT)
        self.picture.setFixedWidth(PICTURE_WIDTH)
        self.picture.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.takes = label(role="mute", wrap=True)
        self.form = EvenForm()
        self._build()
        self._connect()

    def _build(self) -> None:
        self.form.add("name", "T&itle", self.title, span=2)
        self.form.add("roll", "&Made as", self.paper, "A roll has one label after the other.")
        self.form.add("round", " ", self.round)
        self.round.setAccessibleName("Round labels")
        self.round.setMinimumHeight(self.title.sizeHint().height())
        for name, title in (_LABEL | _PAPER).items():
            self.form.add(name, title, self.counts.get(name) or self.numbers[name], _HINTS.get(name, ""))
        inside = QWidget()
        inside.setObjectName("page")
        form = QVBoxLayout(inside)
        form.setContentsMargins(0, 0, 8, 0)
        form.addWidget(self.form)
        form.addStretch(1)
        scroll = QScrollArea(widgetResizable=True)
        scroll.setObjectName("scroll")
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setWidget(inside)
        side = QVBoxLayout()
        side.addWidget(self.picture)
        side.addWidget(self.takes)
        side.addStretch(1)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(18)
        row.addWidget(scroll, 1)
        row.addLayout(side)
        self.setFocusProxy(self.title)

    def _connect(self) -> None:
        self.title.textEdited.connect(lambda _: self._edit())
        self.round.clicked.connect(lambda: self._edit())
        self.paper.edited.connect(self._turn)
        for number in self.numbers.values():
            number.edited.connect(self._edit)
        for count in self.counts.values():
            count.valueChanged.connect(lambda _: self._edit())

    # -- what the tab asks

    def know(self, found: Stock) -> None:
        """Hear which layouts there are."""
        self._layouts = found.layouts
        self._show_sheet()

    def show_one(self, one: Sheet, own: bool) -> None:
        """Show a sheet; only the keeper's own may be changed."""
        self._one = one
        self.title.setText(one.title)
        self.title.setCursorPosition(0)
        self.round.setChecked(one.round)
        self.paper.set_value(one.roll)
        for name, editor in self.numbers.items():
            editor.set_value(getattr(one, name))
        for name, count in self.counts.items():
            count.blockSignals(True)
            count.setValue(getattr(one, name))
            count.blockSignals(False)
        self.form.setEnabled(own)
        self._edit()

    def written(self) -> Sheet | None:
        """Return the sheet as it is written, or None where a number is wrong."""
        return self._sheet

    def why_not(self) -> str:
        """Return why it cannot be kept, or ""."""
        return "".join(fault.sentence for fault in self._wrong)

    def refuse(self, refusal: Refusal) -> bool:
        """Show a refusal beside its field."""
        return self.form.refuse(refusal)

    # -- what the keeper does

    def _turn(self) -> None:
        """Give a sheet that was a roll a paper to begin with."""
        if not self.paper.value() and self._one.roll:
            for name in _PAPER:
                editor = self.numbers.get(name)
                if editor is not None:
                    editor.set_value(getattr(FRESH, name))
        self._edit()

    def _edit(self) -> None:
        for name in _PAPER:
            self.form.fields[name].setVisible(not self.paper.value())
        try:
            self._sheet = replace(self._read(), id=self._one.id)
            self._wrong = ()
        except Refusal as refusal:
            self._sheet, self._wrong = None, (Fault(str(refusal), refusal.field or ""),)
        show_faults(self.form, self._wrong)
        self._show_sheet()
        self.edited.emit()

    def _show_sheet(self) -> None:
        """Show the sheet and what it takes; while a number is wrong, the last that was right stays."""
        if self._sheet is not None:
            self.picture.show_sheet(self._sheet, 0)
            self.picture.show_count(self._sheet.cells)
            self.picture.setEnabled(False)  # here it is looked at, and no label is chosen
            self.takes.setText(takes(self._layouts, self._sheet))

    def _read(self) -> Sheet:
        """Return the sheet as it is written, without an id, so that a refusal speaks of its number alone."""
        title, is_round = self.title.text().strip(), self.round.isChecked()
        width, height = (read_number(self.numbers[name], name) for name in _LABEL)
        if self.paper.value():
            return roll("", title, width, height, round=is_round)
        lengths = {name: read_number(self.numbers[name], name) for name in _PAPER if name in self.numbers}
        counts = {name: count.value() for name, count in self.counts.items()}
        return Sheet("", title, label_width=width, label_height=height, round=is_round, **lengths, **counts)  # type: ignore[arg-type]  # each by its name


def takes(layouts: Sequence[Layout], sheet: Sheet) -> str:
    """Return in words which kinds of labels a sheet takes."""
    kinds = [kind.value for kind in Kind if suits(layouts, kind, sheet)]
    if kinds:
        return f"Takes these labels: {', '.join(kinds)}."
    return "No layout fills these labels. Copy one under Layouts, and give it their size."
