"""The rail: the wordmark, the bank's name, and the pages with a count where something waits."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QEvent, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QEnterEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QAbstractButton, QButtonGroup, QLabel, QSizePolicy, QVBoxLayout, QWidget

from sporebank.window import icons
from sporebank.window.pages import PageSpec
from sporebank.window.theme import tokens

WIDE, NARROW, ICON = 140, 58, 20


class RailButton(QAbstractButton):
    """One page of the rail."""

    def __init__(self, spec: PageSpec, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._spec = spec
        self._count = 0
        self._under = False
        self.narrow = False
        self.setCheckable(True)
        self.setText(spec.title)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setSizePolicy(QSizePolicy.Policy.Minimum, QSizePolicy.Policy.Preferred)
        self.set_count(0)

    def set_count(self, count: int) -> None:
        """Show how many things wait."""
        self._count = count
        waits = f", {count} waiting" if count else ""
        self.setAccessibleName(f"{self._spec.title}{waits}")
        self.setToolTip(f"{self._spec.title}{waits}")
        self.update()

    def sizeHint(self) -> QSize:
        """Return the height of a line of the rail."""
        return QSize(NARROW, self.fontMetrics().height() + 22)

    def minimumSizeHint(self) -> QSize:
        """Return the height that is enough where the window is low."""
        return QSize(NARROW, max(self.fontMetrics().height(), ICON) + 6)

    def enterEvent(self, event: QEnterEvent) -> None:
        """Light up under the pointer."""
        self._under = True
        self.update()

    def leaveEvent(self, event: QEvent) -> None:
        """Go dark again."""
        self._under = False
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw ground, mark, icon, name and count."""
        colours = tokens()
        with QPainter(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            if self.isChecked() or self._under:
                painter.fillRect(self.rect(), colours.colour("rail_select", 1.0 if self.isChecked() else 0.5))
            if self.isChecked():
                painter.fillRect(0, 0, 3, self.height(), colours.colour("rail_mark"))
            if self.hasFocus():
                painter.setPen(colours.colour("rail_mark"))
                painter.drawRect(QRectF(self.rect()).adjusted(4.5, 2.5, -2.5, -2.5))
            token = "rail_text" if self.isChecked() or self._under else "rail_mute"
            middle = self.height() / 2
            left = 12 if self.narrow else 17  # where narrow, the count has the upper right to itself
            icons.draw(painter, QRectF(left, middle - ICON / 2, ICON, ICON), self._spec.icon, token)
            if not self.narrow:
                painter.setPen(colours.colour(token))
                text = QRectF(46, 0, self.width() - 46, self.height())
                painter.drawText(text, Qt.AlignmentFlag.AlignVCenter, self._spec.title)
            if self._count:
                self._draw_count(painter)

    def _draw_count(self, painter: QPainter) -> None:
        colours = tokens()
        font = self.font()
        font.setPointSizeF(font.pointSizeF() * 0.86)
        painter.setFont(font)
        text = str(self._count) if self._count < 1000 else "999+"
        height = painter.fontMetrics().height() + 2.0
        width = max(painter.fontMetrics().horizontalAdvance(text) + 10.0, height)
        top = 3.0 if self.narrow else (self.height() - height) / 2
        pill = QRectF(self.width() - width - (3 if self.narrow else 10), top, width, height)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(colours.colour("rail_mark"))
        painter.drawRoundedRect(pill, height / 2, height / 2)
        painter.setPen(colours.colour("rail"))
        painter.drawText(pill, Qt.AlignmentFlag.AlignCenter, text)


class Rail(QWidget):
    """The page list. Signals: `chosen(page_key)` when the keeper chose a page."""

    chosen = Signal(str)

    def __init__(self, pages: Sequence[PageSpec], bank_name: str, path: str) -> None:
        super().__init__()
        self.setObjectName("rail")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.setAccessibleName("Pages")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 18, 0, 12)
        layout.setSpacing(0)
        self._head = self._heading(bank_name, path)
        layout.addWidget(self._head)
        layout.addSpacing(10)
        self._buttons: dict[str, RailButton] = {}
        group = QButtonGroup(self)
        for spec in pages:
            button = RailButton(spec)
            button.clicked.connect(lambda _=False, key=spec.key: self.chosen.emit(key))
            group.addButton(button)
            layout.addWidget(button)
            self._buttons[spec.key] = button
        layout.addStretch(1)
        self.setFixedWidth(WIDE)

    def _heading(self, bank_name: str, path: str) -> QWidget:
        head = QWidget()
        layout = QVBoxLayout(head)
        layout.setContentsMargins(18, 0, 10, 0)
        layout.setSpacing(2)
        wordmark = QLabel("sporebank")
        wordmark.setObjectName("wordmark")
        name = QLabel(bank_name, wordWrap=True)
        name.setObjectName("bankname")
        name.setToolTip(path)
        name.setAccessibleName(f"Bank {bank_name}, kept at {path}")
        layout.addWidget(wordmark)
        layout.addWidget(name)
        return head

    def mark(self, key: str) -> None:
        """Show which page is open."""
        self._buttons[key].setChecked(True)

    def set_count(self, key: str, count: int) -> None:
        """Show how many things wait on a page."""
        self._buttons[key].set_count(count)

    def set_narrow(self, narrow: bool) -> None:
        """Show icons alone where the window is small."""
        self._head.setVisible(not narrow)
        self.setFixedWidth(NARROW if narrow else WIDE)
        for button in self._buttons.values():
            button.narrow = narrow
            button.update()

    def focus_open(self) -> None:
        """Give the keyboard to the page that is open."""
        for button in self._buttons.values():
            if button.isChecked():
                button.setFocus(Qt.FocusReason.ShortcutFocusReason)
