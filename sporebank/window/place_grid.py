"""A box as it lies open: rows from A, columns from 1, each vial with its state as a colour, a letter and a number."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import (
    QAbstractTableModel,
    QItemSelectionModel,
    QModelIndex,
    QObject,
    QPersistentModelIndex,
    QRectF,
    Qt,
    Signal,
)
from PySide6.QtGui import (
    QDrag,
    QDragEnterEvent,
    QDragMoveEvent,
    QDropEvent,
    QFont,
    QKeyEvent,
    QKeySequence,
    QPainter,
    QPen,
    QResizeEvent,
)
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)

from sporebank.core import amounts, codes, names, slots
from sporebank.core.records import Place, State, VialRow
from sporebank.window.place_tree import as_mime, vials_of
from sporebank.window.theme import tokens
from sporebank.window.widgets.names import ROW_ROLE
from sporebank.window.words import STATE_WORDS, likely

Index = QModelIndex | QPersistentModelIndex
SIGNS = {State.ALIVE: "A", State.FADING: "F", State.SPENT: "S", State.UNKNOWN: "?"}
_TOKENS = {State.ALIVE: "alive", State.FADING: "fading", State.SPENT: "spent", State.UNKNOWN: "spent"}
LARGEST_CELL = 62
LEGEND = " · ".join(f"{SIGNS[state]} {STATE_WORDS[state]}" for state in State)


def number_of(row: VialRow) -> str:
    """Return the share alive as it fits a cell: `61`, `<1`, `>99`; nothing where it is not modelled."""
    if row.share is None:
        return ""
    share = row.share.middle
    if 0 < share < 0.01:
        return "<1"
    return ">99" if 0.99 < share < 1 else f"{share * 100:.0f}"


class BoxModel(QAbstractTableModel):
    """The slots of a box."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.rows = self.columns = 0
        self.vials: dict[int, VialRow] = {}

    def show_box(self, place: Place, vials: Sequence[tuple[int | None, VialRow]]) -> None:
        """Show a box."""
        self.beginResetModel()
        self.rows, self.columns = place.rows, place.columns
        self.vials = {slot: row for slot, row in vials if slot is not None}
        self.endResetModel()

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own default
        """Return the number of rows of the box."""
        return 0 if parent.isValid() else self.rows

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own default
        """Return the number of columns of the box."""
        return 0 if parent.isValid() else self.columns

    def slot(self, index: Index) -> int:
        """Return the slot of a cell."""
        return index.row() * self.columns + index.column()

    def at(self, slot: int) -> QModelIndex:
        """Return the cell of a slot."""
        return self.index(*divmod(slot, self.columns)) if self.columns else QModelIndex()

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:  # noqa: ANN401 - Qt's variant
        """Return what a cell shows and says."""
        row = self.vials.get(self.slot(index))
        if role == ROW_ROLE:
            return row
        if role == Qt.ItemDataRole.DisplayRole:
            return "" if row is None else f"{SIGNS[row.state]} {number_of(row)}".strip()
        if role in (Qt.ItemDataRole.ToolTipRole, Qt.ItemDataRole.AccessibleTextRole):
            return told(slots.label(self.slot(index), self.columns), row)
        return None

    def headerData(self, section: int, way: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> Any:  # noqa: ANN401 - Qt's variant
        """Return the letters of the rows and the numbers of the columns."""
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return Qt.AlignmentFlag.AlignCenter
        if role != Qt.ItemDataRole.DisplayRole:
            return None
        if way == Qt.Orientation.Horizontal:
            return str(section + 1)
        return slots.label(section * self.columns, self.columns)[:-1]


def told(where: str, row: VialRow | None) -> str:
    """Return a slot as a tooltip and a screen reader say it."""
    if row is None:
        return f"{where}: free"
    lines = (
        f"{where}: {codes.grouped(row.code)}, {names.text(row.name)}",
        f"clone {row.clone}, collected {row.collected.label()}",
        likely(row.share, row.state),
        f"{amounts.show(row.left)} left",
        row.note,
    )
    return "\n".join(line for line in lines if line)


class CellDelegate(QStyledItemDelegate):
    """Draws a slot: free ones as an empty ring, vials in the colour of their state with its letter and percent."""

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Draw a slot."""
        colours = tokens()
        row: VialRow | None = index.data(ROW_ROLE)
        chosen = bool(option.state & QStyle.StateFlag.State_Selected)
        rect = QRectF(option.rect).adjusted(2, 2, -2, -2)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        token = "line" if row is None else _TOKENS[row.state]
        painter.setPen(QPen(colours.colour("accent" if chosen else token), 1))
        ground = colours.colour("sheet") if row is None else colours.colour(token, 0.14)
        painter.setBrush(colours.colour("accent") if chosen else ground)
        painter.drawRoundedRect(rect, 4, 4)
        if row is not None:
            painter.setPen(colours.colour("accent_text" if chosen else "ink"))
            self._write(painter, rect, row, option.font)
        if option.state & QStyle.StateFlag.State_HasFocus:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(colours.colour("ink"), 2.5))
            painter.drawRoundedRect(rect, 4, 4)
        painter.restore()

    def _write(self, painter: QPainter, rect: QRectF, row: VialRow, font: QFont) -> None:
        """Write the letter and, where there is room, the number under it or beside it."""
        letter, number = SIGNS[row.state], number_of(row)
        bold = QFont(font)
        bold.setWeight(QFont.Weight.DemiBold)
        painter.setFont(bold)
        line = painter.fontMetrics().height()
        if rect.height() >= 2 * line:
            top = QRectF(rect.left(), rect.center().y() - line, rect.width(), line)
            painter.drawText(top, Qt.AlignmentFlag.AlignCenter, letter)
            painter.setFont(font)
            text = f"{number} %" if number else ""
            wide = painter.fontMetrics().horizontalAdvance(text) > rect.width()
            painter.drawText(top.translated(0, line), Qt.AlignmentFlag.AlignCenter, number if wide else text)
            return
        both = f"{letter} {number}".strip()
        fits = painter.fontMetrics().horizontalAdvance(both) <= rect.width()
        painter.drawText(rect, Qt.AlignmentFlag.AlignCenter, both if fits else letter)


class BoxGrid(QTableView):
    """Shows a box; arrow keys move, Space and Shift select, Enter opens, vials are dragged or moved with Ctrl+M.

    Signals: `opened(VialRow)`; `chosen` when other slots are selected; `move_wanted`; `dropped(slot, vial_ids)`.
    """

    opened = Signal(object)
    chosen = Signal()
    move_wanted = Signal()
    dropped = Signal(int, object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.box = BoxModel(self)
        self.setModel(self.box)
        self.setItemDelegate(CellDelegate(self))
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setShowGrid(False)
        self.setTabKeyNavigation(False)
        self.setCornerButtonEnabled(False)
        self.setDragDropMode(QAbstractItemView.DragDropMode.DragDrop)
        self.setDragEnabled(True)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        for header in (self.horizontalHeader(), self.verticalHeader()):
            header.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
            header.setMinimumSectionSize(10)
            header.setHighlightSections(False)
            header.setSectionsClickable(False)
        self.setMinimumSize(220, 180)
        self.doubleClicked.connect(lambda _: self._open())
        self.selectionModel().selectionChanged.connect(lambda *_: self.chosen.emit())

    def show_box(self, place: Place, path: str, vials: Sequence[tuple[int | None, VialRow]], keep: bool) -> None:
        """Show a box; `keep` stays at the slot where the keeper was."""
        before = self.currentIndex()
        slot = self.box.slot(before) if keep and before.isValid() else 0
        self.box.show_box(place, vials)
        self.setAccessibleName(f"{path}, {place.rows} rows of {place.columns} slots")
        self._fit()
        flags = QItemSelectionModel.SelectionFlag.NoUpdate
        self.selectionModel().setCurrentIndex(self.box.at(min(slot, place.rows * place.columns - 1)), flags)
        self.chosen.emit()

    def go_to(self, vial_ids: Sequence[int]) -> None:
        """Select vials of the box."""
        model = self.selectionModel()
        model.clearSelection()
        for slot, row in self.box.vials.items():
            if row.id in vial_ids:
                model.setCurrentIndex(self.box.at(slot), QItemSelectionModel.SelectionFlag.Select)

    def chosen_rows(self) -> list[VialRow]:
        """Return the vials selected, in the order of their slots."""
        cells = sorted(self.box.slot(index) for index in self.selectionModel().selectedIndexes())
        return [self.box.vials[slot] for slot in cells if slot in self.box.vials]

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Open with Enter, select with Space, move with Ctrl+M."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._open()
        elif event.key() == Qt.Key.Key_Space:
            self.selectionModel().select(self.currentIndex(), QItemSelectionModel.SelectionFlag.Toggle)
        elif QKeySequence(event.keyCombination()) == QKeySequence("Ctrl+M"):
            self.move_wanted.emit()
        else:
            super().keyPressEvent(event)

    def _open(self) -> None:
        row = self.currentIndex().data(ROW_ROLE) if self.currentIndex().isValid() else None
        if row is not None:
            self.opened.emit(row)

    # -- size

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Fit the cells into the room there is."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        """Make the cells as large as they fit, but never too small to read their letter."""
        if not self.box.rows:
            return
        least = self.fontMetrics().height() + 9
        room = self.viewport().size()
        across = min(LARGEST_CELL, max(least, room.width() // self.box.columns))
        down = min(across, max(least, room.height() // self.box.rows))
        self.horizontalHeader().setDefaultSectionSize(across)
        self.verticalHeader().setDefaultSectionSize(down)

    # -- dragging

    def startDrag(self, actions: Qt.DropAction) -> None:
        """Drag the vials selected."""
        ids = [row.id for row in self.chosen_rows()]
        if ids:
            drag = QDrag(self)
            drag.setMimeData(as_mime(ids))
            drag.exec(Qt.DropAction.MoveAction)

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Take vials."""
        if vials_of(event.mimeData()):
            event.acceptProposedAction()

    def dragMoveEvent(self, event: QDragMoveEvent) -> None:
        """Take vials where there is a slot."""
        if vials_of(event.mimeData()) and self.indexAt(event.position().toPoint()).isValid():
            event.acceptProposedAction()
        else:
            event.ignore()

    def dropEvent(self, event: QDropEvent) -> None:
        """Say which vials were dropped from which slot on."""
        index, ids = self.indexAt(event.position().toPoint()), vials_of(event.mimeData())
        if index.isValid() and ids:
            event.acceptProposedAction()
            self.dropped.emit(self.box.slot(index), ids)
