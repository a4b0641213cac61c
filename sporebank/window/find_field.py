"""The one field at the top: it finds anything, and takes a scan at any time."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QTimer, Signal
from PySide6.QtGui import QAction, QGuiApplication, QKeyEvent, QKeySequence
from PySide6.QtWidgets import QLineEdit, QWidget

from sporebank.core import scanning
from sporebank.core.scanning import Misread
from sporebank.window.icons import icon

PAUSE_MS = 120
PAGE_OF_KIND = {
    "V": "vials", "B": "vials", "T": "test", "S": "sow", "P": "sow", "L": "places", "R": "share", "K": "share",
}  # fmt: skip


def looks_like_code(text: str) -> bool:
    """Return whether a text is meant as a code: ten characters, a kind first, a figure in the serial.

    Genus names of ten letters (POLYPODIUM) have no figures.
    """
    plain = "".join(c for c in text if c not in "- \t")
    kind_fits = plain[:1].upper() in PAGE_OF_KIND
    return len(plain) == 10 and plain.isalnum() and kind_fits and any(c.isdigit() for c in plain[4:9])


class FindField(QLineEdit):
    """Finds by text as one types, and by code on Return or at the end of a scan.

    Signals: `code_given(page_key, code)`; `text_given(text)` after a short pause or on Return;
    `refused(Misread)` when a code cannot be right.
    """

    code_given = Signal(str, str)
    text_given = Signal(str)
    refused = Signal(object)

    def __init__(self, tag: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._tag = tag
        self.setPlaceholderText("Find a vial, taxon, clone or place, or scan a label")
        self.setAccessibleName("Find anything, or scan a label")
        self.setClearButtonEnabled(True)
        self.addAction(QAction(icon("find", "mute"), "", self), QLineEdit.ActionPosition.LeadingPosition)
        self._pause = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._pause.timeout.connect(self._give_text)
        self.textChanged.connect(self._typed)
        self.returnPressed.connect(self._return)

    def set_quietly(self, text: str) -> None:
        """Show a text without finding it."""
        self.blockSignals(True)
        self.setText(text)
        self.blockSignals(False)

    def event(self, event: QEvent) -> bool:
        """Leave a picture on the clipboard to the window: it is no text that could be pasted here."""
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent):
            pasted = QGuiApplication.clipboard().mimeData()
            if event.matches(QKeySequence.StandardKey.Paste) and pasted.hasImage() and not pasted.hasText():
                event.ignore()
                return False
        return super().event(event)

    def _typed(self, text: str) -> None:
        if looks_like_code(text):
            self._pause.stop()
        else:
            self._pause.start()

    def _return(self) -> None:
        self._pause.stop()
        if not looks_like_code(self.text()):
            self._give_text()
            return
        try:
            code = scanning.read(self.text(), self._tag)
        except Misread as refusal:
            self.refused.emit(refusal)
            return
        self.set_quietly("")
        self.code_given.emit(PAGE_OF_KIND[code.kind], code.text)

    def _give_text(self) -> None:
        self.text_given.emit(self.text().strip())
