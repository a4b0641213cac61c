"""What the program brings and what the keeper made of it, as a list with an editor: for layouts and for sheets."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Generic, TypeVar

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import QHBoxLayout, QHeaderView, QPushButton, QVBoxLayout, QWidget

from sporebank.bank.bank import Bank
from sporebank.core.errors import Refusal
from sporebank.core.layout import Layout
from sporebank.core.records import Changed
from sporebank.core.sheets import Sheet
from sporebank.jobs.label_stock import Stock, free_name, row_of, stock
from sporebank.window.columns import Column
from sporebank.window.context import Context
from sporebank.window.label_tab import LabelTab
from sporebank.window.models import RowsModel
from sporebank.window.table import DataTable
from sporebank.window.tell import tell_failure
from sporebank.window.widgets.simple import label

S = TypeVar("S", Layout, Sheet)
UNDER_IT = Qt.ShortcutContext.WidgetWithChildrenShortcut
KEEP, DROP = "Keep it", "Drop the changes"


@dataclass(frozen=True)
class Stocked(Generic[S]):
    """How one kind of stock is shown, kept and removed; `kind` is the word of the bank's own records for it."""

    kind: str
    name: str
    columns: Sequence[Column[S]]
    of: Callable[[Stock], Sequence[S]]
    keep: Callable[[Bank, S], str]
    remove: Callable[[Bank, S], None]
    fresh: S | None = None


class StockEditor(QWidget, Generic[S]):
    """The editor of one thing. Signals: `edited` when the keeper changed anything, readable or not."""

    edited = Signal()

    def show_one(self, one: S, own: bool) -> None:
        """Show a thing; only the keeper's own may be changed."""
        raise NotImplementedError

    def know(self, found: Stock) -> None:
        """Hear what else there is."""

    def written(self) -> S | None:
        """Return the thing as it is written, or None where that cannot be kept."""
        raise NotImplementedError

    def why_not(self) -> str:
        """Return why what is written cannot be kept, or ""."""
        raise NotImplementedError

    def refuse(self, refusal: Refusal) -> bool:
        """Show a refusal beside its field; return False when it names none."""
        raise NotImplementedError


class StockTab(LabelTab, Generic[S]):
    """A list, and the editor of what is in hand; a copy is kept once its numbers are right."""

    def __init__(self, context: Context, what: Stocked[S], editor: StockEditor[S]) -> None:
        super().__init__(context)
        self.editor: StockEditor[S] = editor
        self._what: Stocked[S] = what
        self._one: S | None = None
        self._kept_ones: list[S] = []
        self._origin, self._said = "", ""
        self.model: RowsModel[S] = RowsModel(what.columns, self)
        self.table = DataTable(self.model, context.state, f"label-{what.kind}s")
        self.table.setAccessibleName(what.name)
        self.table.setSelectionMode(DataTable.SelectionMode.SingleSelection)
        self.table.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.table.horizontalHeader().setStretchLastSection(False)
        self.table.horizontalHeader().setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        self.about = label(role="mute", wrap=True)
        self.copy, self.new, self.remove = QPushButton("&Copy"), QPushButton("&New"), QPushButton("&Remove")
        self.keep = QPushButton("&Keep")
        self.keep.setProperty("primary", True)
        self.back = QPushButton("Undo")
        self.back.setProperty("quiet", True)
        self.new.setVisible(what.fresh is not None)
        self._build()
        self._going = QTimer(self, singleShot=True, interval=0)  # the table ends its own key or click first
        self._going.timeout.connect(self._go)
        self.table.selectionModel().currentRowChanged.connect(lambda *_: self._going.start())
        self.copy.clicked.connect(lambda: self.leave(lambda: self._draft(self._one)))
        self.new.clicked.connect(lambda: self.leave(lambda: self._draft(what.fresh)))
        self.remove.clicked.connect(self._remove)
        self.keep.clicked.connect(lambda: self._keep(_nothing))
        editor.edited.connect(self._enable)
        self.back.clicked.connect(self._take_back)
        QShortcut(QKeySequence.StandardKey.Undo, self, self._take_back, context=UNDER_IT)

    def _build(self) -> None:
        left, right, deeds, foot = QVBoxLayout(), QVBoxLayout(), QHBoxLayout(), QHBoxLayout()
        left.addWidget(self.table, 1)
        for button in (self.copy, self.new, self.remove):
            deeds.addWidget(button)
        deeds.addStretch(1)
        left.addLayout(deeds)
        right.addWidget(self.editor, 1)
        foot.addWidget(self.about, 1)
        foot.addWidget(self.back)
        foot.addWidget(self.keep)
        right.addLayout(foot)
        row = QHBoxLayout(self)
        row.setContentsMargins(20, 12, 20, 4)
        row.setSpacing(18)
        row.addLayout(left, 11)
        row.addLayout(right, 20)

    # -- what there is

    def touched(self, changed: Changed) -> bool:
        """Return whether a deed touches what is kept here."""
        return self._what.kind in changed.kinds

    def _read(self) -> None:
        self.context.read(stock, self._show)

    def _show(self, found: Stock) -> None:
        """Show what there is, what is in hand chosen; where it has gone, what stands there now."""
        self._kept_ones = list(self._what.of(found))
        self.editor.know(found)
        fresh = next((row for row in self._kept_ones if row.id == self._id()), None)
        if fresh is None and self._id() != "":
            before = max(0, self.table.currentIndex().row())
            self._open(self._kept_ones[min(before, len(self._kept_ones) - 1)])
        elif fresh is not None and not self.changed():
            self._open(fresh)
        else:
            self._list()

    def _list(self) -> None:
        """List what is kept, a copy not yet kept below what it was made from, and choose what is in hand."""
        rows = list(self._kept_ones)
        if self._one is not None and not self._one.id:
            rows.insert(next((place for place, row in enumerate(rows, 1) if row.id == self._origin), 0), self._one)
        if rows != self.model.rows:
            self.model.set_rows(rows)
        place = next((place for place, row in enumerate(rows) if row.id == self._id()), -1)
        self.table.go_to(place)

    def _go(self) -> None:
        """Open the row that was gone to, unless the keeper stays with what is not kept."""
        at = self.table.currentIndex()
        row = self.model.row_at(at.row()) if at.isValid() else None
        if row is not None and row.id != self._id():
            self._said = ""
            self.leave(lambda: self._open(row))
            self._list()

    def _open(self, one: S) -> None:
        self._one = one
        self.editor.show_one(one, self._own())
        self._list()
        self._enable()

    def _id(self) -> str | None:
        """Return what is in hand: "" is a copy not yet kept, None nothing at all."""
        return None if self._one is None else self._one.id

    def _own(self) -> bool:
        return self._id() == "" or row_of(self._id() or "") > 0

    # -- what is changed

    def changed(self) -> bool:
        """Return whether something is written that is not kept."""
        return self._own() and (not self._id() or self.editor.written() != self._one)

    def _enable(self) -> None:
        self.keep.setEnabled(self.changed() and self.editor.written() is not None)
        self.remove.setEnabled(self._own() and bool(self._id()))
        self.copy.setEnabled(bool(self._id()))
        self.back.setVisible(bool(self._said) and not self.changed())
        self.about.setText(self._about())

    def _about(self) -> str:
        if self.changed():
            return f"Not yet kept. {self.editor.why_not()}".strip()
        return self._said or ("" if self._own() else "This one travels with the program. Copy it, and change the copy.")

    def leave(self, then: Callable[[], object]) -> None:
        """Go on, once the keeper has said what becomes of changes that are not kept."""
        if not self.changed():
            then()
            return
        choices = [KEEP, DROP] if self.keep.isEnabled() else [DROP]
        details = f"It cannot be kept as it is: {why_not}" if (why_not := self.editor.why_not()) else ""
        title = "" if self._one is None else self._one.title
        answer = self.context.tell.ask(f"“{title}” is changed and not yet kept.", choices, details=details)
        if answer == KEEP:
            self._keep(then)
        elif answer == DROP:
            self._drop()
            then()

    def _drop(self) -> None:
        """Show what is kept of what is in hand, or the first there is."""
        self._open(self._one if self._one is not None and self._one.id else self._kept_ones[0])

    def _draft(self, one: S | None) -> None:
        """Begin a copy under a free name; it is the keeper's own once it is kept."""
        if one is not None:
            self._origin, self._said = one.id, ""
            self._open(replace(one, id="", title=free_name(one.title, {row.title for row in self.model.rows})))
            self.editor.setFocus(Qt.FocusReason.OtherFocusReason)

    def _keep(self, then: Callable[[], object]) -> None:
        wish = self.editor.written()
        if wish is None:
            return
        self.keep.setEnabled(False)
        keep = self._what.keep
        self.context.do(
            lambda bank: keep(bank, wish), lambda new: self._kept(replace(wish, id=new), then), self._failed
        )

    def _kept(self, one: S, then: Callable[[], object]) -> None:
        self._say(f"{one.title} is kept.")
        self._open(one)
        then()

    def _remove(self) -> None:
        one, remove = self._one, self._what.remove
        if one is not None:
            self.context.do(
                lambda bank: remove(bank, one), lambda _: self._say(f"{one.title} is removed."), self._failed
            )

    def _say(self, text: str) -> None:
        """Say what was done here as well, since the window is behind the dialog."""
        self._said = text
        self.context.done(text)
        self._enable()

    def _take_back(self) -> None:
        self._said = ""
        self.leave(self.context.undo)

    def _failed(self, failure: Exception) -> None:
        self._enable()
        if not (isinstance(failure, Refusal) and self.editor.refuse(failure)):
            tell_failure(self.context.tell, failure)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Keep with Return from any line."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.keep.isEnabled():
            self._keep(_nothing)
        else:
            super().keyPressEvent(event)


def whose(one: Layout | Sheet) -> str:
    """Return in a word whose it is, and nothing for what travels with the program."""
    return "yours" if row_of(one.id) else "" if one.id else "new"


def _nothing() -> None:
    """Go nowhere."""
