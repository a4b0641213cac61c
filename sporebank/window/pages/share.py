"""The Share page: requests on the left, the one chosen on the right, from wish to parcel."""

from __future__ import annotations

from typing import ClassVar

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QSplitter, QStackedWidget, QVBoxLayout, QWidget

from sporebank.bank import queries
from sporebank.core import codes
from sporebank.core.counted import counted
from sporebank.core.dates import day_label
from sporebank.core.errors import Refusal
from sporebank.core.layout import Kind
from sporebank.core.records import Request, RequestState
from sporebank.core.sharing import ELSEWHERE
from sporebank.jobs import packing, sharing
from sporebank.jobs.filling import Filling, filling
from sporebank.jobs.parcel_checks import Check
from sporebank.window import printing
from sporebank.window.actions import Needs
from sporebank.window.columns import Column
from sporebank.window.context import Context
from sporebank.window.lane import Ticket
from sporebank.window.models import RowsModel
from sporebank.window.page import Page
from sporebank.window.share_fill import FillEditor
from sporebank.window.share_view import RequestView, Told, filled, possible, read_request, wished
from sporebank.window.table import DataTable
from sporebank.window.tell import tell_failure
from sporebank.window.widgets.simple import Chips, Empty, label
from sporebank.window.words import opened_again

_STATES = (("", "All"), *((state.value, state.value.capitalize()) for state in RequestState))
_ORDER = {state: number for number, state in enumerate(RequestState)}

COLUMNS: tuple[Column[Request], ...] = (
    Column("who", "Person", lambda one: one.contact.name, 142, order=lambda one: one.contact.name.casefold()),
    Column(
        "received", "Received", lambda one: day_label(one.received_on), 98,
        order=lambda one: (one.received_on, one.id),
    ),
    Column("filled", "Packets", lambda one: f"{filled(one)} of {wished(one)}", 78, order=filled),
    Column("state", "State", lambda one: one.state.value, 62, order=lambda one: _ORDER[one.state]),
    Column("wishes", "Wishes", lambda one: str(len(one.lines)), 66, right=True, order=lambda one: len(one.lines)),
)  # fmt: skip


class SharePage(Page):
    """Requests, what they are filled with, and the parcels they leave in."""

    kinds: ClassVar[frozenset[str]] = frozenset({
        "request", "line", "packet", "parcel", "contact", "vial", "batch", "taxon", "clone", "test", "setting", "heed",
        "permit",
    })  # fmt: skip
    primary = "fill_request"
    buttons = ("contacts", "new_request")

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(context, parent)
        self._all: list[Request] = []
        self._state = context.state.get("share/state", RequestState.OPEN.value)
        self._wanted: int | None = None
        self._told: Told | None = None
        self._reading: Ticket | None = None
        self.chips = Chips("State", _STATES)
        if self._state not in self.chips.buttons:
            self._state = RequestState.OPEN.value
        self.chips.set_chosen(self._state)
        self.model: RowsModel[Request] = RowsModel(COLUMNS, self)
        self.table = DataTable(self.model, context.state, "requests")
        self.table.setAccessibleName("Requests")
        self.table.setSelectionMode(DataTable.SelectionMode.SingleSelection)
        self.table.setMinimumSize(200, 160)
        self.table.enable_sorting("received")
        self.none = label("No request is in this state.", "mute")
        self.none.setAlignment(Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignTop)
        self._list = QStackedWidget()
        self.view = RequestView()
        self.editor = FillEditor()
        self.hint = Empty("share", "Choose a request", "What is wished and what it is filled with is told here.")
        self.right = QStackedWidget()
        self.right.setMinimumWidth(230)
        self.empty = Empty(
            "share", "No requests yet", "Write down who asks for what; the bank then proposes the vials to draw from.",
            "New request", self.new_request,
        )  # fmt: skip
        self._whole = QStackedWidget()
        self._build()
        self._connect()

    def _build(self) -> None:
        for one in (self.table, self.none):
            self._list.addWidget(one)
        for side in (self.hint, self.view, self.editor):
            self.right.addWidget(side)
        left = QWidget()
        column = QVBoxLayout(left)
        column.setContentsMargins(0, 0, 8, 0)
        column.addWidget(self.chips)
        column.addWidget(self._list, 1)
        split = QSplitter(Qt.Orientation.Horizontal)
        split.setHandleWidth(1)
        split.setChildrenCollapsible(False)
        split.addWidget(left)
        split.addWidget(self.right)
        split.setStretchFactor(0, 2)
        split.setStretchFactor(1, 3)
        split.setSizes([440, 560])
        self._whole.addWidget(split)
        self._whole.addWidget(self.empty)
        self.body.addWidget(self._whole, 1)

    def _connect(self) -> None:
        self.chips.chosen.connect(self._choose_state)
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._look_at_chosen())
        self.view.deed.connect(lambda method: getattr(self, method)())
        self.view.cautions.answer.connect(self._answer)
        self.editor.kept.connect(self._keep)
        self.editor.left.connect(self._leave_editor)
        self.editor.anew.connect(lambda: self._start_filling(anew=True))

    def refresh(self) -> None:
        """Read the requests."""
        self.context.read(queries.requests, self._show)

    def focus_on(self, **focus: object) -> None:
        """Turn to `request_id`, or to the request of a parcel's `code`."""
        if "request_id" in focus:
            self._turn_to(int(str(focus["request_id"])))
        elif "code" in focus:
            code = str(focus["code"])
            self.context.read(
                lambda bank: queries.request_by_parcel(bank, code), lambda found: self._found(code, found)
            )

    def has(self, needs: Needs) -> bool:
        """Return whether a request is chosen, and has what an action needs."""
        chosen = self.chosen()
        if needs in (Needs.NOTHING, Needs.ONE, Needs.SELECTION):
            return needs is Needs.NOTHING or chosen is not None
        return chosen is not None and needs.name.lower() in possible(chosen)

    def why_not(self, needs: Needs) -> str:
        """Return where an order of an exchange is filled."""
        chosen = self.chosen()
        elsewhere = "" if chosen is None or needs is not Needs.BY_HAND else chosen.exchange
        return ELSEWHERE.format(elsewhere) if elsewhere else ""

    def first_focus(self) -> QWidget:
        """Return the table."""
        return self.table

    # -- what is shown

    def chosen(self) -> Request | None:
        """Return the request chosen."""
        rows = self.table.selectionModel().selectedRows()
        return self.model.rows[rows[0].row()] if rows else None

    def _show(self, found: list[Request]) -> None:
        """Show the requests; the one chosen is followed into whatever state a deed has put it."""
        self._all = found
        self._whole.setCurrentIndex(0 if found else 1)
        for key, text in _STATES:
            count = sum(key in ("", one.state.value) for one in found)
            self.chips.buttons[key].setText(f"{text} {count:,}")
        before = self.chosen()
        self._wanted = self._wanted or (None if before is None else before.id)
        wanted = next((one for one in found if one.id == self._wanted), None)
        if wanted is not None and self._state not in ("", wanted.state.value):
            self._state = wanted.state.value
            self.chips.set_chosen(self._state)
        self._choose_state(self._state)

    def _choose_state(self, state: str) -> None:
        chosen = self.chosen()
        wanted = self._wanted or (chosen.id if chosen is not None else None)
        self._wanted = None
        self._state = state
        self.context.state.put("share/state", state)
        self.model.set_rows([one for one in self._all if state in ("", one.state.value)])
        self._list.setCurrentWidget(self.table if self.model.rows else self.none)
        if self.model.rows:
            self.table.go_to(next((number for number, one in enumerate(self.model.rows) if one.id == wanted), 0))
        self._look_at_chosen()

    def _turn_to(self, request_id: int) -> None:
        """Choose a request, under the filter of its own state where the one that holds would hide it."""
        self._wanted = request_id
        self.refresh()
        self.table.setFocus(Qt.FocusReason.OtherFocusReason)

    def _found(self, code: str, request_id: int | None) -> None:
        if request_id is None:
            self.context.tell.info(f"No parcel with the code {codes.grouped(code)} is in the bank.")
        else:
            self._turn_to(request_id)

    def _look_at_chosen(self) -> None:
        self.needs_changed.emit()
        if self._reading is not None:
            self._reading.cancel()
        chosen = self.chosen()
        if chosen is None:
            self._told = None
            self.right.setCurrentWidget(self.hint)
            return
        request_id = chosen.id
        self._reading = self.context.read(lambda bank: read_request(bank, request_id), self._tell)

    def _tell(self, told: Told) -> None:
        self._told = told
        self.view.show_request(told)
        if not self._editing(told.request.id):
            self.right.setCurrentWidget(self.view)

    def _editing(self, request_id: int) -> bool:
        open_one = self.editor.filling
        return self.right.currentWidget() is self.editor and open_one is not None and open_one.request.id == request_id

    # -- filling

    def fill_request(self) -> None:
        """Propose the vials to draw from, or show what is held, to be changed; what is being changed stays."""
        chosen = self.chosen()
        if chosen is not None and self._editing(chosen.id):
            self.editor.keep.setFocus(Qt.FocusReason.OtherFocusReason)
        else:
            self._start_filling(anew=False)

    def _start_filling(self, *, anew: bool) -> None:
        chosen = self.chosen()
        if chosen is not None:
            request_id = chosen.id
            self.context.read(lambda bank: filling(bank, request_id, anew=anew), self._edit)

    def _edit(self, found: Filling) -> None:
        self.right.setCurrentWidget(self.editor)
        self.editor.show_filling(found)

    def _leave_editor(self) -> None:
        self.right.setCurrentWidget(self.view)
        self.table.setFocus(Qt.FocusReason.OtherFocusReason)

    def _keep(self) -> None:
        found, chosen = self.editor.filling, self.editor.chosen()
        if found is None:
            return
        request = found.request
        count = sum(len(one.vials) for one in chosen.values())
        packets = counted(count, "packet is", "packets are")

        def done(_: None) -> None:
            self.right.setCurrentWidget(self.view)
            self._turn_to(request.id)
            self.context.done(f"{packets} held back for {request.contact.name}; nothing has left the ledger.")

        self.editor.keep.setEnabled(False)
        self.context.do(lambda bank: sharing.keep_fill(bank, request.id, chosen), done, self._not_kept)

    def _not_kept(self, failure: Exception) -> None:
        if isinstance(failure, Refusal):
            self.editor.refuse(failure)
        else:
            self.editor.keep.setEnabled(True)
            tell_failure(self.context.tell, failure)

    # -- actions

    def new_request(self) -> None:
        """Write down who asks for what."""
        self.context.dialog("new_request", then=self._turn_to)

    def open_contacts(self) -> None:
        """Show everybody who gives or asks."""
        self.context.dialog("contacts")

    def receive_parcel(self) -> None:
        """Take in a parcel of another bank by its manifest."""
        self.context.dialog("receive")

    def print_packet_labels(self) -> None:
        """Show the labels of the packets."""
        chosen = self.chosen()
        if chosen is not None:
            printing.packet_labels(self.context, chosen.id)

    def print_parcel_label(self) -> None:
        """Show the label of the parcel."""
        chosen = self.chosen()
        if chosen is not None:
            printing.labels_for(self.context, Kind.PARCEL, [chosen.id])

    def print_address_label(self) -> None:
        """Show the address of who asks, as a label."""
        chosen = self.chosen()
        if chosen is not None:
            printing.labels_for(self.context, Kind.ADDRESS, [chosen.contact.id])

    def print_packing_list(self) -> None:
        """Show what the packer ticks."""
        chosen = self.chosen()
        if chosen is not None:
            printing.packing_list(self.context, chosen.id)

    def print_manifest(self) -> None:
        """Show what travels with the parcel."""
        chosen = self.chosen()
        if chosen is not None:
            printing.manifest(self.context, chosen.id, chosen.dispatched_on or self.context.today())

    def print_pick_list(self) -> None:
        """Show what to take out of which vials for all requests that are filled."""
        printing.pick_list(self.context, None)

    def pack_parcel(self) -> None:
        """Open the packing bench with this parcel in hand."""
        chosen = self.chosen()
        if chosen is not None:
            self.context.dialog("bench", request_id=chosen.id)

    def dispatch(self) -> None:
        """Ask for the day, then book the parcel out."""
        chosen = self.chosen()
        if chosen is not None:
            request_id = chosen.id
            self.context.dialog("dispatch", request_id=request_id, then=lambda: self._turn_to(request_id))

    def _answer(self, check: Check) -> None:
        """Acknowledge a caution of the parcel."""
        chosen = self.chosen()
        if chosen is not None:
            self.context.dialog("heed", request_id=chosen.id, check=check)

    def open_parcel(self) -> None:
        """Open a parcel again that was closed."""
        chosen = self.chosen()
        if chosen is not None:
            self.context.do(
                lambda bank: packing.reopen(bank, chosen.id),
                lambda opened: self.context.done(opened_again(opened)),
            )

    def record_fate(self) -> None:
        """Put on record that the parcel came back or was lost."""
        chosen = self.chosen()
        if chosen is not None:
            self.context.dialog("fate", request_id=chosen.id)

    def record_results(self) -> None:
        """Write down what came of the packets."""
        chosen = self.chosen()
        if chosen is not None:
            self.context.dialog("results", request_id=chosen.id)

    def close_request(self) -> None:
        """Ask once, then close the request; what is held for it is free again."""
        chosen = self.chosen()
        if chosen is None:
            return
        held = chosen.dispatched_on is None and filled(chosen) > 0
        details = "The packets held back for it become free again." if held else ""
        if self.context.tell.ask(f"Close the request of {chosen.contact.name}?", ["Close it"], details=details):
            self.context.do(lambda bank: sharing.close_request(bank, chosen.id), lambda _: self._closed(chosen))

    def _closed(self, request: Request) -> None:
        self.context.done(f"The request of {request.contact.name} is closed.")
