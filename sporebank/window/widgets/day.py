"""A line edit for a whole day."""

from __future__ import annotations

from contextlib import suppress
from datetime import date, timedelta

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent

from sporebank.core.dates import PartDate, day_label
from sporebank.core.errors import Refusal
from sporebank.window.widgets.editors import ReadEdit


class DayEdit(ReadEdit[date]):
    """A day, read back with the month in letters; the arrow keys go a day on or back."""

    def __init__(self, day: date | None = None) -> None:
        super().__init__(_read, date.isoformat, day_label, "2026-03-14 or 14 Mar 2026")
        self.set_value(day)

    def day(self, field: str = "on") -> date:
        """Return the day.

        Raises:
            Refusal: nothing is written, or it is no whole day; `field` is the form's name for this editor.
        """
        day = self.value(field)
        if day is None:
            raise Refusal("Give the day, such as 14 Mar 2026.", field=field)
        return day

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Go a day on with the arrow up, a day back with the arrow down."""
        step = {Qt.Key.Key_Up: 1, Qt.Key.Key_Down: -1}.get(Qt.Key(event.key()))
        if step is None:
            super().keyPressEvent(event)
            return
        try:
            day = self.value()
        except Refusal:
            return
        if day is not None:
            with suppress(OverflowError):  # the calendar has no day beyond
                self.set_value(day + timedelta(days=step))
                self.edited.emit()


def _read(text: str) -> date:
    read = PartDate.parse(text)
    if read.day is None:
        raise Refusal("The whole day is needed here, such as 14 Mar 2026.")
    return read.first()
