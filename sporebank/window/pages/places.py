"""The Places page: the tree at the left, the chosen box as it lies open at the right."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from PySide6.QtCore import QModelIndex, Qt
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QSplitter, QStackedWidget, QVBoxLayout, QWidget

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import codes
from sporebank.core.counted import counted
from sporebank.core.layout import Kind
from sporebank.core.records import PlaceKind, VialFilter, VialRow
from sporebank.jobs import places, vials
from sporebank.window import printing
from sporebank.window.actions import Needs
from sporebank.window.columns import VIAL_COLUMNS
from sporebank.window.context import Context
from sporebank.window.lane import Ticket
from sporebank.window.models import RowsModel
from sporebank.window.page import Page
from sporebank.window.place_grid import LEGEND, BoxGrid
from sporebank.window.place_tree import (
    Listed,
    Node,
    PlaceTree,
    cold_caution,
    conditions_sentence,
    lineage,
    nodes,
)
from sporebank.window.table import DataTable
from sporebank.window.widgets.flow import FlowLayout
from sporebank.window.widgets.menu_button import MenuButton
from sporebank.window.widgets.simple import Empty, label

Inside = Sequence[tuple[int | None, VialRow]]
_LOOSE = tuple(column for column in VIAL_COLUMNS if column.key in ("code", "taxon", "alive", "left", "clone"))
#: The buttons over a place: the method of the page, and what is written on it.
DEEDS = (
    ("move_slots", "Mo&ve vials…"),
    ("show_vials", "&List its vials"),
    ("rename_place", "Rena&me…"),
    ("set_conditions", "C&onditions…"),
    ("place_mishap", "What happe&ned…"),
    ("move_place", "Move the &place…"),
)


#: What labels there are for a place: the method of the page, and what is written in the menu.
LABELS = (
    ("place_labels", "Of its &vials…"),
    ("place_label", "Of the place &itself…"),
    ("inner_labels", "Of the place and &all places in it…"),
)


class PlacesPage(Page):
    """Where everything lies, and what is met there."""

    kinds: ClassVar[frozenset[str]] = frozenset(
        {"place", "vial", "batch", "clone", "taxon", "stay", "movement", "test", "setting"}
    )
    primary = "add_place"
    buttons = ("stocktake",)

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(context, parent)
        self._nodes: dict[int, Node] = {}
        self._wanted: int | None = context.state.get("places/place", 0)
        self._shown: int | None = None
        self._wanted_vials: list[int] = []
        self._reading: Ticket | None = None
        self.tree = PlaceTree()
        self.title = label(role="heading", wrap=True)
        self.met = label(role="mute", wrap=True)
        self.caution = label(role="warn", wrap=True)
        self.counts = label(role="mute", wrap=True)
        self.grid = BoxGrid()
        self.model: RowsModel[VialRow] = RowsModel(_LOOSE, self)
        self.table = DataTable(self.model, context.state, "places")
        self.table.setAccessibleName("Vials that lie here loose")
        self.table.setMinimumSize(200, 120)
        self.nothing = label("No vial lies loose here.", "mute", wrap=True)
        self.nothing.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.inside = QStackedWidget()
        self.deeds: dict[str, QPushButton] = {}
        self.labels = MenuButton("La&bels", [(text, getattr(self, method)) for method, text in LABELS])
        self.empty = Empty(
            "places", "No places yet", "Add a room or a fridge first, then a box in it: what a vial meets where it "
            "lies is what its forecast goes by.", "Add a place", self.add_place,
        )  # fmt: skip
        self._whole = QStackedWidget()
        self._build()
        self._connect()

    def _build(self) -> None:
        for view in (self.grid, self.table, self.nothing):
            self.inside.addWidget(view)
        row = QWidget()
        flow = FlowLayout(row)
        for method, text in DEEDS:
            button = QPushButton(text)
            button.clicked.connect(getattr(self, method))
            flow.addWidget(button)
            self.deeds[method] = button
        right = QWidget()
        column = QVBoxLayout(right)
        column.setContentsMargins(12, 0, 0, 0)
        column.setSpacing(6)
        head = QHBoxLayout()
        head.addWidget(self.title, 1)
        head.addWidget(self.labels, 0, Qt.AlignmentFlag.AlignTop)
        column.addLayout(head)
        for widget in (self.met, self.caution, row, self.counts):
            column.addWidget(widget)
        column.addWidget(self.inside, 1)
        split = QSplitter(Qt.Orientation.Horizontal)
        split.setHandleWidth(1)
        split.setChildrenCollapsible(False)
        split.addWidget(self.tree)
        split.addWidget(right)
        split.setStretchFactor(0, 2)
        split.setStretchFactor(1, 3)
        split.setSizes([400, 600])
        self._whole.addWidget(split)
        self._whole.addWidget(self.empty)
        self.body.addWidget(self._whole, 1)

    def _connect(self) -> None:
        self.tree.chosen.connect(self._choose)
        self.tree.itemActivated.connect(lambda *_: self._go_inside())
        self.tree.dropped.connect(lambda place_id, ids: self._drop(place_id, None, ids))
        self.grid.dropped.connect(lambda slot, ids: self._drop(self._shown, slot, ids))
        self.grid.opened.connect(self._open)
        self.grid.move_wanted.connect(self.move_slots)
        self.grid.chosen.connect(self._look_at_chosen)
        self.table.doubleClicked.connect(lambda index: self._open(self._row(index)))
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._look_at_chosen())

    def refresh(self) -> None:
        """Read the tree again, then what lies in the place chosen."""
        self.context.read(queries.places, self._show)

    def focus_on(self, **focus: object) -> None:
        """Turn to `place_id`, or to the place with a `code`."""
        if "place_id" in focus:
            self._turn_to(int(str(focus["place_id"])))
        elif "code" in focus:
            code = str(focus["code"])
            self.context.read(lambda bank: queries.place_id_of_code(bank, code), lambda one: self._found(code, one))

    def has(self, needs: Needs) -> bool:
        """Return whether a place is chosen (ONE), and vials in it (SELECTION)."""
        if needs is Needs.SELECTION:
            return bool(self.chosen_rows())
        return needs is Needs.NOTHING or (needs is Needs.ONE and self._shown is not None)

    def first_focus(self) -> QWidget:
        """Return the tree."""
        return self.tree

    def chosen_rows(self) -> list[VialRow]:
        """Return the vials selected in the place."""
        if self.inside.currentWidget() is self.grid:
            return self.grid.chosen_rows()
        numbers = sorted(index.row() for index in self.table.selectionModel().selectedRows())
        return [self.model.rows[number] for number in numbers]

    # -- what is shown

    def _show(self, listed: list[Listed]) -> None:
        self._nodes = {node.place.id: node for node in nodes(listed)}
        self._whole.setCurrentIndex(0 if listed else 1)
        wanted = self._wanted if self._wanted in self._nodes else self._shown
        if wanted is None or wanted not in self._nodes:
            boxes = [node for node in self._nodes.values() if node.place.kind is PlaceKind.BOX]
            wanted = boxes[0].place.id if boxes else None
        self._wanted = None
        if not listed:
            self._shown = None
            self.needs_changed.emit()
        self.tree.show_nodes(tuple(self._nodes.values()), wanted)

    def _turn_to(self, place_id: int) -> None:
        if place_id in self._nodes:
            self.tree.choose(place_id)
        else:
            self._wanted = place_id
            self.refresh()

    def _found(self, code: str, place_id: int | None) -> None:
        if place_id is None:
            self.context.tell.info(f"No place with the code {codes.grouped(code)} is in the bank.")
        else:
            self._turn_to(place_id)

    def _choose(self, place_id: int) -> None:
        keep = place_id == self._shown
        self._shown = place_id
        self.context.state.put("places/place", place_id)
        self._head(self._nodes[place_id])
        if self._reading is not None:
            self._reading.cancel()
        self._reading = self.context.read(
            lambda bank: queries.box_vials(bank, place_id), lambda inside: self._show_inside(place_id, inside, keep)
        )

    def _head(self, node: Node) -> None:
        self.title.setText(node.path)
        self.met.setText(f"{codes.grouped(node.place.code)} · {conditions_sentence(node)}")
        caution = cold_caution(node.temperature)
        self.caution.setText(caution)
        self.caution.setVisible(bool(caution))
        size = node.place.rows * node.place.columns
        loose = f"{counted(node.vials, 'vial')} inside, {counted(node.free, 'free slot')}."
        self.counts.setText(f"{node.inside:,} of {size:,} slots taken · {LEGEND}" if size else loose)

    def _show_inside(self, place_id: int, inside: Inside, keep: bool) -> None:
        node = self._nodes.get(place_id)
        if node is None:
            return
        if node.place.rows:
            self.inside.setCurrentWidget(self.grid)
            self.grid.show_box(node.place, node.path, inside, keep)
            self.grid.go_to(self._wanted_vials)
            self._wanted_vials = []
        else:
            self.model.set_rows([row for _, row in inside])
            self.inside.setCurrentWidget(self.table if inside else self.nothing)
        self._look_at_chosen()

    def _go_inside(self) -> None:
        view = self.inside.currentWidget()
        if view is not None:
            view.setFocus(Qt.FocusReason.OtherFocusReason)

    def _look_at_chosen(self) -> None:
        self.deeds["move_slots"].setEnabled(bool(self.chosen_rows()))
        self.needs_changed.emit()

    def _row(self, index: QModelIndex) -> VialRow:
        return self.model.rows[index.row()]

    def _open(self, row: VialRow) -> None:
        self.context.go("vials", code=row.code)

    # -- moving

    def move_slots(self) -> None:
        """Put the vials selected somewhere else."""
        ids = tuple(row.id for row in self.chosen_rows())
        if ids:
            self.context.dialog("move_vials", vial_ids=ids)

    def _drop(self, place_id: int | None, slot: int | None, ids: list[int]) -> None:
        """Move vials that were dragged, today: into the slots from one on, or anywhere in a place."""
        node = self._nodes.get(place_id or 0)
        if node is None:
            return
        today, target = self.context.today(), node.place.id

        def move(bank: Bank) -> None:
            if slot is None:
                vials.move(bank, vials.free_moves(bank, ids, target), today)
            else:
                vials.move(bank, places.moves_into(bank, ids, target, slot), today)

        count = counted(len(ids), "vial")
        self._wanted_vials = list(ids)
        self.context.do(move, lambda _: self.context.done(f"{count} moved to {node.path}."))

    # -- actions

    def add_place(self) -> None:
        """Add a room, fridge, freezer, shelf or box."""
        self.context.dialog("add_place", parent_id=self._shown, then=self._turn_to)

    def rename_place(self) -> None:
        """Give the place another name."""
        self.context.dialog("rename_place", place_id=self._shown)

    def set_conditions(self) -> None:
        """Set temperature and humidity from a day on."""
        self.context.dialog("set_conditions", place_id=self._shown)

    def place_mishap(self) -> None:
        """Put on record what befell everything in the place shown."""
        self.context.dialog("mishap", place_id=self._shown)

    def take_stock(self) -> None:
        """Count what lies in the place shown, or in the whole bank."""
        self.context.dialog("stocktake", place_id=self._shown)

    def move_place(self) -> None:
        """Put the place and all in it somewhere else."""
        self.context.dialog("move_place", place_id=self._shown)

    def show_vials(self) -> None:
        """Show every vial in the place as a table."""
        self.context.go("vials", place_id=self._shown)

    def place_labels(self) -> None:
        """Show labels of every vial in the place, in walking order."""
        wanted = VialFilter(place_id=self._shown)

        def found(ids: list[int]) -> None:
            if ids:
                printing.vial_labels(self.context, tuple(ids))
            else:
                self.context.tell.info("There is no vial in this place.")

        self.context.read(lambda bank: queries.vial_ids(bank, wanted, "place", descending=False), found)

    def place_label(self) -> None:
        """Show the label of the place itself."""
        node = self._nodes.get(self._shown or 0)
        if node is not None:
            self._label_places([node])

    def inner_labels(self) -> None:
        """Show the labels of the place and of every place in it, as one walks past them."""
        node = self._nodes.get(self._shown or 0)
        if node is not None:
            places_by_id = {one.place.id: one.place for one in self._nodes.values()}
            self._label_places([one for one in self._nodes.values() if node.place in lineage(places_by_id, one.place)])

    def _label_places(self, labelled: Sequence[Node]) -> None:
        boxes = any(one.place.kind is PlaceKind.BOX for one in labelled)
        printing.labels_for(self.context, Kind.BOX if boxes else Kind.PLACE, [one.place.id for one in labelled])
