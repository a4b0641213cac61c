"""What the keeper had half typed in a field before a machine typed into it."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtGui import QTextCursor
from PySide6.QtWidgets import QAbstractSpinBox, QComboBox, QLineEdit, QPlainTextEdit, QWidget
from shiboken6 import isValid

PutBack = Callable[[], None]


def half_typed(widget: QWidget) -> PutBack | None:
    """Return what puts a text field back as it is now, its cursor and selection too; None where it is no text field."""
    proxy = widget.focusProxy()
    if isinstance(widget, QLineEdit):
        return _of_line(widget)
    if isinstance(widget, QPlainTextEdit):
        return _of_text(widget)
    if isinstance(widget, (QAbstractSpinBox, QComboBox)):
        line = widget.lineEdit()
        return None if line is None else _of_line(line)
    return None if proxy is None else half_typed(proxy)  # as the list of words under a line


def _of_line(line: QLineEdit) -> PutBack:
    text, cursor, begin, marked = line.text(), line.cursorPosition(), line.selectionStart(), line.selectedText()

    def put_back() -> None:
        if isValid(line) and line.text() != text:
            line.selectAll()
            line.insert(text)  # as if typed, so that whoever follows the field hears of it
            line.setCursorPosition(cursor)
            if marked:
                line.setSelection(begin, len(marked))

    return put_back


def _of_text(field: QPlainTextEdit) -> PutBack:
    text, cursor, anchor = field.toPlainText(), field.textCursor().position(), field.textCursor().anchor()

    def put_back() -> None:
        if isValid(field) and field.toPlainText() != text:
            whole = field.textCursor()
            whole.select(QTextCursor.SelectionType.Document)
            whole.insertText(text)
            whole.setPosition(anchor)
            whole.setPosition(cursor, QTextCursor.MoveMode.KeepAnchor)
            field.setTextCursor(whole)

    return put_back
