"""How spore keeps: the numbers behind every forecast, to be changed one by one and put as they were at first."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from sporebank.core import storage
from sporebank.core.errors import Refusal
from sporebank.core.storage import Number, numbers
from sporebank.formats.tables import load_storage
from sporebank.jobs import keeping
from sporebank.window.columns import Column
from sporebank.window.context import Context
from sporebank.window.dialogs.room import resize_within
from sporebank.window.models import RowsModel
from sporebank.window.table import DataTable
from sporebank.window.tell import tell_failure
from sporebank.window.widgets.editors import NumberEdit
from sporebank.window.widgets.field import Form
from sporebank.window.widgets.simple import label

if TYPE_CHECKING:
    from sporebank.bank.bank import Bank

ABOUT = (
    "Every forecast starts from these and is then moved by your tests. The days are those in which 84 living spores of "
    "100 become 50, and in as many more 50 become 16: one probit. The spread says how far one batch may differ from "
    "another."
)


@dataclass(frozen=True)
class Shown:
    """How a number is read and written: its name in the form, in words, its hint or that of its spread.

    `out` and `back` go to and from what the editor holds.
    """

    name: str
    words: Callable[[float], str]
    hint: str
    out: Callable[[float], float] = float
    back: Callable[[float], float] = float


_SHOWN = {
    storage.INITIAL: Shown(
        "Alive when fresh (%)",
        lambda value: f"{NormalDist().cdf(value) * 100:.3g} % alive",
        "In probits, as a standard deviation: from 95 %, 0.5 reaches down to 87 and up to 98 %.",
        lambda value: round(NormalDist().cdf(value) * 100, 2),
        lambda percent: _probit(percent),
    ),
    storage.REPLICATES: Shown(
        "Likeness (0 to 0.5)",
        lambda value: f"{value:g}",
        "0: the spores of a dish differ by chance alone. 0.01: a dish of 100 tells half as much.",
    ),
    storage.KIN: Shown(
        "Between taxa (%)",
        lambda value: f"{value * 100:g} %",
        "0 %: batches of a taxon tell nothing of each other. The more, the more one batch tells of the next.",
        lambda value: round(value * 100, 6),
        lambda part: part / 100,
    ),
}
_DAYS = Shown(
    "Days to lose a probit",
    lambda value: f"{value:,.4g} days",
    "0.3: twice as long or half as long is quite possible; 0.5: three times. The standard deviation of log10 days.",
)


def _shown(what: str) -> Shown:
    return _SHOWN.get(what, _DAYS)


def _probit(percent: float) -> float:
    if not 0 < percent < 100:
        raise Refusal("Give a share between 0 and 100 %.", field="value")
    return NormalDist().inv_cdf(percent / 100)


@dataclass(frozen=True)
class Row:
    """A number as it is now, and as it travels with the program."""

    number: Number
    at_first: Number

    @property
    def own(self) -> bool:
        """Whether the keeper has changed it."""
        return (self.number.value, self.number.spread) != (self.at_first.value, self.at_first.spread)


def _basis(row: Row) -> str:
    return "yours" if row.own else "our choice" if row.number.ours else "literature"


COLUMNS: tuple[Column[Row], ...] = (
    Column("what", "What", lambda row: keeping.title(row.number.what), 156),
    Column("value", "Number", lambda row: _shown(row.number.what).words(row.number.value), 88, right=True),
    Column(
        "spread", "Spread", lambda row: "" if row.number.spread is None else f"{row.number.spread:g}", 58, right=True
    ),
    Column("basis", "Basis", _basis, 76),
)


class KeepingDialog(QDialog):
    """A list of the numbers, the evidence of the one chosen, and a form for it."""

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.context = context
        self._chosen = storage.INITIAL
        self.setWindowTitle("How spore keeps")
        resize_within(self, 920, 600)
        self.model: RowsModel[Row] = RowsModel(COLUMNS, self)
        self.table = DataTable(self.model, context.state, "keeping")
        self.table.setAccessibleName("Numbers")
        self.table.setSelectionMode(DataTable.SelectionMode.SingleSelection)
        self.title, self.evidence = label("", "title", wrap=True), label("", "mute", wrap=True)
        self.value, self.spread = NumberEdit(), NumberEdit()
        for number in (self.value, self.spread):
            number.said.hide()
        self.form = Form()
        self._value_field = self.form.add("value", "&Number", self.value)
        self._spread_field = self.form.add("spread", "&Spread", self.spread)
        self.keep = QPushButton("&Keep")
        self.keep.setProperty("primary", True)
        self.reset = QPushButton("&Reset this")
        self.reset_all = QPushButton("Reset &all")
        self._build()
        self.keep.setDefault(True)
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._show_chosen())
        self.keep.clicked.connect(self._keep)
        self.reset.clicked.connect(lambda: self._put_back(self._row().number.what))
        self.reset_all.clicked.connect(self._put_back)
        self._read()
        self.table.setFocus()

    def _build(self) -> None:
        foot = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        foot.rejected.connect(self.reject)
        foot.addButton(self.reset_all, QDialogButtonBox.ButtonRole.ResetRole)
        right = QVBoxLayout()
        right.setSpacing(8)
        for widget in (self.title, self.evidence, self.form):
            right.addWidget(widget)
        deeds = QHBoxLayout()
        deeds.addWidget(self.reset)
        deeds.addStretch(1)
        deeds.addWidget(self.keep)
        right.addLayout(deeds)
        right.addStretch(1)
        both = QHBoxLayout()
        both.setSpacing(18)
        both.addWidget(self.table, 12)
        both.addLayout(right, 9)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(20, 16, 20, 12)
        layout.setSpacing(12)
        layout.addWidget(label(ABOUT, "mute", wrap=True))
        layout.addLayout(both, 1)
        layout.addWidget(foot)

    def _read(self) -> None:
        def read(bank: Bank) -> list[Row]:
            pairs = zip(numbers(keeping.table(bank)), numbers(load_storage()), strict=True)
            return [Row(number, at_first) for number, at_first in pairs]

        self.context.read(read, self._show)

    def _show(self, rows: list[Row]) -> None:
        self.model.set_rows(rows)
        self.reset_all.setEnabled(any(row.own for row in rows))
        place = next(place for place, row in enumerate(rows) if row.number.what == self._chosen)
        self.table.choose_rows([place])
        self.table.setCurrentIndex(self.model.index(place, 0))
        self._show_chosen()

    def _row(self) -> Row:
        return next(row for row in self.model.rows if row.number.what == self._chosen)

    def _show_chosen(self) -> None:
        for place in self.table.chosen_rows():
            self._chosen = self.model.rows[place].number.what
        row, shown = self._row(), _shown(self._chosen)
        self.form.clear_errors()
        self.title.setText(keeping.title(self._chosen))
        self._value_field.set_title(shown.name)
        self.value.set_value(shown.out(row.number.value))
        alone = row.number.spread is None
        self._spread_field.setVisible(not alone)
        (self._value_field if alone else self._spread_field).set_hint(shown.hint)
        (self._spread_field if alone else self._value_field).set_hint("")
        self.spread.set_value(row.number.spread)
        first = f"At first: {shown.words(row.at_first.value)}. " if row.own else ""
        self.evidence.setText(f"{first}{row.number.evidence[0].upper()}{row.number.evidence[1:]}.")
        self.reset.setEnabled(row.own)

    def _keep(self) -> None:
        self.form.clear_errors()
        try:
            number = self._written()
            storage.refuse_odd(number)
        except Refusal as refusal:
            self.form.refuse(refusal)
            return
        self._do(lambda bank: keeping.change(bank, number), f"{keeping.title(number.what)} is kept; forecasts follow.")

    def _written(self) -> Number:
        value, row = self.value.value("value"), self._row()
        if value is None:
            raise Refusal("Give a number, or reset it.", field="value")
        spread = None if row.number.spread is None else self.spread.value("spread")
        if row.number.spread is not None and spread is None:
            raise Refusal("Give a spread, such as 0.5.", field="spread")
        return replace(row.number, value=_shown(self._chosen).back(value), spread=spread)

    def _put_back(self, *whats: object) -> None:
        named = [what for what in whats if isinstance(what, str)]  # a click of a button tells whether it is down
        self._do(lambda bank: keeping.reset(bank, *named), "As it was at first; forecasts follow.")

    def _do(self, job: Callable[[Bank], None], said: str) -> None:
        self.setCursor(Qt.CursorShape.BusyCursor)
        self.context.do(job, lambda _: self._done(said), self._failed)

    def _done(self, said: str) -> None:
        self.unsetCursor()
        self.context.done(said)
        self._read()

    def _failed(self, failure: Exception) -> None:
        self.unsetCursor()
        if not (isinstance(failure, Refusal) and self.form.refuse(failure)):
            tell_failure(self.context.tell, failure)
