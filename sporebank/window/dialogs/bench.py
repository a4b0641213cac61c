"""The packing bench: scan a parcel, then its packets; what is wrong is told loudly until the next scan."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QAccessible, QAccessibleAnnouncementEvent
from PySide6.QtWidgets import QDialog, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from sporebank.core import amounts, codes
from sporebank.core.counted import counted
from sporebank.core.errors import Refusal
from sporebank.core.packing import Parcel
from sporebank.core.records import Line, Packet, Request, TaxonName
from sporebank.core.scanning import BEEPS, Misread
from sporebank.jobs.bench import Bench, View
from sporebank.window.columns import Column, taxon_column
from sporebank.window.context import Context
from sporebank.window.dialogs.room import resize_within
from sporebank.window.models import RowsModel
from sporebank.window.scan_sound import ScanSound
from sporebank.window.table import LinesTable
from sporebank.window.tell import tell_failure
from sporebank.window.widgets.simple import label

if TYPE_CHECKING:
    from sporebank.bank.bank import Bank

_STACK_WIDTH = 250


@dataclass(frozen=True)
class PacketRow:
    """A packet of the parcel in hand with its line."""

    line: Line
    packet: Packet

    @property
    def name(self) -> TaxonName:
        """Its name, for the delegate."""
        return self.line.name


PACKETS: tuple[Column[PacketRow], ...] = (
    Column("in", "In", lambda row: "✓" if row.packet.packed else "", 40, order=lambda row: row.packet.packed),
    taxon_column(190),
    Column("size", "Holds", lambda row: amounts.show(row.packet.micrograms), 66, True),
    Column("packet", "Packet", lambda row: codes.grouped(row.packet.code) if row.packet.code else "", 124),
    Column("vial", "From vial", lambda row: codes.grouped(row.packet.vial), 124),
)
STACK: tuple[Column[Parcel], ...] = (
    Column("who", "Still to pack", lambda row: row.who, 120),
    Column("state", "State", lambda row: row.state, 100),
)


class BenchDialog(QDialog):
    """Packs many parcels in a row with a hand scanner.

    Args:
        context: the open bank.
        parent: the window.
        exchange_id: whose parcels are packed; those of requests beside exchanges where it is None.
        request_id: the parcel to begin with.
    """

    def __init__(
        self,
        context: Context,
        parent: QWidget | None = None,
        *,
        exchange_id: int | None = None,
        request_id: int | None = None,
    ) -> None:
        super().__init__(parent)
        self.context = context
        self._bench = Bench(exchange_id, request_id)
        self._request: Request | None = None
        self.sound = ScanSound(context, self)
        self.setWindowTitle("Packing bench")
        self.said = label(role="heard", wrap=True)
        self.loud = label(role="loud", wrap=True)
        self.loud.hide()
        self.who, self.about = label(role="heading", wrap=True), label(role="mute", wrap=True)
        self.count = label(role="figure")
        self.packets: RowsModel[PacketRow] = RowsModel(PACKETS, self)
        self.stack: RowsModel[Parcel] = RowsModel(STACK, self)
        self.packet_table = LinesTable(self.packets, context.state, "bench packets")
        self.stack_table = LinesTable(self.stack, context.state, "bench stack")
        self.left = label(role="strong")
        self.shut = QPushButton("C&lose the parcel")
        self.out = QPushButton("&Take out")
        self._build()
        self._connect()
        context.read(self._bench.look, self._show, self._failed)
        resize_within(self, 1000, 640)

    def _build(self) -> None:
        for table, name in ((self.packet_table, "Packets of the parcel"), (self.stack_table, "Parcels still to pack")):
            table.setAccessibleName(name)
            table.setSelectionMode(LinesTable.SelectionMode.SingleSelection)
        self.shut.setProperty("primary", True)
        whose = QVBoxLayout()
        whose.setSpacing(2)
        whose.addWidget(self.who)
        whose.addWidget(self.about)
        top = QHBoxLayout()
        top.addLayout(whose, 1)
        top.addWidget(self.count, 0, Qt.AlignmentFlag.AlignTop)
        parcel = QVBoxLayout()
        parcel.addLayout(top)
        parcel.addWidget(self.packet_table, 1)
        waiting = QWidget()
        waiting.setFixedWidth(_STACK_WIDTH)
        stack = QVBoxLayout(waiting)
        stack.setContentsMargins(0, 0, 0, 0)
        stack.addWidget(self.left)
        stack.addWidget(self.stack_table, 1)
        middle = QHBoxLayout()
        middle.setSpacing(18)
        middle.addLayout(parcel, 1)
        middle.addWidget(waiting)
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 16, 20, 12)
        column.setSpacing(10)
        column.addWidget(self.said)
        column.addWidget(self.loud)
        column.addLayout(middle, 1)
        column.addLayout(self._foot())

    def _foot(self) -> QHBoxLayout:
        close = QPushButton("&Close")
        close.clicked.connect(self.reject)
        foot = QHBoxLayout()
        foot.addWidget(self.out)
        foot.addStretch(1)
        for button in (close, self.shut):
            foot.addWidget(button)
        for button in (self.out, close, self.shut):
            button.setAutoDefault(False)  # Return belongs to the scanner
        return foot

    def _connect(self) -> None:
        self.shut.clicked.connect(self.close_parcel)
        self.out.clicked.connect(self.take_out)
        self.stack_table.activated.connect(lambda index: self._turn_to(self.stack.rows[index.row()].request_id))
        self.packet_table.selectionModel().selectionChanged.connect(lambda *_: self._enable())

    # -- scans

    def take_scan(self, text: str) -> None:
        """Take the text of a label, right or wrong."""
        self._ask(lambda bank: self._bench.hear(bank, text))

    def _turn_to(self, request_id: int) -> None:
        self._ask(lambda bank: self._bench.turn_to(bank, request_id))

    def close_parcel(self) -> None:
        """Close the parcel in hand; where packets are missing, ask for the reason first."""
        request = self._request
        if request is None:
            return
        if all(packet.packed for packet in request.packets):
            self._ask(self._bench.close)
        else:
            self.context.dialog("close_parcel", request_id=request.id, then=lambda: self._ask(self._bench.look))

    def take_out(self) -> None:
        """Take the packet selected out of the parcel."""
        code = self.packets.rows[self.packet_table.chosen_rows()[0]].packet.code
        self._ask(lambda bank: self._bench.take_out(bank, code))

    def _ask(self, deed: Callable[[Bank], View]) -> None:
        self.context.do(deed, self._show, self._failed)

    # -- what is shown

    def _show(self, view: View) -> None:
        self.loud.hide()
        self.said.setText(view.said)
        self.said.show()
        self._announce(view.said)
        self._request = view.request
        self._show_parcel(view.request)
        self.stack.set_rows(list(view.stack))
        count = len(view.stack)
        self.left.setText(counted(count, "parcel is still to pack", "parcels are still to pack"))
        self._enable()
        if view.whole:
            self.shut.setFocus(Qt.FocusReason.OtherFocusReason)  # offered: the space bar closes it

    def _show_parcel(self, request: Request | None) -> None:
        lines: Sequence[Line] = () if request is None else request.lines
        self.packets.set_rows([PacketRow(line, packet) for line in lines for packet in line.filled])
        packets = () if request is None else request.packets
        packed = sum(packet.packed for packet in packets)
        self.count.setText(f"{packed} of {len(packets)}" if packets else "")
        self.who.setText("No parcel in hand" if request is None else request.contact.name)
        self.about.setText("" if request is None else _about(request))

    def _enable(self) -> None:
        request, chosen = self._request, self.packet_table.chosen_rows()
        begun = request is not None and request.packed_on is None and any(one.packed for one in request.packets)
        self.shut.setEnabled(begun)
        self.out.setEnabled(begun and bool(chosen) and self._can_leave(self.packets.rows[chosen[0]].packet))

    def _can_leave(self, packet: Packet) -> bool:
        return packet.packed and bool(packet.code)

    def _failed(self, failure: Exception) -> None:
        """Say loudly what is wrong; it stays until the next scan."""
        if not isinstance(failure, Refusal):
            tell_failure(self.context.tell, failure)
            return
        self.sound.play(BEEPS[failure.fault] if isinstance(failure, Misread) else 1)
        self.said.hide()
        self.loud.setText(str(failure))
        self.loud.show()
        self._announce(str(failure))

    def _announce(self, text: str) -> None:
        QAccessible.updateAccessibility(QAccessibleAnnouncementEvent(self, text))  # a screen reader says it


def _about(request: Request) -> str:
    country = request.contact.country
    return " · ".join(filter(None, (f"Parcel {codes.grouped(request.parcel)}", country)))
