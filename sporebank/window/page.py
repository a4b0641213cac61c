"""What a page is to the window, and how it hears of changes."""

from __future__ import annotations

from importlib import import_module
from typing import ClassVar

from PySide6.QtCore import Signal
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QVBoxLayout, QWidget

from sporebank.core.records import Changed
from sporebank.window.actions import Needs
from sporebank.window.context import Context
from sporebank.window.pages import PageSpec


class Page(QWidget):
    """One page of the rail.

    A subclass names the `kinds` it shows and writes `refresh`. It is refreshed when it is first shown and, while
    in sight, after every deed that changed one of its kinds; out of sight it waits until it is shown again.
    Signals: `needs_changed` when what is selected changed.
    """

    kinds: ClassVar[frozenset[str]] = frozenset()
    primary: ClassVar[str] = ""
    """The id of the page's one primary action, shown at the top right."""
    buttons: ClassVar[tuple[str, ...]] = ()
    """Ids of further actions shown as buttons beside it."""

    needs_changed = Signal()

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("page")
        self.context = context
        self.body = QVBoxLayout(self)
        self.body.setContentsMargins(16, 4, 16, 14)
        self.body.setSpacing(8)
        self.side_panel: QWidget | None = None
        """What `side` returned, kept by the window."""
        self._stale = True
        context.changed.connect(self._hear)

    def refresh(self) -> None:
        """Read again what the page shows."""
        raise NotImplementedError

    def focus_on(self, **focus: object) -> None:
        """Turn to something, as `context.go(page, **focus)` asked."""

    def has(self, needs: Needs) -> bool:
        """Return whether what an action of this page needs is there."""
        return needs is Needs.NOTHING

    def why_not(self, needs: Needs) -> str:
        """Return why what an action needs is not there; nothing where that goes without saying."""
        return ""

    def half_written(self) -> str:
        """Return what the keeper has begun to write here and not kept, such as “A batch”, or ""."""
        return ""

    def side(self) -> QWidget | None:
        """Return the panel beside the page, if it has one; it is asked for once."""
        return None

    def first_focus(self) -> QWidget | None:
        """Return the widget that takes the keyboard when the page opens."""
        return None

    def showEvent(self, event: QShowEvent) -> None:
        """Refresh when something changed since the page was last in sight."""
        super().showEvent(event)
        if self._stale:
            self._stale = False
            self.refresh()

    def _hear(self, changed: Changed) -> None:
        if not changed.kinds & self.kinds:
            return
        if self.isVisible():
            self.refresh()
        else:
            self._stale = True


def page_class(spec: PageSpec) -> type[Page]:
    """Import and return the class of a page."""
    module, _, name = spec.where.partition(":")
    found: type[Page] = getattr(import_module(module), name)
    return found
