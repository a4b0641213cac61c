"""How alive spore is, drawn: low to high as a band, the middle as a tick, a number and a word."""

from __future__ import annotations

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRectF, QSize, Qt
from PySide6.QtGui import QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QStyleOptionViewItem, QWidget

from sporebank.core.advice import percent
from sporebank.core.records import Share, State
from sporebank.window.theme import tokens
from sporebank.window.widgets.names import PAD, ROW_ROLE, TextDelegate, paint_ground
from sporebank.window.words import STATE_WORDS, likely

STATE_TOKEN = {State.ALIVE: "alive", State.FADING: "fading", State.SPENT: "spent", State.UNKNOWN: "spent"}


def draw_track(painter: QPainter, rect: QRectF, share: Share, state: State) -> None:
    """Draw the band on its track from 0 to 1, with a mark at one half."""
    colours = tokens()
    middle = rect.center().y()

    def x(value: float) -> float:
        return rect.left() + value * rect.width()

    painter.setPen(QPen(colours.colour("line"), 1))
    painter.drawLine(round(rect.left()), round(middle), round(rect.right()), round(middle))
    for mark in (0.0, 0.5, 1.0):
        painter.drawLine(round(x(mark)), round(middle - 3), round(x(mark)), round(middle + 3))
    height = min(12.0, rect.height() - 4)
    band = QRectF(x(share.low), middle - height / 2, max(x(share.high) - x(share.low), 2.0), height)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(colours.colour(STATE_TOKEN[state], 0.30))
    painter.drawRoundedRect(band, 3, 3)
    painter.setBrush(colours.colour(STATE_TOKEN[state]))
    painter.drawRoundedRect(QRectF(x(share.middle) - 1.5, middle - height / 2 - 2, 3, height + 4), 1.5, 1.5)


def draw_band(painter: QPainter, rect: QRectF, share: Share | None, state: State) -> None:
    """Draw the band, then its number, then its word, as far as there is room."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    metrics = QFontMetricsF(painter.font())
    number_width = max(metrics.horizontalAdvance(percent(extreme)) for extreme in (0.001, 0.999))
    word_width = metrics.horizontalAdvance("fading") + 4
    track = QRectF(rect)
    track.setWidth(max(rect.width() - number_width - word_width - 18, 30))
    middle = Qt.AlignmentFlag.AlignVCenter
    if share is None:
        painter.setPen(tokens().colour("mute"))
        painter.drawText(rect, middle, "not modelled: test")
    else:
        draw_track(painter, track, share, state)
        number = QRectF(track.right() + 5, rect.top(), number_width, rect.height())
        painter.setPen(tokens().colour("ink"))
        painter.drawText(number, middle | Qt.AlignmentFlag.AlignRight, percent(share.middle))
        painter.setPen(tokens().colour("mute"))
        word = QRectF(number.right() + 9, rect.top(), word_width, rect.height())
        painter.drawText(word, middle, STATE_WORDS[state])
    painter.restore()


class BandDelegate(TextDelegate):
    """Draws the viability of a row (`row.share`, `row.state`)."""

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        """Draw the band of the row."""
        paint_ground(painter, option)
        row = index.data(ROW_ROLE)
        if row is not None:
            painter.setFont(option.font)
            rect = QRectF(option.rect).adjusted(PAD, 0, -4, 0)
            draw_band(painter, rect, row.share, row.state)


class Band(QWidget):
    """The band as a widget of its own."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._share: Share | None = None
        self._state = State.UNKNOWN
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def set_share(self, share: Share | None, state: State) -> None:
        """Show a share alive."""
        self._share, self._state = share, state
        self.setAccessibleName(likely(share, state))
        self.setToolTip(likely(share, state))
        self.update()

    def sizeHint(self) -> QSize:
        """Return room for a track, the number and the word."""
        return QSize(240, 24)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the band."""
        with QPainter(self) as painter:
            draw_band(painter, QRectF(self.rect()), self._share, self._state)
