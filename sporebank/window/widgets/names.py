"""Taxon names on screen, with italics where botany puts them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRect, QRectF, QSize, Qt
from PySide6.QtGui import QFont, QFontMetrics, QFontMetricsF, QPainter
from PySide6.QtWidgets import QLabel, QStyle, QStyledItemDelegate, QStyleOptionViewItem, QWidget

from sporebank.bank.paths import SEPARATOR
from sporebank.core import names
from sporebank.core.records import Run, TaxonName
from sporebank.window.theme import tokens

ROW_ROLE = Qt.ItemDataRole.UserRole
PAD = 9


def paint_ground(painter: QPainter, option: QStyleOptionViewItem) -> None:
    """Paint a cell's ground and hairline as every column's are."""
    if option.state & QStyle.StateFlag.State_Selected:
        painter.fillRect(option.rect, tokens().colour("select"))
    line = QRect(option.rect.left(), option.rect.bottom(), option.rect.width(), 1)
    painter.fillRect(line, tokens().colour("line"))


def draw_runs(painter: QPainter, rect: QRectF, runs: Iterable[Run], font: QFont) -> None:
    """Draw runs from the left of a rectangle, centred in height; what has no room ends in an ellipsis."""
    left = rect.left()
    for run in shortened_runs(list(runs), font, rect.width()):
        styled, metrics = _styled(font, run)
        width = metrics.horizontalAdvance(run.text)
        painter.setFont(styled)
        painter.drawText(QRectF(left, rect.top(), width + 1, rect.height()), Qt.AlignmentFlag.AlignVCenter, run.text)
        left += width


def shortened_runs(runs: Sequence[Run], font: QFont, width: float) -> list[Run]:
    """Return runs that fit into a width: all of them, or as much as leaves room for an ellipsis at the end."""
    measured = [(run, _styled(font, run)[1]) for run in runs]
    if sum(metrics.horizontalAdvance(run.text) for run, metrics in measured) <= width:
        return list(runs)
    kept: list[Run] = []
    for run, metrics in measured:
        taken = metrics.horizontalAdvance(run.text)
        if taken + metrics.horizontalAdvance("…") > width:
            text = metrics.elidedText(run.text + "…", Qt.TextElideMode.ElideRight, width)
            return [*kept, replace(run, text=text or "…")]
        kept.append(run)
        width -= taken
    return kept


def _styled(font: QFont, run: Run) -> tuple[QFont, QFontMetricsF]:
    styled = QFont(font)
    styled.setItalic(run.italic)
    return styled, QFontMetricsF(styled)


class TextDelegate(QStyledItemDelegate):
    """Draws plain text on the same ground and line as the other columns."""

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        """Draw the text, shortened where it must be."""
        paint_ground(painter, option)
        painter.save()
        painter.setFont(option.font)
        painter.setPen(tokens().colour("ink"))
        rect = option.rect.adjusted(PAD, 0, -PAD, 0)
        text = self.shortened(str(index.data()), option.fontMetrics, rect.width())
        painter.drawText(rect, index.data(Qt.ItemDataRole.TextAlignmentRole), text)
        painter.restore()

    def shortened(self, text: str, metrics: QFontMetrics, width: int) -> str:
        """Return a text that fits, cut at its end where it must be."""
        return metrics.elidedText(text, Qt.TextElideMode.ElideRight, width)

    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> QSize:
        """Return a size that asks for nothing: rows have one height."""
        return QSize(0, 0)


class PathDelegate(TextDelegate):
    """Draws a place; what tells it apart is at its end, so its first rooms are left out where it must be shortened."""

    def shortened(self, text: str, metrics: QFontMetrics, width: int) -> str:
        """Return the path without its first steps, as many as needed."""
        if SEPARATOR not in text:
            return super().shortened(text, metrics, width)
        steps, shown = text.split(SEPARATOR), text
        while metrics.horizontalAdvance(shown) > width and len(steps) > 1:
            del steps[0]
            shown = SEPARATOR.join(("…", *steps))
        fits = metrics.horizontalAdvance(shown) <= width
        return shown if fits else metrics.elidedText(shown, Qt.TextElideMode.ElideLeft, width)


class NameDelegate(TextDelegate):
    """Draws the name of a row (`row.name`) in its runs."""

    def paint(
        self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        """Draw the runs of the name."""
        paint_ground(painter, option)
        row = index.data(ROW_ROLE)
        if row is None or row.name is None:
            return
        painter.save()
        painter.setPen(tokens().colour("ink"))
        rect = QRectF(option.rect).adjusted(PAD, 0, -4, 0)
        draw_runs(painter, rect, names.runs(row.name), option.font)
        painter.restore()


class NameLabel(QLabel):
    """A taxon name as a heading, wrapping, with its italics."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent, wordWrap=True, textFormat=Qt.TextFormat.RichText)
        self.setProperty("role", "heading")

    def set_name(self, name: TaxonName) -> None:
        """Show a name."""
        self.setText(names.html(name))
        self.setAccessibleName(names.text(name))
