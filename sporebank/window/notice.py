"""The strip for what was just done or refused, and the strip at the foot for long work and the bank's place."""

from __future__ import annotations

from PySide6.QtCore import QEvent, Qt, QTimer
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QPushButton,
    QSizePolicy,
    QWidget,
)

from sporebank.window.background import Background
from sporebank.window.icons import icon
from sporebank.window.tell import Offer

GOES_AFTER_MS = 9000
EDGE = 8


def _restyle(widget: QWidget) -> None:
    widget.style().unpolish(widget)
    widget.style().polish(widget)


class Notice(QFrame):
    """A message above the page. A deed done goes by itself; a refusal stays until it is closed."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("notice")
        row = QHBoxLayout(self)
        row.setContentsMargins(12, 5, 6, 5)
        self.label = QLabel(wordWrap=True)
        self.label.setTextFormat(Qt.TextFormat.PlainText)
        self.label.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self.offer = QPushButton()
        self.offer.setProperty("quiet", True)
        self.offer.clicked.connect(self._take_offer)
        close = QPushButton(icon("close"), "")
        close.setProperty("quiet", True)
        close.setAccessibleName("Close the message")
        close.clicked.connect(self.hide)
        for widget in (self.label, self.offer, close):
            row.addWidget(widget)
        self._offered: Offer | None = None
        self._timer = QTimer(self, singleShot=True, interval=GOES_AFTER_MS)
        self._timer.timeout.connect(self._go)
        self.hide()

    def say(self, text: str, offer: Offer | None, bad: bool) -> None:
        """Show a message, with a deed offered beside it."""
        self.setProperty("bad", bad)
        _restyle(self)
        self.label.setText(text)
        self.setAccessibleName(text)
        self.offer.setVisible(offer is not None)
        self._offered = offer
        if offer is not None:
            self.offer.setText(offer.text)
        self.show()
        self._timer.stop() if bad else self._timer.start()

    def _take_offer(self) -> None:
        self.hide()
        if self._offered is not None:
            self._offered.do()

    def _go(self) -> None:
        if self.offer.hasFocus():
            self._timer.start()
        else:
            self.hide()


class NoticeOver(Notice):
    """A message over the top of a dialog, which hides the window's own; it goes by itself."""

    def __init__(self, dialog: QWidget) -> None:
        super().__init__(dialog)
        self._dialog = dialog
        self.setAutoFillBackground(True)
        for button in self.findChildren(QPushButton):
            button.setAutoDefault(False)  # Return is the dialog's

    def say(self, text: str, offer: Offer | None, bad: bool) -> None:
        """Show a message as wide as the dialog."""
        super().say(text, offer, bad)
        width = self._dialog.width() - 2 * EDGE
        self.setGeometry(EDGE, EDGE, width, max(self.heightForWidth(width), self.sizeHint().height()))
        self.raise_()
        self._timer.start()


def say_over(dialog: QWidget, text: str) -> None:
    """Say over a dialog why something cannot be done."""
    found = dialog.findChild(NoticeOver)
    (found or NoticeOver(dialog)).say(text, None, True)


class PathLabel(QLabel):
    """A path, shortened in the middle to the room there is."""

    def __init__(self, path: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._path = path
        self.setToolTip(path)
        self.setAccessibleName(f"The bank is kept at {path}")
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Shorten again."""
        super().resizeEvent(event)
        self._shorten()

    def changeEvent(self, event: QEvent) -> None:
        """Shorten again when the font is another."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange:
            self._shorten()

    def _shorten(self) -> None:
        self.setText(self.fontMetrics().elidedText(self._path, Qt.TextElideMode.ElideMiddle, self.width()))


class Strip(QWidget):
    """The foot of the window: where the bank is kept, and how far long work has come."""

    def __init__(self, path: str, background: Background) -> None:
        super().__init__()
        self.setObjectName("strip")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self._background = background
        row = QHBoxLayout(self)
        row.setContentsMargins(14, 3, 10, 3)
        row.addWidget(PathLabel(path), 1)
        self.doing = QLabel()
        self.bar = QProgressBar(textVisible=False)
        self.bar.setFixedWidth(150)
        self.bar.setAccessibleName("How far the work has come")
        self.stop = QPushButton("Stop")
        self.stop.setProperty("quiet", True)
        self.stop.clicked.connect(self._stop)
        for widget in (self.doing, self.bar, self.stop):
            row.addWidget(widget)
        background.started.connect(self._begin)
        background.progress.connect(self._progress)
        background.ended.connect(self._end)
        self._end()

    def _begin(self, title: str) -> None:
        self.doing.setText(f"{title} …")
        self._show_work(True)

    def _progress(self, done: int, total: int, text: str) -> None:
        self.bar.setRange(0, total)
        self.bar.setValue(done)
        if text:
            self.doing.setText(text)

    def _stop(self) -> None:
        self.doing.setText("Stopping …")
        self._background.stop()

    def _end(self) -> None:
        self._show_work(False)
        self.bar.setRange(0, 0)

    def _show_work(self, shown: bool) -> None:
        for widget in (self.doing, self.bar, self.stop):
            widget.setVisible(shown)
