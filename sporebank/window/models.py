"""Table models: one for rows that the bank holds by the million, one for rows that are all at hand."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Generic, Protocol, TypeVar

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QObject, QPersistentModelIndex, Qt, Signal

from sporebank.window.columns import Column
from sporebank.window.context import Context
from sporebank.window.lane import Ticket
from sporebank.window.widgets.names import ROW_ROLE

if TYPE_CHECKING:
    from sporebank.bank.bank import Bank

R = TypeVar("R")
R_co = TypeVar("R_co", covariant=True)
Index = QModelIndex | QPersistentModelIndex
PAGE = 200
PAGES_KEPT = 50
_ASCENDING = Qt.SortOrder.AscendingOrder


class RowSource(Protocol[R_co]):
    """Where a lazily paged table gets its rows: frozen, so that the lane may hold it."""

    def count(self, bank: Bank) -> int:
        """Return how many rows there are."""

    def rows(self, bank: Bank, offset: int, limit: int) -> Sequence[R_co]:
        """Return a stretch of rows with one query."""


class _ColumnModel(QAbstractTableModel, Generic[R]):
    """What both models share: cells and headers from column objects."""

    def __init__(self, columns: Sequence[Column[R]], parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.columns = tuple(columns)

    def row_at(self, number: int) -> R | None:
        """Return a row, or None while it has not been read."""
        raise NotImplementedError

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own default
        """Return the number of columns."""
        return 0 if parent.isValid() else len(self.columns)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:  # noqa: ANN401 - Qt's variant
        """Return what a role shows of a cell."""
        if not index.isValid():
            return None
        column = self.columns[index.column()]
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return Qt.AlignmentFlag.AlignVCenter | _side(column)
        row = self.row_at(index.row())
        if role == ROW_ROLE:
            return row
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.AccessibleTextRole):
            return "…" if row is None else column.text(row)
        if role == Qt.ItemDataRole.ToolTipRole and row is not None:
            return (column.tip or column.text)(row)
        return None

    def headerData(self, section: int, way: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> Any:  # noqa: ANN401 - Qt's variant
        """Return the titles of the columns."""
        if way == Qt.Orientation.Vertical:
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return self.columns[section].title
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return Qt.AlignmentFlag.AlignVCenter | _side(self.columns[section])
        return None


class PagedModel(_ColumnModel[R]):
    """Rows read a page at a time as they come into sight, one query a page.

    Signals: `sort_wanted(key, descending)` when a header was clicked; `loaded` when the count is known;
    `page_loaded` when a page of rows has come.
    """

    sort_wanted = Signal(str, bool)
    loaded = Signal()
    page_loaded = Signal()

    def __init__(self, context: Context, columns: Sequence[Column[R]], parent: QObject | None = None) -> None:
        super().__init__(columns, parent)
        self._context = context
        self.source: RowSource[R] | None = None
        self._count = 0
        self._pages: dict[int, Sequence[R]] = {}
        self._asked: dict[int, Ticket] = {}
        self._counting: Ticket | None = None

    def show_source(self, source: RowSource[R]) -> None:
        """Show rows of a source from the top; an answer to an earlier one that is still out is dropped."""
        self._forget_asked()
        self.source = source
        self._counting = self._context.read(lambda bank: (source.count(bank), source.rows(bank, 0, PAGE)), self._start)

    def reload(self) -> None:
        """Read the rows at hand again, keeping the place where the keeper was."""
        source, kept = self.source, list(self._pages)[-3:]
        if source is None:
            return
        self._forget_asked()

        def again(bank: Bank) -> tuple[int, dict[int, Sequence[R]]]:
            return source.count(bank), {page: source.rows(bank, page * PAGE, PAGE) for page in kept}

        self._counting = self._context.read(again, self._replace)

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own default
        """Return the number of rows the bank has, read or not."""
        return 0 if parent.isValid() else self._count

    def row_at(self, number: int) -> R | None:
        """Return a row, asking for its page when it has not been read yet."""
        if number // PAGE not in self._pages:
            self._ask(number // PAGE)
        return self.at_hand(number)

    def at_hand(self, number: int) -> R | None:
        """Return a row that has been read, without asking for it."""
        rows = self._pages.get(number // PAGE, ())
        return rows[number % PAGE] if number % PAGE < len(rows) else None

    def row_number(self, test: Any) -> int | None:  # noqa: ANN401 - a predicate over R
        """Return the number of the first row at hand for which `test(row)` holds."""
        for page, rows in sorted(self._pages.items()):
            for offset, row in enumerate(rows):
                if test(row):
                    return page * PAGE + offset
        return None

    def sort(self, column: int, order: Qt.SortOrder = _ASCENDING) -> None:
        """Ask for another order; whoever holds the source answers with a new one."""
        if 0 <= column < len(self.columns) and self.columns[column].sortable:
            self.sort_wanted.emit(self.columns[column].key, order == Qt.SortOrder.DescendingOrder)

    def _start(self, answer: tuple[int, Sequence[R]]) -> None:
        self.beginResetModel()
        self._count, first = answer
        self._pages = {0: first}
        self.endResetModel()
        self.loaded.emit()
        self.page_loaded.emit()

    def _replace(self, answer: tuple[int, dict[int, Sequence[R]]]) -> None:
        count, pages = answer
        if count != self._count:
            self.beginResetModel()
            self._count, self._pages = count, pages
            self.endResetModel()
        else:
            self._pages = pages
            self._show_again(0, count)
        self.loaded.emit()
        self.page_loaded.emit()

    def _ask(self, page: int) -> None:
        if page in self._asked or self.source is None:
            return
        source = self.source
        self._asked[page] = self._context.read(
            lambda bank: source.rows(bank, page * PAGE, PAGE), lambda rows: self._keep(page, rows)
        )

    def _keep(self, page: int, rows: Sequence[R]) -> None:
        self._asked.pop(page, None)
        self._pages[page] = rows
        if len(self._pages) > PAGES_KEPT:
            del self._pages[next(iter(self._pages))]
        self._show_again(page * PAGE, page * PAGE + len(rows))
        self.page_loaded.emit()

    def _show_again(self, first: int, end: int) -> None:
        if end > first:
            self.dataChanged.emit(self.index(first, 0), self.index(end - 1, len(self.columns) - 1))

    def _forget_asked(self) -> None:
        for ticket in self._asked.values():
            ticket.cancel()
        self._asked.clear()
        if self._counting is not None:
            self._counting.cancel()


class RowsModel(_ColumnModel[R]):
    """Rows that are all at hand, sorted by `column.order` (or its text)."""

    def __init__(self, columns: Sequence[Column[R]], parent: QObject | None = None) -> None:
        super().__init__(columns, parent)
        self.rows: list[R] = []
        self._sorted: tuple[int, Qt.SortOrder] | None = None

    def set_rows(self, rows: Sequence[R]) -> None:
        """Show other rows, in the order the keeper chose last."""
        self.beginResetModel()
        self.rows = list(rows)
        self._order()
        self.endResetModel()

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own default
        """Return the number of rows."""
        return 0 if parent.isValid() else len(self.rows)

    def row_at(self, number: int) -> R | None:
        """Return a row."""
        return self.rows[number]

    def sort(self, column: int, order: Qt.SortOrder = _ASCENDING) -> None:
        """Sort by a column; -1 leaves the order as it is."""
        if column >= 0:
            self.layoutAboutToBeChanged.emit()
            self._sorted = (column, order)
            self._order()
            self.layoutChanged.emit()

    def _order(self) -> None:
        if self._sorted is not None:
            number, order = self._sorted
            column = self.columns[number]
            key: Any = column.order or column.text
            self.rows.sort(key=key, reverse=order == Qt.SortOrder.DescendingOrder)


def _side(column: Column[Any]) -> Qt.AlignmentFlag:
    return Qt.AlignmentFlag.AlignRight if column.right else Qt.AlignmentFlag.AlignLeft
