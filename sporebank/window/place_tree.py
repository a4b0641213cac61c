"""The tree of places: what is met in each, how many vials, how many free slots; vials can be dropped on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QMimeData, QModelIndex, QPersistentModelIndex, QSize, Qt, Signal
from PySide6.QtGui import QDragEnterEvent, QDragMoveEvent, QDropEvent, QPalette
from PySide6.QtWidgets import (
    QHeaderView,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTreeWidget,
    QTreeWidgetItem,
    QWidget,
)

from sporebank.core import forecast_words
from sporebank.core.ageing import modelled
from sporebank.core.counted import counted
from sporebank.core.records import Place
from sporebank.window.theme import tokens
from sporebank.window.words import degrees

MIME = "application/x-sporebank-vials"
Listed = tuple[Place, str, int]
_ID = Qt.ItemDataRole.UserRole
OWN_ROLE = Qt.ItemDataRole.UserRole + 1


@dataclass(frozen=True)
class Node:
    """A place with what is met there and from which place that comes; vials and free slots count all inside it."""

    place: Place
    path: str
    inside: int
    temperature: float | None
    warm_from: str
    humidity: float | None
    moist_from: str
    vials: int
    free: int


def nodes(listed: Sequence[Listed]) -> list[Node]:
    """Return the places with what they inherit and what lies in them, in the order they were listed (as one walks)."""
    by_id = {place.id: place for place, _, _ in listed}
    totals = {place.id: [0, 0] for place, _, _ in listed}
    for place, _, inside in listed:
        free = max(place.rows * place.columns - inside, 0)
        for above in lineage(by_id, place):
            totals[above.id][0] += inside
            totals[above.id][1] += free
    return [_node(by_id, place, path, inside, totals[place.id]) for place, path, inside in listed]


def lineage(by_id: dict[int, Place], place: Place) -> list[Place]:
    """Return a place and those it is in, itself first."""
    found = [place]
    while found[-1].parent_id is not None and found[-1].parent_id in by_id:
        found.append(by_id[found[-1].parent_id])
    return found


def _node(by_id: dict[int, Place], place: Place, path: str, inside: int, totals: Sequence[int]) -> Node:
    line = lineage(by_id, place)
    warm = next((one for one in line if one.temperature is not None), None)
    moist = next((one for one in line if one.humidity is not None), None)
    return Node(
        place=place,
        path=path,
        inside=inside,
        temperature=None if warm is None else warm.temperature,
        warm_from="" if warm is None or warm is place else warm.name,
        humidity=None if moist is None else moist.humidity,
        moist_from="" if moist is None or moist is place else moist.name,
        vials=totals[0],
        free=totals[1],
    )


def short_conditions(node: Node) -> str:
    """Return what is met in a place in a few words: `4 °C, 15 % RH`."""
    parts = [] if node.temperature is None else [degrees(node.temperature)]
    parts += [] if node.humidity is None else [f"{node.humidity:g} % RH"]
    return ", ".join(parts) or "not known"


def conditions_sentence(node: Node) -> str:
    """Return what is met in a place and whether that is its own or inherited."""
    warm, moist = "Temperature not known", "humidity not known"
    if node.temperature is not None:
        warm = f"{degrees(node.temperature)}, {_whence(node.warm_from)}"
    if node.humidity is not None:
        moist = f"{node.humidity:g} % RH, {_whence(node.moist_from)}"
    return f"{warm}; {moist}."


def _whence(name: str) -> str:
    return f"as {name}" if name else "its own"


def cold_caution(celsius: float | None) -> str:
    """Return what the forecast says of so cold a place, or nothing."""
    if celsius is None or celsius >= 0:
        return ""
    return forecast_words.FREEZER if modelled(celsius) else forecast_words.COLD


def vials_of(data: QMimeData) -> list[int]:
    """Return the vials that are being dragged."""
    if not data.hasFormat(MIME):
        return []
    return [int(part) for part in bytes(data.data(MIME).data()).decode("ascii").split(",") if part]


def as_mime(vial_ids: Sequence[int]) -> QMimeData:
    """Return vials to be dragged."""
    data = QMimeData()
    data.setData(MIME, ",".join(map(str, vial_ids)).encode("ascii"))
    return data


class _Conditions(QStyledItemDelegate):
    """Draws what is met in a place, muted where nothing of it is the place's own."""

    def initStyleOption(self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> None:
        """Choose the colour at paint time, so that it follows the palette worn."""
        super().initStyleOption(option, index)
        if not index.data(OWN_ROLE):
            option.palette.setColor(QPalette.ColorRole.Text, tokens().colour("mute"))


class PlaceTree(QTreeWidget):
    """Signals: `chosen(place_id)` when another place is chosen; `dropped(place_id, vial_ids)`."""

    chosen = Signal(int)
    dropped = Signal(int, object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._items: dict[int, QTreeWidgetItem] = {}
        self.setAccessibleName("Places")
        self.setHeaderLabels(["Place", "Met there", "Vials", "Free"])
        self.setItemDelegateForColumn(1, _Conditions(self))
        self.setUniformRowHeights(True)
        self.setAcceptDrops(True)
        self.setIndentation(14)
        self.setMinimumSize(200, 160)
        header = self.header()
        header.setStretchLastSection(False)
        header.setMinimumSectionSize(36)
        header.setResizeContentsPrecision(64)  # rows measured: the widths hardly differ, and there may be thousands
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        self.currentItemChanged.connect(self._changed)

    def show_nodes(self, found: Sequence[Node], wanted: int | None) -> None:
        """Show the places, keeping open what was, with one of them chosen."""
        shut = {place_id for place_id, item in self._items.items() if item.childCount() and not item.isExpanded()}
        self.blockSignals(True)
        self.clear()
        self._items = {}
        for node in found:
            parent = self._items.get(node.place.parent_id or 0)
            self._items[node.place.id] = self._item(node, parent)
        for place_id, item in self._items.items():
            item.setExpanded(place_id not in shut)
        self.blockSignals(False)
        first = next(iter(self._items), None)
        self.choose(wanted if wanted in self._items else first)

    def _item(self, node: Node, parent: QTreeWidgetItem | None) -> QTreeWidgetItem:
        texts = [node.place.name, short_conditions(node), f"{node.vials:,}", f"{node.free:,}" if node.free else ""]
        item = QTreeWidgetItem(texts)
        item.setData(0, _ID, node.place.id)
        item.setSizeHint(0, QSize(0, self.fontMetrics().height() + 11))
        item.setData(1, OWN_ROLE, node.place.temperature is not None or node.place.humidity is not None)
        for column in (2, 3):
            item.setTextAlignment(column, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        for column in range(4):
            item.setToolTip(column, f"{node.path}\n{conditions_sentence(node)}")
        spoken = (
            f"{node.path}, {conditions_sentence(node)} {counted(node.vials, 'vial')}, {counted(node.free, 'free slot')}"
        )
        item.setData(0, Qt.ItemDataRole.AccessibleTextRole, spoken)
        if parent is None:
            self.addTopLevelItem(item)
        else:
            parent.addChild(item)
        return item

    def choose(self, place_id: int | None) -> None:
        """Choose a place and bring it into sight."""
        if place_id in self._items:
            self.setCurrentItem(self._items[place_id])
            self.scrollToItem(self._items[place_id])

    def _changed(self, now: QTreeWidgetItem | None) -> None:
        if now is not None:
            self.chosen.emit(int(now.data(0, _ID)))

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Take vials."""
        if vials_of(event.mimeData()):
            event.acceptProposedAction()

    def dragMoveEvent(self, event: QDragMoveEvent) -> None:
        """Take vials where there is a place."""
        if vials_of(event.mimeData()) and self.itemAt(event.position().toPoint()) is not None:
            event.acceptProposedAction()
        else:
            event.ignore()

    def dropEvent(self, event: QDropEvent) -> None:
        """Say which vials were dropped on which place."""
        item = self.itemAt(event.position().toPoint())
        ids = vials_of(event.mimeData())
        if item is not None and ids:
            event.acceptProposedAction()
            self.dropped.emit(int(item.data(0, _ID)), ids)
