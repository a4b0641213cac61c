"""How alive many vials are at once: a cell of a table, and a bar of states with its key."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QModelIndex, QObject, QPersistentModelIndex, QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QStyleOptionViewItem, QVBoxLayout, QWidget

from sporebank.core.advice import Lines, percent
from sporebank.core.overview import Held, short_share, tone
from sporebank.core.records import State
from sporebank.window.theme import tokens
from sporebank.window.widgets.band import STATE_TOKEN
from sporebank.window.widgets.flow import FlowLayout
from sporebank.window.widgets.names import PAD, ROW_ROLE, TextDelegate, paint_ground
from sporebank.window.words import STATE_WORDS

BAR, SWATCH, GAP = 4.0, 10, 2.0
_STATES = (State.ALIVE, State.FADING, State.SPENT, State.UNKNOWN)


class HeldDelegate(TextDelegate):
    """Draws how alive vials are: the share, a bar as long as it, and a word in small.

    `held(row)` gives the vials of a cell, or None; `small(held)` the word.
    """

    def __init__(
        self,
        held: Callable[[Any], Held | None],
        small: Callable[[Held], str],
        lines: Callable[[], Lines],
        parent: QObject,
    ) -> None:
        super().__init__(parent)
        self._held, self._small = held, small
        self._lines = lines

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        """Draw the cell; nothing where there are no vials."""
        paint_ground(painter, option)
        row = index.data(ROW_ROLE)
        held = None if row is None else self._held(row)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setFont(option.font)
        rect = QRectF(option.rect).adjusted(PAD, 3, -5, -5)
        if held is not None:
            draw_held(painter, rect, held.share, tone(held.share, self._lines()), self._small(held))
        painter.restore()


def how_many(held: Held) -> str:
    """Return the number of vials."""
    return f"{held.vials:,}"


def draw_held(painter: QPainter, rect: QRectF, share: float | None, state: State, small: str) -> None:
    """Draw a share, and a word in small if there is room for it, over a bar.

    What is not modelled has a question mark and no bar.
    """
    colours, metrics = tokens(), QFontMetricsF(painter.font())
    rect.setWidth(min(rect.width(), metrics.horizontalAdvance("0000000000")))
    words = QRectF(rect.left(), rect.top(), rect.width(), rect.height() - BAR)
    painter.setPen(colours.colour("ink"))
    painter.drawText(words, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, short_share(share))
    font = painter.font()
    font.setPointSizeF(font.pointSizeF() * 0.86)
    painter.setFont(font)
    painter.setPen(colours.colour("mute"))
    if (
        metrics.horizontalAdvance(f"{short_share(share)} ") + QFontMetricsF(font).horizontalAdvance(small)
        < rect.width()
    ):
        painter.drawText(words, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, small)
    if share is None:
        return
    track = QRectF(rect.left(), rect.bottom() - BAR, rect.width(), BAR)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(colours.colour("line"))
    painter.drawRoundedRect(track, BAR / 2, BAR / 2)
    track.setWidth(max(track.width() * share, BAR))
    painter.setBrush(colours.colour(STATE_TOKEN[state]))
    painter.drawRoundedRect(track, BAR / 2, BAR / 2)


def _fill(painter: QPainter, rect: QRectF, state: State) -> None:
    """Fill with the colour of a state; what is not known is hatched, so that it is not taken for spent."""
    colour = tokens().colour(STATE_TOKEN[state])
    hatched = state is State.UNKNOWN
    painter.setPen(QPen(colour, 1) if hatched else Qt.PenStyle.NoPen)
    painter.setBrush(QBrush(colour, Qt.BrushStyle.BDiagPattern if hatched else Qt.BrushStyle.SolidPattern))
    painter.drawRoundedRect(rect.adjusted(0.5, 0.5, -0.5, -0.5) if hatched else rect, 2, 2)


class _Bar(QWidget):
    """The states as stretches of one bar, each wide enough to be seen."""

    def __init__(self) -> None:
        super().__init__()
        self.counts: dict[State, int] = {}
        self.setFixedHeight(14)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the stretches from the left, the largest giving way to those that would be too thin."""
        some = [(state, count) for state in _STATES if (count := self.counts.get(state, 0))]
        room = self.width() - GAP * (len(some) - 1)
        total = sum(count for _, count in some)
        widths = [max(room * count / total, 3.0) for _, count in some]
        if widths:
            widths[widths.index(max(widths))] -= sum(widths) - room
        left = 0.0
        with QPainter(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            for (state, _), width in zip(some, widths, strict=True):
                _fill(painter, QRectF(left, 0, width, self.height()), state)
                left += width + GAP


class _Key(QWidget):
    """What one stretch of the bar is: its colour, then how many vials and the word."""

    def __init__(self, state: State) -> None:
        super().__init__()
        self._state = state
        self.text = ""
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)

    def say(self, text: str) -> None:
        """Say something else."""
        self.text = text
        self.setAccessibleName(text)
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        """Return room for the colour and the words."""
        metrics = self.fontMetrics()
        return QSize(SWATCH + 6 + metrics.horizontalAdvance(self.text) + 10, metrics.height() + 2)

    def minimumSizeHint(self) -> QSize:
        """Return the same: words are not cut."""
        return self.sizeHint()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the colour and the words."""
        with QPainter(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            _fill(painter, QRectF(0, (self.height() - SWATCH) / 2, SWATCH, SWATCH), self._state)
            painter.setPen(tokens().colour("ink"))
            words = self.rect().adjusted(SWATCH + 6, 0, 0, 0)
            painter.drawText(words, Qt.AlignmentFlag.AlignVCenter, self.text)


class StateBar(QWidget):
    """How many vials are alive, fading, spent and not known, as one bar with its numbers and words beneath."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._bar = _Bar()
        self.keys = {state: _Key(state) for state in _STATES}
        keys = QWidget()
        flow = FlowLayout(keys)
        for key in self.keys.values():
            flow.addWidget(key)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(5)
        layout.addWidget(self._bar)
        layout.addWidget(keys)

    def show_counts(self, counts: dict[State, int]) -> None:
        """Show how many vials there are in each state; a state without any is left out."""
        total = sum(counts.values())
        for state, key in self.keys.items():
            count = counts.get(state, 0)
            key.say(f"{count:,} {STATE_WORDS[state]} ({percent(count / total)})" if count else "")
            key.setVisible(bool(count))
        self._bar.counts = counts
        self._bar.update()
        self.setAccessibleName(", ".join(key.text for key in self.keys.values() if key.text))
        self.setToolTip(self.accessibleName())
