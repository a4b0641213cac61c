"""The History page: who did what when."""

from __future__ import annotations

from typing import ClassVar

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QLineEdit, QStackedWidget, QWidget

from sporebank.bank import queries
from sporebank.core.dates import day_label
from sporebank.core.records import Event
from sporebank.window.columns import Column
from sporebank.window.context import Context
from sporebank.window.models import RowsModel
from sporebank.window.page import Page
from sporebank.window.table import DataTable
from sporebank.window.widgets.simple import Empty, label

SHOWN = 500
PAUSE_MS = 120


def _title(event: Event) -> str:
    return f"{event.title}  (taken back)" if event.undone else event.title


COLUMNS: tuple[Column[Event], ...] = (
    Column(
        "at", "When", lambda event: f"{day_label(event.at.date())}, {event.at:%H:%M}", 150, order=lambda event: event.id
    ),
    Column("title", "What", _title, 500),
    Column("by", "Who", lambda event: event.by or "—", 130),
)


class HistoryPage(Page):
    """The deeds, the latest first."""

    kinds: ClassVar[frozenset[str]] = frozenset(
        {
            "taxon", "contact", "clone", "batch", "place", "vial", "movement", "stay", "test", "sowing", "pot",
            "request", "line", "parcel", "packet", "setting",
        }
    )  # fmt: skip
    buttons = ("undo", "redo")

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(context, parent)
        self.search = QLineEdit()
        self.search.setPlaceholderText("Look for a deed, a name or a keeper")
        self.search.setAccessibleName("Look in the history")
        self.search.setClearButtonEnabled(True)
        self.note = label(role="mute")
        self.model: RowsModel[Event] = RowsModel(COLUMNS, self)
        self.table = DataTable(self.model, context.state, "history")
        self.table.setAccessibleName("Deeds, the latest first")
        self.table.setMinimumHeight(180)
        self.empty = Empty("history", "Nothing has happened yet", "Every deed is noted here, with its day and keeper.")
        self._body = QStackedWidget()
        self._body.addWidget(self.table)
        self._body.addWidget(self.empty)
        self._pause = QTimer(self, singleShot=True, interval=PAUSE_MS)
        for widget, stretch in ((self.search, 0), (self.note, 0), (self._body, 1)):
            self.body.addWidget(widget, stretch)
        self.search.textEdited.connect(lambda _: self._pause.start())
        self._pause.timeout.connect(self.refresh)

    def refresh(self) -> None:
        """Read the deeds that fit what is looked for."""
        text = self.search.text()
        self.context.read(lambda bank: queries.events(bank, text, limit=SHOWN), self._show)

    def first_focus(self) -> QWidget:
        """Return the table."""
        return self.table

    def _show(self, found: list[Event]) -> None:
        self.model.set_rows(found)
        self._body.setCurrentWidget(self.table if found else self.empty)
        self.note.setText(f"The last {SHOWN} deeds; look for older ones by a word." if len(found) == SHOWN else "")
        self.note.setVisible(bool(self.note.text()))
