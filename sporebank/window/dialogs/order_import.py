"""Orders from a file, seen before they are taken in: how many, of whom, and what is doubtful in which row."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QCheckBox,
    QDialog,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QPushButton,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from sporebank.core import counted
from sporebank.core.errors import Refusal
from sporebank.core.exchange import Exchange
from sporebank.core.matching import Table
from sporebank.formats.order_files import read_file
from sporebank.jobs.asking import is_late
from sporebank.jobs.order_import import Preview, Take, preview, take_in
from sporebank.jobs.order_rows import RowProblem
from sporebank.window.columns import Column
from sporebank.window.context import Context
from sporebank.window.dialogs.room import resize_within
from sporebank.window.models import RowsModel
from sporebank.window.table import DataTable, rows_chosen
from sporebank.window.tell import tell_failure
from sporebank.window.widgets.day import DayEdit
from sporebank.window.widgets.simple import Empty, label

COLUMNS: tuple[Column[RowProblem], ...] = (
    Column("row", "Row", lambda one: f"{one.row:,}", 52, True, order=lambda one: one.row),
    Column("column", "Column", lambda one: one.column, 60),
    Column("what", "What is wrong or doubtful", lambda one: one.sentence, 460),
    Column("meant", "Perhaps meant", lambda one: one.suggestion.meant if one.suggestion else "", 150),
)


class TakeInDialog(QDialog):
    """Reads a file, lists what is doubtful, and takes in what is new.

    Args:
        context: the open bank.
        parent: the window.
        exchange: whose orders they are.
        path: the file.
    """

    def __init__(self, context: Context, parent: QWidget | None = None, *, exchange: Exchange, path: Path) -> None:
        super().__init__(parent)
        self.context, self._exchange = context, exchange
        self._take: Take | None = None
        self._seen: Preview | None = None
        self.setWindowTitle(f"Take in orders · {path.name}")
        self._build()
        resize_within(self, 900, 580)
        context.work("Reading the file", lambda report, cancelled: read_file(path), self._read, self._gone_wrong)

    # -- building

    def _build(self) -> None:
        self.head, self.about = label("Reading the file…", "heading", wrap=True), label(role="mute", wrap=True)
        self.bar = QProgressBar(textVisible=False, maximum=0)
        self.bar.setAccessibleName("How far it is")
        self.on = DayEdit(self.context.today())
        self.on.setMaximumWidth(300)
        self.late = QCheckBox("Take what came &late as well")
        self.late.setVisible(is_late(self._exchange, self.context.today()))
        self.model: RowsModel[RowProblem] = RowsModel(COLUMNS, self)
        self.table = DataTable(self.model, self.context.state, "order-problems")
        self.table.setAccessibleName("What is wrong or doubtful")
        self.table.enable_sorting("row")
        self.told = label(role="warn", wrap=True)
        self.told.hide()
        self.empty = Empty("share", "", "")
        self.pages = QStackedWidget()
        self.pages.addWidget(self.table)
        self.pages.addWidget(self.empty)
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 16, 20, 12)
        for widget in (self.head, self.about, self.bar):
            column.addWidget(widget)
        column.addLayout(self._options())
        column.addWidget(self.pages, 1)
        column.addWidget(self.told)
        column.addLayout(self._foot())
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._look())
        self.on.line.editingFinished.connect(self._follow_day)
        self.late.clicked.connect(lambda: self._again())
        self._wait()

    def _options(self) -> QHBoxLayout:
        asked = QLabel("&Rows without a day came on")
        asked.setBuddy(self.on.line)
        self.on.setAccessibleName("Rows without a day came on")
        row = QHBoxLayout()
        for widget in (asked, self.on, self.late):
            row.addWidget(widget)
        row.addStretch(1)
        return row

    def _foot(self) -> QHBoxLayout:
        self.accept_one, self.accept_all = QPushButton("&Accept selected"), QPushButton("Accept a&ll")
        self.go, close = QPushButton("&Take in"), QPushButton("&Close")
        self.go.setProperty("primary", True)
        foot = QHBoxLayout()
        for button in (self.accept_one, self.accept_all):
            foot.addWidget(button)
        foot.addStretch(1)
        for button in (close, self.go):
            foot.addWidget(button)
        ways: tuple[tuple[QPushButton, Callable[[], object]], ...] = (
            (self.accept_one, lambda: self._accept(self._chosen())),
            (self.accept_all, lambda: self._accept(self.model.rows)),
            (self.go, self._take_in),
            (close, self.reject),
        )
        for button, do in ways:
            button.setAutoDefault(False)
            button.clicked.connect(lambda _=False, do=do: do())
        return foot

    # -- reading

    def _read(self, table: Table) -> None:
        self._take = Take(self._exchange.id, table, self.context.today())
        self._again()

    def _follow_day(self) -> None:
        """See the file anew where rows without a day came on another one."""
        try:
            day = self.on.day()
        except Refusal as refusal:
            self._say(str(refusal))
            return
        if self._take is not None and self._take.received_on != day:
            self._take = replace(self._take, received_on=day)
            self._again()

    def _again(self) -> None:
        """See anew what the file would bring, by what was accepted and chosen."""
        if self._take is None:
            return
        take = self._take = replace(self._take, late=self.late.isChecked())
        self._wait()
        self.context.read(lambda bank: preview(bank, take), self._show, self._gone_wrong)

    def _wait(self) -> None:
        self.bar.show()
        for button in (self.go, self.accept_one, self.accept_all):
            button.setEnabled(False)

    def _show(self, found: Preview) -> None:
        if found.take is not self._take:
            return  # another answer is on its way
        self._seen = found
        self.bar.hide()
        self._say("")
        count = len(found.orders)
        self.head.setText("Nothing new is in this file" if not count else f"{_orders(count)} can be taken in")
        self.about.setText(_about(found))
        self.model.set_rows(found.problems)
        self.empty.say("Nothing is doubtful", "Every row was read, and every column is known.")
        self.pages.setCurrentWidget(self.table if found.problems else self.empty)
        self.go.setText(f"&Take in {_orders(count)}" if count else "&Take in")
        self.go.setEnabled(bool(count))
        self.accept_all.setEnabled(any(one.suggestion for one in found.problems))
        self._look()
        (self.table if found.problems else self.go).setFocus(Qt.FocusReason.OtherFocusReason)

    def _chosen(self) -> list[RowProblem]:
        return rows_chosen(self.table, self.model)

    def _look(self) -> None:
        """Show the whole sentence of the one selected, and whether there is something to accept."""
        chosen = self._chosen()
        self.accept_one.setEnabled(any(one.suggestion for one in chosen))
        self._say(chosen[0].sentence if len(chosen) == 1 else "")

    def _say(self, sentence: str) -> None:
        self.told.setText(sentence)
        self.told.setVisible(bool(sentence))

    def _accept(self, problems: list[RowProblem]) -> None:
        keys = frozenset(one.suggestion.key for one in problems if one.suggestion)
        if self._take is not None and keys:
            self._take = replace(self._take, accepted=self._take.accepted | keys)
            self._again()

    # -- taking in

    def _take_in(self) -> None:
        if self._take is None:
            return
        self._wait()
        self.head.setText("Taking in the orders…")
        self.context.do(partial(take_in, take=self._take), self._taken, self._not_taken)

    def _taken(self, count: int) -> None:
        self.accept()
        self.context.done(f"{_orders(count)} taken in.")

    def _not_taken(self, failure: Exception) -> None:
        """Say why nothing was taken in; what was seen of the file and accepted stays, so that it can be tried again."""
        if self._seen is not None:
            self._show(self._seen)
        if isinstance(failure, Refusal):
            self._say(str(failure))
        else:
            tell_failure(self.context.tell, failure)

    def _gone_wrong(self, failure: Exception) -> None:
        self.bar.hide()
        if not isinstance(failure, Refusal):
            tell_failure(self.context.tell, failure)
            return
        self.head.setText("This file cannot be taken in")
        self.about.setText("")
        self.empty.say("This file cannot be taken in", str(failure))
        self.pages.setCurrentWidget(self.empty)


def _about(found: Preview) -> str:
    """Return whom the orders are of, how many are in already, and how much is doubtful."""
    parts = []
    if found.orders:
        parts.append(f"{counted.people(found.known_people)} known to the bank, {counted.people(found.new_people)} new.")
    if found.unchanged:
        stays = "is in already and stays as it is" if found.unchanged == 1 else "are in already and stay as they are"
        parts.append(f"{_orders(found.unchanged)} {stays}.")
    if found.problems:
        doubtful = len(found.problems)
        things = counted.counted(doubtful, "thing is", "things are")
        parts.append(f"{things} wrong or doubtful, listed below.")
    return " ".join(parts)


def _orders(count: int) -> str:
    return counted.counted(count, "order")
