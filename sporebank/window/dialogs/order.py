"""An order of an exchange, typed or pasted: what is wrong with it is told as one types, with a reply to copy."""

from __future__ import annotations

from datetime import date
from functools import partial

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QGuiApplication, QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QCheckBox,
    QDialogButtonBox,
    QHBoxLayout,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import asking, counted
from sporebank.core.asking import Asked, Checked
from sporebank.core.errors import Refusal
from sporebank.core.exchange import Exchange, Placed, Shape
from sporebank.core.orders import Alternatives
from sporebank.core.records import Changed, Contact
from sporebank.jobs.asking import Desk, OrderForm, change_order, desk, is_late, keep_order
from sporebank.window.context import Context
from sporebank.window.dialogs.form_dialog import FormDialog
from sporebank.window.person_fields import PersonFields, contact_words
from sporebank.window.widgets.day import DayEdit
from sporebank.window.widgets.said import Said
from sporebank.window.widgets.simple import label

PAUSE_MS = 200
KINDS = {"exchange", "offering", "request", "line", "contact", "donation"}
SHOWN_PROBLEMS = 8
_SIDE_WIDTHS = 230, 340


class CheckedView(QWidget):
    """What of an order is kept, what is wrong with it, and a reply to copy."""

    def __init__(self) -> None:
        super().__init__()
        self.setMinimumWidth(_SIDE_WIDTHS[0])
        self.setMaximumWidth(_SIDE_WIDTHS[1])
        self.kept, self.problems = label(role="strong", wrap=True), label(role="warn", wrap=True)
        self.reply = QPlainTextEdit(readOnly=True, tabChangesFocus=True)
        self.reply.setAccessibleName("Reply")
        self.reply.setMinimumHeight(self.reply.fontMetrics().lineSpacing() * 7)
        self.copy = QPushButton("Cop&y the reply")
        self.copy.setAutoDefault(False)
        self.copy.clicked.connect(lambda: QGuiApplication.clipboard().setText(self.reply.toPlainText()))
        column = QVBoxLayout(self)
        column.setContentsMargins(8, 0, 0, 0)
        for widget in (self.kept, self.problems, label("A reply to who asks", "mute"), self.reply):
            column.addWidget(widget, int(widget is self.reply))
        column.addWidget(self.copy, 0, Qt.AlignmentFlag.AlignLeft)

    def show_checked(self, checked: Checked, reply: str) -> None:
        """Show an order as it would be kept."""
        self.kept.setText(_kept(checked))
        told = [problem.sentence for problem in checked.problems]
        more = len(told) - SHOWN_PROBLEMS
        self.problems.setText("\n".join(told[:SHOWN_PROBLEMS]) + (f"\nand {more:,} more." if more > 0 else ""))
        self.problems.setVisible(bool(told))
        self.reply.setPlainText(reply)
        self.copy.setEnabled(bool(checked.wishes or told))


def _kept(checked: Checked) -> str:
    if not checked.wishes and not checked.problems:
        return "What you type is checked here."
    count = len(checked.alternatives) + sum(wish.alternate is not None for wish in checked.wishes)
    others = "" if not count else ", 1 alternative" if count == 1 else f", {count:,} alternatives"
    return f"Kept: {counted.packets(checked.packets)}{others}"


class OrderDialog(FormDialog):
    """An order with its check beside it; new ones are typed one after the other.

    Args:
        context: the open bank.
        parent: the window.
        exchange: what is ordered from.
        placed: the order that is changed; without one, orders are new.
    """

    def __init__(
        self, context: Context, parent: QWidget | None = None, *, exchange: Exchange, placed: Placed | None = None
    ) -> None:
        deed = "&Keep and next" if placed is None else "&Keep the order"
        title = f"{'New order' if placed is None else 'Order'} · {exchange.name}"
        super().__init__(context, parent, title, deed, columns=2, width=900)
        self._exchange, self._placed = exchange, placed
        self._desk: Desk | None = None
        self.person = PersonFields(self.form)
        self.first, self.alternatives = _numbers(4), _numbers(3)
        self.helper, self.late = QCheckBox("Is a &helper"), QCheckBox("Take it although it is &late")
        self.note, self.on = QLineEdit(), DayEdit(context.today())
        self.view = CheckedView()
        self.said = Said(context, self)
        self._pause = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._build()
        self._fill()
        self._connect()
        self._read()
        self._check()
        (self.person.who if placed is None else self.first).setFocus()

    def _build(self) -> None:
        add, alternatives = self.form.add, self._exchange.terms.rules.alternatives
        beside = " 188/201 is 188, or 201 instead." if alternatives is Alternatives.PER_LINE else ""
        self.person.add_name(span=2)
        self.person.add_new()
        add("first", "&First choices", self.first, f"By rank; 7x2 is two packets of number 7.{beside}", span=2)
        self._one_list = alternatives in (Alternatives.LIST, Alternatives.RANKED)
        if self._one_list:
            hint = "By rank." if alternatives is Alternatives.RANKED else "In any order."
            add("alternatives", "&Alternatives", self.alternatives, hint, span=2)
        add("note", "&Note", self.note)
        add("received_on", "&Received on", self.on)
        ticks = QVBoxLayout()
        for tick in (self.helper, self.late):
            ticks.addWidget(tick)
        both = QHBoxLayout()
        left = QVBoxLayout()
        self.column.removeWidget(self.form)
        left.addWidget(self.form)
        left.addLayout(ticks)
        left.addStretch(1)
        both.addLayout(left, 3)
        both.addWidget(self.view, 2)
        self.column.insertLayout(1, both, 1)
        self.column.addWidget(self.said)

    def _add_foot(self) -> QDialogButtonBox:
        foot = super()._add_foot()
        if self._placed is None:
            foot.button(QDialogButtonBox.StandardButton.Cancel).setText("Close")
        return foot

    def _fill(self) -> None:
        """Show the order that is changed; its person stays."""
        if self._placed is None:
            return
        order, contact = self._placed.order, self._placed.contact
        self.person.offer([contact])
        self.person.who.show_text(contact_words(contact))
        self.person.who.setReadOnly(True)
        self.form.fields["name"].set_hint("")
        self.first.setPlainText(asking.written(order.wishes))
        self.alternatives.setPlainText(" ".join(map(str, order.alternatives)))
        self.helper.setChecked(order.helper)
        self.note.setText(self._placed.note)
        self.on.set_value(self._placed.received_on)
        self.late.setChecked(is_late(self._exchange, self._placed.received_on))

    def _connect(self) -> None:
        self._pause.timeout.connect(self._check)
        for edit in (self.first, self.alternatives):
            edit.textChanged.connect(self._pause.start)
        self.person.who.edited.connect(self._pause.start)
        self.helper.clicked.connect(lambda: self._pause.start())
        self.on.edited.connect(self._look_day)
        QShortcut(QKeySequence("Ctrl+Return"), self, self._try)
        self.context.changed.connect(self._hear)
        self._look_day()

    def _look_day(self) -> None:
        """Offer to take what is late only where it is, and read what was had in another year."""
        day = self._day()
        self.late.setVisible(is_late(self._exchange, day))
        if self._desk is not None and self._desk.year != day.year:
            self._read()

    def _day(self) -> date:
        try:
            return self.on.value() or self.context.today()
        except Refusal:
            return self.context.today()

    # -- checking

    def _read(self) -> None:
        """Read what an order is checked against."""
        exchange_id, year = self._exchange.id, self._day().year
        self.context.read(lambda bank: (queries.contacts(bank), desk(bank, exchange_id, year)), self._offer)

    def _hear(self, changed: Changed) -> None:
        """Read anew what a deed touched, the last order kept or taken back above all."""
        if not KINDS.isdisjoint(changed.ids):
            self._read()

    def _offer(self, found: tuple[list[Contact], Desk]) -> None:
        people, self._desk = found
        if self._placed is None:
            self.person.offer(people)
        self._check()

    def _asked(self) -> Asked:
        others = self.alternatives.toPlainText() if self._one_list else ""
        return asking.read(self.first.toPlainText(), others)

    def _known(self) -> Contact | None:
        return self.person.known() if self._placed is None else self._placed.contact

    def _check(self) -> None:
        """Check the order as it is typed, and say at once where its person has one already."""
        if self._desk is None:
            return
        person = self._known()
        beside = None if self._placed is None else self._placed.request_id
        contact_id = 0 if person is None else person.id
        checked = self._desk.check(self._asked(), contact_id, helper=self.helper.isChecked(), beside=beside)
        name = self.person.who.text().strip() if person is None else person.name
        self.view.show_checked(checked, asking.reply(name, self._exchange, checked, self.context.today()))
        told = " ".join(problem.sentence for problem in checked.problems)
        self.first.setAccessibleDescription(told)
        field, twice = self.form.fields["name"], self._has_one(contact_id)
        if twice:
            field.set_error("This person has an order already. Close this, and change that one.")
        elif field.error:
            field.clear_error()

    def _has_one(self, contact_id: int) -> bool:
        is_round = self._exchange.shape is Shape.ROUND and self._placed is None
        return is_round and self._desk is not None and contact_id in self._desk.by_contact

    # -- keeping

    def submit(self) -> None:
        """Keep the order; after a new one the next is begun."""
        person = self._known()
        new = None if person is not None else self.person.new()
        form = OrderForm(
            exchange_id=self._exchange.id,
            contact_id=0 if person is None else person.id,
            received_on=self.on.day("received_on"),
            asked=self._asked(),
            helper=self.helper.isChecked(),
            note=self.note.text(),
            new_contact=new,
            late=self.late.isChecked() and not self.late.isHidden(),
        )
        who = new.name.strip() if new is not None else person.name if person is not None else ""
        if self._placed is not None:
            request_id = self._placed.request_id
            self.do(lambda bank: change_order(bank, request_id, form), f"The order of {who} is changed.")
        else:
            self.go.setEnabled(False)
            self.context.do(partial(_keep, form=form), lambda _: self._next(who), self._gone_wrong)

    def _next(self, who: str) -> None:
        """Say that an order is kept, and begin the next; the day it came on is often the same."""
        self.go.setEnabled(True)
        self.said.done(f"The order of {who} is kept.")
        self.person.clear()
        for edit in (self.first, self.alternatives, self.note):
            edit.clear()
        for tick in (self.helper, self.late):
            tick.setChecked(False)
        self.person.who.setFocus()


def _keep(bank: Bank, form: OrderForm) -> int:
    return keep_order(bank, form)


def _numbers(lines: int) -> QPlainTextEdit:
    edit = QPlainTextEdit(tabChangesFocus=True)
    edit.setFixedHeight(edit.fontMetrics().lineSpacing() * lines + 14)
    return edit
