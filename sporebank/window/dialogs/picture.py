"""The labels read in a picture, each with what it is, before anything is done about them."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from PySide6.QtCore import QModelIndex, Qt, QTimer
from PySide6.QtWidgets import (
    QDialog,
    QHBoxLayout,
    QProgressBar,
    QPushButton,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from sporebank.core import codes
from sporebank.core.counted import counted
from sporebank.core.scanning import Fault
from sporebank.jobs.pictures import Label, recognise
from sporebank.window.background import Cancelled, Report
from sporebank.window.columns import Column
from sporebank.window.context import Context
from sporebank.window.dialogs.room import resize_within
from sporebank.window.find_field import PAGE_OF_KIND
from sporebank.window.models import RowsModel
from sporebank.window.pictures import Read, Source, Use, read_texts
from sporebank.window.table import LinesTable
from sporebank.window.tell import tell_failure
from sporebank.window.widgets.simple import Empty, label

_TITLE = "Reading a picture"
NONE_FOUND = (
    "Take another: nearer, so that the symbol of a label is at least 100 pixels wide; with the labels flat and the "
    "camera straight above; in good light that does not glare on them."
)


@dataclass(eq=False)
class Row:
    """A label and, once it was acted on, what came of it and whether it was done."""

    label: Label
    came: str = ""
    done: bool = False

    def code(self) -> str:
        """Return the code in groups, or the text as read."""
        return codes.grouped(self.label.text) if len(self.label.text) == codes.LENGTH else self.label.text

    def said(self) -> str:
        """Return what came of it, as the keeper reads it."""
        return self.came if self.done or not self.came else f"Not done: {self.came}"


COLUMNS: tuple[Column[Row], ...] = (
    Column("code", "Label", lambda row: row.code(), 124),
    Column("what", "What it is", lambda row: row.label.what, 250),
    Column("came", "What came of it", lambda row: row.said(), 270),
    Column("where", "Where", lambda row: row.label.where, 210),
)
_CAME = 2
_MOST_FAILED = 3


class PictureDialog(QDialog):
    """Reads pictures, lists their labels, and does with them what scans of them would do.

    Args:
        context: the open bank.
        parent: the window.
        sources: the pictures.
        use: what is done with their labels.
    """

    def __init__(self, context: Context, parent: QWidget | None = None, *, sources: Sequence[Source], use: Use) -> None:
        super().__init__(parent)
        self.context, self.use = context, use
        self._closed = threading.Event()
        self._waiting: deque[Row] = deque()
        self.setWindowTitle("Labels in a picture")
        self._build()
        resize_within(self, 860, 560)
        context.background.progress.connect(self._progress)
        self._read(tuple(sources))

    # -- building

    def _build(self) -> None:
        self.head = label("Reading the picture…", "heading", wrap=True)
        self.about = label(self.use.sentence, "mute", wrap=True)
        self.bar = QProgressBar(textVisible=False, maximum=0)
        self.bar.setAccessibleName("How far it is")
        self.model: RowsModel[Row] = RowsModel(COLUMNS, self)
        self.table = LinesTable(self.model, self.context.state, "picture")
        self.table.setAccessibleName("Labels in the picture")
        self.table.setColumnHidden(_CAME, True)
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._look())
        self.told, self.failed = label(role="warn", wrap=True), label(role="warn", wrap=True)
        self.told.hide()
        self.failed.hide()
        self.empty = Empty("find", "", "")
        self.pages = QStackedWidget()
        self.pages.addWidget(self.table)
        self.pages.addWidget(self.empty)
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 16, 20, 12)
        for widget in (self.head, self.about, self.failed, self.bar):
            column.addWidget(widget)
        column.addWidget(self.pages, 1)
        column.addWidget(self.told)
        column.addLayout(self._foot())

    def _foot(self) -> QHBoxLayout:
        self.one, self.go, close = QPushButton("&Go to it"), QPushButton("&Do it"), QPushButton("&Close")
        self.go.setProperty("primary", True)
        self.go.setEnabled(False)
        self.one.setVisible(self.use.act is None)
        self.one.setEnabled(False)
        close.clicked.connect(self.reject)
        self.one.clicked.connect(self._go_to_chosen)
        self.go.clicked.connect(self._do if self.use.act is not None else self._show_vials)
        if self.use.act is None:
            self.table.activated.connect(self._go_to)
            self.go.setText("&Show all on Vials")
        foot = QHBoxLayout()
        foot.addStretch(1)
        for button in (close, self.one, self.go):
            foot.addWidget(button)
        return foot

    # -- reading

    def _read(self, sources: tuple[Source, ...]) -> None:
        closed = self._closed

        def read(report: Report, cancelled: Cancelled) -> Read:
            return read_texts(sources, report, lambda: cancelled() or closed.is_set())

        def then(found: Read) -> None:
            self._recognise(found, unread=len(found.failed) == len(sources))

        self.context.work(_TITLE, read, then, self._gone_wrong)

    def _progress(self, done: int, total: int, text: str) -> None:
        if self.context.background.title == _TITLE and not self.model.rows:
            self.bar.setRange(0, total)
            self.bar.setValue(done)
            self.head.setText(text)

    def _recognise(self, found: Read, *, unread: bool) -> None:
        more = len(found.failed) - _MOST_FAILED
        failed = "\n".join(found.failed[:_MOST_FAILED]) + (f"\nand {more:,} more." if more > 0 else "")
        if found.texts:
            self.failed.setText(failed)
            self.failed.setVisible(bool(failed))
            self.context.read(lambda bank: recognise(bank, found.texts), self._list, self._gone_wrong)
        elif unread:
            self._show_empty("The picture cannot be read", failed)
        else:
            self._show_empty("No label was found in the picture", f"{NONE_FOUND}\n{failed}".strip())

    def _list(self, found: tuple[Label, ...]) -> None:
        self.model.set_rows([Row(one) for one in sorted(found, key=lambda one: one.fault is None)])
        usable = self.usable()
        left = len(found) - len(usable)
        said = counted(len(found), "label")
        self._say(f"{said}, of which {left:,} cannot be used" if left else said, self.use.sentence)
        self.table.choose_rows([left if self.use.act is None and usable else 0])
        self.table.setFocus(Qt.FocusReason.OtherFocusReason)
        self.go.setEnabled(bool(usable) if self.use.act is not None else len(self._vials()) > 1)
        self.go.setDefault(self.go.isEnabled())
        self.one.setDefault(not self.go.isEnabled())
        if self.use.act is not None:
            self.go.setText(f"&Do it for {counted(len(usable), 'label')}")

    def usable(self) -> list[Row]:
        """Return the labels about which something can be done, a single place before all else."""
        allowed = {None, Fault.FOREIGN, Fault.UNKNOWN} if self.use.strangers else {None}
        rows = [row for row in self.model.rows if row.label.fault in allowed]
        places = [row for row in rows if row.label.kind == "L"]
        return [*places, *(row for row in rows if row is not places[0])] if len(places) == 1 else rows

    def _say(self, head: str, about: str) -> None:
        self.bar.hide()
        self.head.setText(head)
        self.about.setText(about)

    def _show_empty(self, title: str, text: str) -> None:
        for widget in (self.head, self.about, self.bar, self.one, self.go):
            widget.hide()
        self.empty.say(title, text)
        self.pages.setCurrentWidget(self.empty)

    def _gone_wrong(self, failure: Exception) -> None:
        tell_failure(self.context.tell, failure)

    # -- finding

    def _chosen(self) -> Row | None:
        numbers = self.table.chosen_rows()
        return self.model.rows[numbers[0]] if len(numbers) == 1 else None

    def _look(self) -> None:
        row = self._chosen()
        wrong = "" if row is None or row.done else row.said() or (row.label.what if row.label.fault else "")
        self.told.setText(wrong)
        self.told.setVisible(bool(wrong))
        self.one.setEnabled(row is not None and row.label.kind in PAGE_OF_KIND)

    def _go_to(self, index: QModelIndex) -> None:
        self._leave_for(self.model.rows[index.row()])

    def _go_to_chosen(self) -> None:
        row = self._chosen()
        if row is not None:
            self._leave_for(row)

    def _leave_for(self, row: Row) -> None:
        if row.label.kind in PAGE_OF_KIND:
            self.accept()
            self.context.go(PAGE_OF_KIND[row.label.kind], code=row.label.text)

    def _vials(self) -> list[int]:
        return [row.label.holder for row in self.model.rows if row.label.kind == "V"]

    def _show_vials(self) -> None:
        self.accept()
        self.context.go("vials", vial_ids=tuple(self._vials()))

    # -- doing

    def _do(self) -> None:
        self._waiting = deque(self.usable())
        self.go.setEnabled(False)
        self.table.setColumnHidden(_CAME, False)
        self.bar.setRange(0, len(self._waiting))
        self.bar.show()
        self._next()

    def _next(self) -> None:
        self.bar.setValue(self.bar.maximum() - len(self._waiting))
        if self._waiting and self.use.act is not None:
            row = self._waiting.popleft()
            self.use.act(row.label.text, partial(self._came, row))
        elif not self._closed.is_set():
            self._sum_up()

    def _came(self, row: Row, sentence: str, done: bool) -> None:
        row.came, row.done = sentence, done
        number = self.model.rows.index(row)
        self.model.dataChanged.emit(self.model.index(number, 0), self.model.index(number, len(COLUMNS) - 1))
        self._look()
        QTimer.singleShot(0, self, self._next)

    def _sum_up(self) -> None:
        tried = self.usable()
        refused = [self.model.rows.index(row) for row in tried if not row.done]
        done = f"{counted(len(tried) - len(refused), 'label')} done"
        self._say(f"{done}, {len(refused):,} not" if refused else done, "What came of each stands beside it.")
        self.table.choose_rows(refused[:1])

    def done(self, result: int) -> None:
        """Close, and leave off whatever is under way."""
        self._closed.set()
        self._waiting.clear()
        super().done(result)
