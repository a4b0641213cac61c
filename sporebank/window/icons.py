"""Our own line drawings from resources/icons, drawn in a colour of the palette worn at that moment."""

from __future__ import annotations

from functools import cache

from PySide6.QtCore import QByteArray, QPoint, QRect, QRectF, QSize, Qt
from PySide6.QtGui import QIcon, QIconEngine, QPainter, QPixmap
from PySide6.QtSvg import QSvgRenderer

from sporebank.paths import resources
from sporebank.window.theme import tokens


@cache
def _drawing(name: str) -> str:
    return (resources() / "icons" / f"{name}.svg").read_text(encoding="utf-8")


@cache
def _renderer(name: str, colour: str) -> QSvgRenderer:
    return QSvgRenderer(QByteArray(_drawing(name).replace("currentColor", colour).encode()))


def draw(painter: QPainter, rect: QRectF, name: str, token: str = "ink") -> None:
    """Draw an icon into a square of a painter."""
    _renderer(name, getattr(tokens(), token)).render(painter, rect)


class _Engine(QIconEngine):
    """Draws at paint time, so that a change of palette needs no new icons."""

    def __init__(self, name: str, token: str) -> None:
        super().__init__()
        self._name = name
        self._token = token

    def paint(self, painter: QPainter, rect: QRect, mode: QIcon.Mode, state: QIcon.State) -> None:
        """Draw the icon, muted where it is disabled."""
        token = "mute" if mode == QIcon.Mode.Disabled else self._token
        draw(painter, QRectF(rect), self._name, token)

    def pixmap(self, size: QSize, mode: QIcon.Mode, state: QIcon.State) -> QPixmap:
        """Return the icon on a clear ground."""
        picture = QPixmap(size)
        picture.fill(Qt.GlobalColor.transparent)
        with QPainter(picture) as painter:
            self.paint(painter, QRect(QPoint(0, 0), size), mode, state)
        return picture

    def clone(self) -> QIconEngine:
        """Return an equal engine."""
        return _Engine(self._name, self._token)


def icon(name: str, token: str = "ink") -> QIcon:
    """Return an icon of resources/icons in a palette token."""
    return QIcon(_Engine(name, token))
