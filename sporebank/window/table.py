"""The table of the window: fixed rows, sorting, and columns whose choice, order and widths are remembered."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any, TypeVar, cast

from PySide6.QtCore import QItemSelection, QItemSelectionModel, QItemSelectionRange, QPoint, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QMenu, QTableView, QWidget

from sporebank.window.models import PagedModel, RowsModel
from sporebank.window.state import WindowState
from sporebank.window.widgets.band import BandDelegate
from sporebank.window.widgets.names import NameDelegate, PathDelegate, TextDelegate

R = TypeVar("R")

FIGURES_WIDTH = 69  # of the ten figures in the font that the widths of columns are given for
_DELEGATES: dict[str, type[TextDelegate]] = {
    "": TextDelegate,
    "name": NameDelegate,
    "band": BandDelegate,
    "path": PathDelegate,
}


class DataTable(QTableView):
    """Shows a model of column objects and remembers its columns under a key of the window state."""

    def __init__(
        self,
        model: PagedModel[Any] | RowsModel[Any],
        state: WindowState,
        key: str,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._columns = model.columns
        self._state = state
        self._key = f"tables/{key}"
        self.setModel(model)
        self._style()
        self._dress_columns()
        self._restore()
        header = self.horizontalHeader()
        header.sectionMoved.connect(self._remember)
        header.sectionResized.connect(self._remember)
        header.setContextMenuPolicy(Qt.ContextMenuPolicy.CustomContextMenu)
        header.customContextMenuRequested.connect(lambda at: self.choose_columns(header.mapToGlobal(at)))

    def _style(self) -> None:
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerItem)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setTabKeyNavigation(False)
        self.setCornerButtonEnabled(False)
        rows = self.verticalHeader()
        rows.hide()
        rows.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        rows.setMinimumSectionSize(10)
        rows.setDefaultSectionSize(self.fontMetrics().height() + 15)

    def _dress_columns(self) -> None:
        header = self.horizontalHeader()
        header.setSelectionModel(QItemSelectionModel(self.model(), self))  # else it walks every row chosen to draw
        header.setSectionsMovable(True)
        header.setHighlightSections(False)
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        header.setMinimumSectionSize(44)
        header.setStretchLastSection(True)
        for number, column in enumerate(self._columns):
            self.setItemDelegateForColumn(number, _DELEGATES[column.delegate](self))
            header.resizeSection(
                number, round(column.width * self.fontMetrics().horizontalAdvance("0123456789") / FIGURES_WIDTH)
            )
            header.setSectionHidden(number, not column.shown)

    def enable_sorting(self, key: str, descending: bool = False) -> None:
        """Let headers sort, beginning with a column; the model is asked at once."""
        number = next(i for i, column in enumerate(self._columns) if column.key == key)
        order = Qt.SortOrder.DescendingOrder if descending else Qt.SortOrder.AscendingOrder
        self.horizontalHeader().setSortIndicator(number, order)
        self.setSortingEnabled(True)

    def chosen_count(self) -> int:
        """Return how many rows are chosen, without looking at each."""
        return sum(part.height() for part in self._parts())

    def chosen_rows(self) -> list[int]:
        """Return the numbers of the rows chosen, from the top."""
        return sorted({number for part in self._parts() for number in range(part.top(), part.bottom() + 1)})

    def _parts(self) -> list[QItemSelectionRange]:
        selection = self.selectionModel().selection()
        return list(cast("Iterable[QItemSelectionRange]", selection))  # the stubs do not know that it is one

    def choose_rows(self, numbers: Sequence[int]) -> None:
        """Choose these rows and no others, at one stroke."""
        model, chosen, last = self.model(), QItemSelection(), len(self._columns) - 1
        for number in numbers:
            chosen.select(model.index(number, 0), model.index(number, last))
        self.selectionModel().select(chosen, QItemSelectionModel.SelectionFlag.ClearAndSelect)

    def go_to(self, number: int) -> None:
        """Choose one row alone, and go on from it by keyboard."""
        flags = QItemSelectionModel.SelectionFlag.ClearAndSelect | QItemSelectionModel.SelectionFlag.Rows
        self.selectionModel().setCurrentIndex(self.model().index(number, 0), flags)

    def choose_columns(self, at: QPoint | None = None) -> None:
        """Show a menu in which columns are ticked."""
        menu = self.column_menu()
        menu.exec(at or self.mapToGlobal(QPoint(8, 8)))

    def column_menu(self) -> QMenu:
        """Return the menu of columns."""
        menu = QMenu(self)
        for number, column in enumerate(self._columns):
            choice = menu.addAction(column.title)
            choice.setCheckable(True)
            choice.setChecked(not self.isColumnHidden(number))
            choice.toggled.connect(lambda shown, number=number: self._show_column(number, shown))
        return menu

    def _show_column(self, number: int, shown: bool) -> None:
        others = any(not self.isColumnHidden(n) for n in range(len(self._columns)) if n != number)
        self.setColumnHidden(number, not shown and others)
        self._remember()

    def _remember(self) -> None:
        header = self.horizontalHeader()
        order = sorted(range(len(self._columns)), key=header.visualIndex)
        shown = [[self._columns[n].key, not header.isSectionHidden(n), header.sectionSize(n)] for n in order]
        self._state.put(self._key, shown)

    def _restore(self) -> None:
        header = self.horizontalHeader()
        numbers = {column.key: number for number, column in enumerate(self._columns)}
        nothing: list[Any] = []
        known = [entry for entry in self._state.get(self._key, nothing) if _sound(entry) and entry[0] in numbers]
        last = [key for key, shown, _ in known if shown][-1:]  # it fills what is left, of whatever width that is now
        for place, (key, shown, width) in enumerate(known):
            header.moveSection(header.visualIndex(numbers[key]), place)
            header.setSectionHidden(numbers[key], not shown)
            if shown and key not in last:
                header.resizeSection(numbers[key], width)


class LinesTable(DataTable):
    """A table of which Enter opens the line in hand, as `activated`."""

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Let Enter open, on every system."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.currentIndex().isValid():
            self.activated.emit(self.currentIndex())
        else:
            super().keyPressEvent(event)


def _sound(entry: Any) -> bool:  # noqa: ANN401 - whatever stood in the file of the window state
    """Return whether a remembered column is a key, whether it is shown, and a width."""
    kinds = [str, bool, int]
    return isinstance(entry, list) and [type(part) for part in entry] == kinds


def rows_chosen(table: DataTable, model: RowsModel[R]) -> list[R]:
    """Return the rows chosen in a table of this model, from the top."""
    return [model.rows[number] for number in table.chosen_rows()]


def row_chosen(table: DataTable, model: RowsModel[R]) -> R | None:
    """Return the topmost row chosen in a table of this model, if any."""
    return next(iter(rows_chosen(table, model)), None)


def go_on_with(table: DataTable, model: RowsModel[R], same: Callable[[R], bool]) -> None:
    """Go to the first row that is the same as one looked at before, where it still is."""
    number = next((number for number, row in enumerate(model.rows) if same(row)), None)
    if number is not None:
        table.go_to(number)
