"""Form fields: a label, an editor, a hint, and the error beside it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QLabel, QVBoxLayout, QWidget

from sporebank.core.errors import Refusal


@contextmanager
def beside(field: str | None) -> Iterator[None]:
    """Let a refusal raised inside stand beside a field of the form."""
    try:
        yield
    except Refusal as refusal:
        raise Refusal(str(refusal), field=field) from refusal


class Field(QWidget):
    """One editor with its label above, and under it a hint or, when refused, the sentence why."""

    def __init__(self, label: str, editor: QWidget, hint: str = "", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.editor = editor
        self._hint = hint
        self._title = QLabel(label)
        self._title.setBuddy(_keyboard_in(editor))
        self._below = QLabel(wordWrap=True)
        self._below.setTextFormat(Qt.TextFormat.PlainText)
        editor.setAccessibleName(label.replace("&", ""))
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(3)
        for widget in (self._title, editor, self._below):
            layout.addWidget(widget)
        self.clear_error()

    @property
    def error(self) -> str:
        """The sentence shown, or ""."""
        return self._below.text() if self._below.property("role") == "error" else ""

    def set_title(self, title: str) -> None:
        """Say anew what the editor is for."""
        self._title.setText(title)
        self.editor.setAccessibleName(title.replace("&", ""))

    def set_hint(self, hint: str) -> None:
        """Say anew what helps to fill it in."""
        self._hint = hint
        self.clear_error()

    def set_error(self, sentence: str) -> None:
        """Show why the value is refused."""
        self._show("error", f"⚠ {sentence}", wrong=True)

    def clear_error(self) -> None:
        """Show the hint again."""
        self._show("small", self._hint, wrong=False)

    def _show(self, role: str, text: str, *, wrong: bool) -> None:
        self._below.setText(text)
        self._below.setVisible(bool(text))
        self.editor.setAccessibleDescription(text)
        _mark(self._below, "role", role)
        for target in (self.editor, *self.editor.findChildren(QWidget)):
            _mark(target, "wrong", wrong)


def _mark(widget: QWidget, name: str, value: object) -> None:
    """Give a widget a property by which it is dressed; one that has not been dressed yet will be in any case."""
    if widget.property(name) == value:
        return
    widget.setProperty(name, value)
    if widget.testAttribute(Qt.WidgetAttribute.WA_WState_Polished):
        widget.style().polish(widget)


def _keyboard_in(editor: QWidget) -> QWidget:
    """Return what takes the keyboard in an editor, since the letter of a label leads to nothing else."""
    inside = editor.focusProxy()
    return editor if inside is None else _keyboard_in(inside)


class Form(QWidget):
    """Fields by name, in one or more columns; a refusal goes beside the field that it names."""

    def __init__(self, columns: int = 1, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._columns = columns
        self._next = 0
        self.fields: dict[str, Field] = {}
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setHorizontalSpacing(16)
        self._grid.setVerticalSpacing(10)

    def add(self, name: str, label: str, editor: QWidget, hint: str = "", *, span: int = 1) -> Field:
        """Add a field in the next free cell, `span` columns wide."""
        row, column = divmod(self._next, self._columns)
        if column + span > self._columns:
            row, column = row + 1, 0
        field = Field(label, editor, hint, self)
        self._grid.addWidget(field, row, column, 1, span, Qt.AlignmentFlag.AlignTop)
        self._next = row * self._columns + column + span
        self.fields[name] = field
        return field

    def clear_errors(self) -> None:
        """Take every error away."""
        for field in self.fields.values():
            field.clear_error()

    def refuse(self, refusal: Refusal) -> bool:
        """Show a refusal beside its field and go there; return False when it names none of these."""
        field = self.fields.get(refusal.field or "")
        if field is None:
            return False
        field.set_error(str(refusal))
        field.editor.setFocus(Qt.FocusReason.OtherFocusReason)
        return True
