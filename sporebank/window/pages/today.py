"""The Today page: what cannot wait first, each line opening its work."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from PySide6.QtCore import QModelIndex
from PySide6.QtWidgets import QStackedWidget, QWidget

from sporebank.core import names
from sporebank.core.advice import percent
from sporebank.core.counted import counted
from sporebank.core.dates import day_label
from sporebank.core.records import Due
from sporebank.jobs.labels import waiting_count
from sporebank.jobs.today import Agenda, agenda
from sporebank.window import printing
from sporebank.window.columns import Column
from sporebank.window.context import Context
from sporebank.window.models import RowsModel
from sporebank.window.page import Page
from sporebank.window.table import LinesTable
from sporebank.window.widgets.simple import Chips, Empty, label

_KINDS = (("", "All"), ("green", "Green spore"), ("request", "Requests"), ("test", "Tests"), ("crossing", "Season"))

_DEEDS = {
    "green": "Sow or give before it is dead",
    "late": "Perhaps too late: test or sow at once",
    "request": "Fill and send",
    "test": "Test a pinch",
    "crossing": "Sow, or collect again",
}


def _what(due: Due) -> str:
    return _DEEDS[due.kind]


def _vials(due: Due) -> str:
    if not due.vials:
        return ""
    return counted(due.vials, "vial")


COLUMNS: tuple[Column[Due], ...] = (
    Column("deed", "What to do", _what, 228),
    Column("day", "By", lambda due: day_label(due.day), 98, order=lambda due: due.day),
    Column("name", "Taxon", lambda due: names.text(due.name) if due.name else "", 240, delegate="name"),
    Column("who", "Clone or person", lambda due: due.who, 156),
    Column("vials", "How many", _vials, 78, order=lambda due: due.vials),
)


class TodayPage(Page):
    """What is due, as one table."""

    kinds: ClassVar[frozenset[str]] = frozenset(
        {"vial", "batch", "clone", "taxon", "movement", "stay", "test", "request", "packet", "parcel", "setting",
         "label", "pot", "place", "contact"}
    )  # fmt: skip
    primary = "store_batch"
    buttons = ("print_waiting",)

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(context, parent)
        self._kind = ""
        self._agenda = Agenda((), (), (), (), 0)
        self.heading = label(role="heading")
        self.summary = label(role="mute", wrap=True)
        self.chips = Chips("What waits", _KINDS)
        self.model: RowsModel[Due] = RowsModel(COLUMNS, self)
        self.table = LinesTable(self.model, context.state, "today")
        self.table.setAccessibleName("What is due")
        self.table.setMinimumHeight(180)
        self.empty = Empty(
            "today", "Nothing waits", "No test is due, no request is open, and nothing crosses the line."
        )
        self._body = QStackedWidget()
        self._body.addWidget(self.table)
        self._body.addWidget(self.empty)
        for widget, stretch in ((self.heading, 0), (self.summary, 0), (self.chips, 0), (self._body, 1)):
            self.body.addWidget(widget, stretch)
        self.chips.chosen.connect(self._choose)
        self.table.activated.connect(self._open)
        self.table.doubleClicked.connect(self._open)

    def refresh(self) -> None:
        """Read what is due."""
        self.context.read(
            lambda bank: (agenda(bank), bank.settings.cull_line, waiting_count(bank)), lambda found: self._show(*found)
        )

    def first_focus(self) -> QWidget:
        """Return the table."""
        return self.table

    def print_waiting(self) -> None:
        """Show the labels that wait, to print them."""
        printing.waiting_labels(self.context)

    def _show(self, found: Agenda, line: float, labels: int) -> None:
        self._agenda = found
        self.heading.setText(day_label(self.context.today()))
        waits = _count(labels, "label waits to be printed.", "labels wait to be printed.")
        self.summary.setText(f"{summary(found, line)} {waits}".strip())
        for key, text in _KINDS[1:]:
            count = len(_lines(found, key))
            self.chips.buttons[key].setText(f"{text} {count}" if count else text)
        self._choose(self._kind)

    def _choose(self, kind: str) -> None:
        self._kind = kind
        rows = _lines(self._agenda, kind)
        self.model.set_rows(rows)
        self._body.setCurrentWidget(self.table if rows else self.empty)
        if rows:
            self.table.selectRow(0)

    def _open(self, index: QModelIndex) -> None:
        due = self.model.rows[index.row()]
        if due.request_id is not None:
            self.context.go("share", request_id=due.request_id)
        elif due.kind == "test":
            self.context.go("test", batch_id=due.batch_id)
        else:
            self.context.go("vials", batch_id=due.batch_id)


def _lines(found: Agenda, kind: str) -> Sequence[Due]:
    """Return the lines that a chip shows, the most pressing first."""
    lines = {"green": found.green, "request": found.requests, "crossing": found.crossing, "test": found.tests}
    return lines[kind] if kind else [due for some in lines.values() for due in some]


def summary(found: Agenda, line: float) -> str:
    """Return what waits in one sentence."""
    late = sum(due.kind == "late" for due in found.green)
    parts = [
        _count(late, "batch of green spore may be dead already", "batches of green spore may be dead already"),
        _count(
            len(found.green) - late,
            "batch of green spore is about to die",
            "batches of green spore are about to die",
        ),
        _count(len(found.requests), "request is not yet sent", "requests are not yet sent"),
        _count(found.to_share, "order waits to be shared out", "orders wait to be shared out"),
        _count(
            len(found.crossing),
            f"batch falls below {percent(line)} this season",
            f"batches fall below {percent(line)} this season",
        ),
        _count(len(found.tests), "test is due", "tests are due"),
        _count(found.to_cull, "vial is past viability", "vials are past viability"),
    ]
    said = [part for part in parts if part]
    return ". ".join(said) + "." if said else "Nothing waits."


def _count(count: int, one: str, many: str) -> str:
    return counted(count, one, many) if count else ""
