"""A paper as it will be printed, page by page, made from the very PDF that is saved."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QImage, QPixmap, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QScrollArea, QVBoxLayout, QWidget

from sporebank.documents.picture import Picture, page_sizes, pictures
from sporebank.window.background import Cancelled, Report
from sporebank.window.context import Context
from sporebank.window.widgets.simple import label

DESK, BAR = 12, 12
"""Pixels of the ground around the page, as the style sheet has it, and of the scroll bar beside it."""


class Preview(QWidget):
    """Shows one page of a PDF, as wide as there is room. Signals: `drawn` when a page has come."""

    drawn = Signal()

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._context = context
        self._pdf = b""
        self._sizes: tuple[tuple[float, float], ...] = ()
        self._page = 0
        self._wish = 0
        self._paper = QLabel(alignment=Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignTop)
        self._paper.setObjectName("desk")
        self._paper.setAccessibleName("The page as it will be printed")
        self._scroll = QScrollArea(widgetResizable=True)
        self._scroll.setWidget(self._paper)
        self.where = label(role="mute")
        self.back, self.on = QPushButton("Page before"), QPushButton("Next page")
        self.back.clicked.connect(lambda: self._turn(-1))
        self.on.clicked.connect(lambda: self._turn(1))
        row = QHBoxLayout()
        for widget in (self.back, self.on, self.where):
            widget.setProperty("quiet", True)
            row.addWidget(widget)
        row.addStretch(1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self._scroll, 1)
        layout.addLayout(row)
        self.setMinimumSize(QSize(320, 260))

    @property
    def pages(self) -> int:
        """How many pages the paper has."""
        return len(self._sizes)

    def show_pdf(self, pdf: bytes) -> None:
        """Show a paper from its first page, or nothing for no bytes."""
        self._pdf, self._sizes = pdf, page_sizes(pdf) if pdf else ()
        self._page = min(self._page, max(0, self.pages - 1))
        self._draw()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Draw the page anew in the room there is."""
        super().resizeEvent(event)
        self._draw()

    def _turn(self, step: int) -> None:
        self._page += step
        self._scroll.verticalScrollBar().setValue(0)
        self._draw()

    def _draw(self) -> None:
        self._wish += 1
        self.back.setEnabled(self._page > 0)
        self.on.setEnabled(self._page + 1 < self.pages)
        self.where.setText(f"Page {self._page + 1} of {self.pages}" if self.pages else "")
        if not self.pages:
            self._paper.clear()
            return
        pdf, page, wish, ratio = self._pdf, self._page, self._wish, self.devicePixelRatioF()
        dpi = self._dpi(*self._sizes[page]) * ratio

        def draw(report: Report, cancelled: Cancelled) -> Picture:
            return next(pictures(pdf, dpi, page, 1))

        self._context.work("Drawing the page", draw, lambda picture: self._show(picture, ratio, wish))

    def _dpi(self, width_mm: float, height_mm: float) -> float:
        """Return pixels per inch so that the page fills the width, a small label no more than four times its size."""
        room = max(200, self._scroll.viewport().width() - 2 * DESK - BAR)
        return min(room / width_mm * 25.4, 4 * 96.0)

    def _show(self, picture: Picture, ratio: float, wish: int) -> None:
        if wish != self._wish:
            return
        shown = QImage(picture.rgb, picture.width, picture.height, picture.stride, QImage.Format.Format_RGB888)
        pixmap = QPixmap.fromImage(shown)
        pixmap.setDevicePixelRatio(ratio)
        self._paper.setPixmap(pixmap)
        self.drawn.emit()
