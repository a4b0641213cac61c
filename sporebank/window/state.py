"""What the window remembers about itself, apart from the bank: column choice, widths, geometry, defaults."""

from __future__ import annotations

import json
from enum import Enum
from pathlib import Path
from typing import TypeVar

from PySide6.QtCore import QByteArray, QSettings

T = TypeVar("T")
E = TypeVar("E", bound=Enum)


class WindowState:
    """Remembers plain values by key in an ini file; a value that cannot be read counts as not remembered."""

    def __init__(self, path: Path) -> None:
        self._settings = QSettings(str(path), QSettings.Format.IniFormat)

    def get(self, key: str, default: T) -> T:
        """Return a remembered value (anything JSON can hold, or a word of an enum) of the same type as the default."""
        try:
            value = json.loads(str(self._settings.value(key, "null")))
        except ValueError:
            return default
        if isinstance(default, Enum):
            return _member(value, default)
        return value if isinstance(value, type(default)) else default

    def put(self, key: str, value: object) -> None:
        """Remember a value that JSON can hold."""
        self._settings.setValue(key, json.dumps(value))

    def get_bytes(self, key: str) -> QByteArray:
        """Return a remembered Qt state, empty when there is none."""
        return QByteArray.fromHex(self.get(key, "").encode())

    def put_bytes(self, key: str, value: QByteArray) -> None:
        """Remember a Qt state."""
        self.put(key, bytes(value.toHex().data()).decode())


def _member(value: object, default: E) -> E:
    try:
        return type(default)(value)
    except ValueError:
        return default
