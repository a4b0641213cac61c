"""What was done last in a dialog, with *Undo* beside it, since the notice of the window lies behind."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QWidget

from sporebank.window.context import Context
from sporebank.window.widgets.simple import label


class Said(QWidget):
    """A sentence and a quiet button; Ctrl+Z anywhere in `under` takes the last deed back as well."""

    def __init__(self, context: Context, under: QWidget) -> None:
        super().__init__()
        self._context = context
        self.sentence = label(role="mute", wrap=True)
        self.back = QPushButton("Undo")
        self.back.setProperty("quiet", True)
        self.back.clicked.connect(self._take_back)
        QShortcut(
            QKeySequence.StandardKey.Undo, under, self._take_back,
            context=Qt.ShortcutContext.WidgetWithChildrenShortcut,
        )  # fmt: skip
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self.sentence, 1)
        row.addWidget(self.back)
        self.clear()

    def text(self) -> str:
        """Return the sentence."""
        return self.sentence.text()

    def done(self, text: str) -> None:
        """Say what was done, here and in the window."""
        self.say(text)
        self.back.show()
        self._context.done(text)

    def say(self, text: str) -> None:
        """Say something that is no deed."""
        self.sentence.setText(text)
        self.back.hide()

    def clear(self) -> None:
        """Say nothing."""
        self.say("")

    def _take_back(self) -> None:
        self.clear()
        self._context.undo()
