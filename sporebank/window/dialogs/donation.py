"""Taking a donation in: who gave, and a line for each packet, its name looked up as one types."""

from __future__ import annotations

from PySide6.QtCore import QTimer
from PySide6.QtGui import QFontMetricsF
from PySide6.QtWidgets import QCheckBox, QPlainTextEdit, QWidget

from sporebank.bank import queries
from sporebank.core.counted import counted
from sporebank.core.donations import COLUMNS as IN_A_LINE
from sporebank.core.donations import ReadLine, read_lines
from sporebank.core.errors import Refusal
from sporebank.jobs import donations
from sporebank.jobs.donations import DonationForm, Known, LookedUp
from sporebank.window.columns import Column
from sporebank.window.context import Context
from sporebank.window.dialogs.form_dialog import FormDialog
from sporebank.window.lane import Ticket
from sporebank.window.models import RowsModel
from sporebank.window.person_fields import PersonFields
from sporebank.window.table import DataTable
from sporebank.window.widgets.day import DayEdit
from sporebank.window.widgets.simple import label

PAUSE_MS = 250
"""Typing rests so long before names are looked up."""

_TRUE_TO_FORM = "Dryopteris affinis; 3; Aug 2026; wild, a gully; NO; resealed"


class Line:
    """A line as it was read and looked up."""

    def __init__(self, read: ReadLine, looked: LookedUp | None) -> None:
        self.read, self.looked = read, looked

    @property
    def problem(self) -> str:
        """Why it cannot be taken in, or nothing."""
        return self.read.problem or ("" if self.looked is None else self.looked.problem)

    @property
    def to_look_at(self) -> bool:
        """Whether the keeper should look at it: it is new, an old name, odd, or wrong."""
        if self.looked is None or self.problem:
            return True
        return self.looked.known in (Known.NEW, Known.OLD)


def _read_as(line: Line) -> str:
    return "" if line.looked is None or line.looked.name is None else line.looked.name.text


def _says(line: Line) -> str:
    if line.problem:
        return f"⚠ {line.problem}"
    looked = line.looked
    if looked is None or looked.name is None or looked.known is None:
        return ""
    near = (f"Do you mean {looked.near}?",) if looked.near else ()
    remarks = looked.name.remarks if line.to_look_at else ()
    return " ".join((f"{looked.known.value.capitalize()}.", *near, *remarks))


LINES: tuple[Column[Line], ...] = (
    Column("number", "Line", lambda line: str(line.read.number), 44, right=True, sortable=False),
    Column("name", "Read as", _read_as, 200, sortable=False),
    Column("says", "What is known of it", _says, 420, sortable=False),
)


class DonationDialog(FormDialog):
    """Who gave, when, and what.

    Args:
        context: the open bank.
        parent: the window.
        exchange_id: what it is given to.
    """

    def __init__(self, context: Context, parent: QWidget | None = None, *, exchange_id: int) -> None:
        super().__init__(context, parent, "Take in a donation", "Take it in", columns=3, width=840)
        self._exchange_id = exchange_id
        self._read: tuple[ReadLine, ...] = ()
        self._lines: list[Line] = []
        self._asked: Ticket | None = None
        self.who = PersonFields(self.form)
        self.on = DayEdit(context.today())
        self.gifts = QPlainTextEdit()
        self.gifts.setTabChangesFocus(True)
        self.gifts.setPlaceholderText(_TRUE_TO_FORM)
        self.gifts.setFixedHeight(round(QFontMetricsF(self.gifts.font()).lineSpacing() * 7 + 16))
        self.only_new = QCheckBox("Only what is &new, old or odd")
        self.all_of_it = QCheckBox("&All of it may be given on; nothing is kept back in reserve")
        self.all_of_it.setChecked(True)
        self.model: RowsModel[Line] = RowsModel(LINES, self)
        self.table = DataTable(self.model, context.state, "donation-lines")
        self.table.setAccessibleName("Lines as they are read")
        self.table.setMinimumHeight(150)
        self.count = label(role="mute", wrap=True)
        self._pause = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._build()
        self._connect()
        context.read(queries.contacts, self.who.offer)
        self.who.who.setFocus()

    def _build(self) -> None:
        add = self.form.add
        self.who.add_name("&Who gave it", span=2)
        add("received_on", "&Received on", self.on)
        self.who.add_new()
        needs = "Name and year of collecting must be there."
        add("gifts", f"&Packets, a line each: {IN_A_LINE}", self.gifts, needs, span=3)
        for place, widget in enumerate((self.all_of_it, self.only_new, self.table, self.count), start=2):
            self.column.insertWidget(place, widget)

    def _connect(self) -> None:
        self.gifts.textChanged.connect(self._pause.start)
        self._pause.timeout.connect(self._look_up)
        self.only_new.toggled.connect(lambda _: self._show())

    def _look_up(self) -> None:
        """Look up every line that could be read; what is typed meanwhile is looked up after it."""
        if self._asked is not None:
            self._asked.cancel()
        self._read = read_lines(self.gifts.toPlainText())
        gifts = [one.gift for one in self._read if one.gift is not None]
        exchange_id = self._exchange_id
        self._asked = self.context.read(lambda bank: donations.look(bank, exchange_id, gifts), self._looked)

    def _looked(self, found: list[LookedUp]) -> None:
        each = iter(found)
        self._lines = [Line(one, next(each) if one.gift is not None else None) for one in self._read]
        self._show()

    def _show(self) -> None:
        self.model.set_rows([one for one in self._lines if one.to_look_at or not self.only_new.isChecked()])
        new = sum(one.to_look_at for one in self._lines)
        wrong = sum(bool(one.problem) for one in self._lines)
        said = f"{counted(len(self._lines), 'line')}, {new:,} to look at" if self._lines else ""
        self.count.setText(f"{said}, {wrong:,} of them wrong." if wrong else f"{said}." if said else "")

    def submit(self) -> None:
        """Take the donation in; what cannot be read is said first."""
        lines = read_lines(self.gifts.toPlainText())
        for line in lines:
            if line.problem:
                raise Refusal(f"Line {line.number}: {line.problem}", field="gifts")
        person = self.who.known()
        if person is None and not self.who.who.text().strip():
            raise Refusal("Say who gave it.", field="name")
        new = self.who.new() if person is None else None
        form = DonationForm(
            exchange_id=self._exchange_id,
            contact_id=0 if person is None else person.id,
            received_on=self.on.day("received_on"),
            gifts=tuple(one.gift for one in lines if one.gift is not None),
            new_contact=new,
            all_of_it=self.all_of_it.isChecked(),
        )
        count = len(form.gifts)
        name = (person or self.who.new()).name.strip()
        said = f"{'1 packet' if count == 1 else f'{count:,} packets'} of {name} taken in; the labels wait."
        self.do(lambda bank: donations.take_in(bank, form), said)
