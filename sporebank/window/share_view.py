"""A request as the Share page tells it: who asks, what is wished, what is held for it, and what is not met and why."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from html import escape
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QGridLayout, QLabel, QPushButton, QScrollArea, QVBoxLayout, QWidget

from sporebank.bank import queries
from sporebank.core import amounts, codes, names
from sporebank.core.dates import day_label
from sporebank.core.records import Fate, Line, Packet, Request, RequestState, VialRow
from sporebank.formats.tables import load_cautions
from sporebank.jobs.parcel_checks import Check, checks
from sporebank.window.share_cautions import CautionList
from sporebank.window.widgets.band import Band
from sporebank.window.widgets.flow import FlowLayout
from sporebank.window.widgets.menu_button import MenuButton
from sporebank.window.widgets.simple import label

if TYPE_CHECKING:
    from sporebank.bank.bank import Bank

#: The buttons under a request: the method of the page, what is written on it, and what the request must have.
DEEDS = (
    ("print_packet_labels", "Packet &labels", "packets"),
    ("print_packing_list", "Pac&king list", "packets"),
    ("print_manifest", "Mani&fest", "packets"),
    ("pack_parcel", "&Pack…", "packed"),
    ("dispatch", "&Dispatch…", "packed"),
    ("close_request", "&Close request", "unclosed"),
)

_NEXT = {
    RequestState.OPEN: "Open. Fill it: the vials to draw from are proposed, and nothing leaves the ledger yet.",
    RequestState.FILLED: "Filled. The packets are held back; they leave the ledger when the parcel is dispatched.",
    RequestState.SENT: "Sent.",
    RequestState.CLOSED: "Closed.",
}


@dataclass(frozen=True)
class Told:
    """A request with the vials that its packets come from, by their ids, and the cautions of its parcel."""

    request: Request
    vials: dict[int, VialRow]
    checks: tuple[Check, ...] = ()


def read_request(bank: Bank, request_id: int) -> Told:
    """Return a request, its vials and its cautions."""
    request = queries.request(bank, request_id)
    ids = {packet.vial_id for line in request.lines for packet in line.filled}
    return Told(request, {row.id: row for row in queries.vials_by_id(bank, sorted(ids))}, checks(bank, request))


def possible(request: Request) -> frozenset[str]:
    """Return what a request has for the deeds on it: `unsent`, `by_hand`, `packets`, `packed`, `unclosed`, `sent`."""
    packets = any(line.filled for line in request.lines)
    unsent = request.dispatched_on is None and request.state in (RequestState.OPEN, RequestState.FILLED)
    has = {
        "unsent": unsent,
        "by_hand": unsent and not request.exchange,
        "packets": packets,
        "packed": packets and unsent,
        "unclosed": request.state is not RequestState.CLOSED,
        "sent": request.dispatched_on is not None,
    }
    return frozenset(word for word, holds in has.items() if holds)


def filled(request: Request) -> int:
    """Return how many packets are held or sent."""
    return sum(len(line.filled) for line in request.lines)


def wished(request: Request) -> int:
    """Return how many packets are wished."""
    return sum(line.packets for line in request.lines)


def wish_html(line: Line) -> str:
    """Return what a line wishes, with the italics of its name."""
    clone = f" · clone {escape(line.clone)}" if line.clone else ""
    return names.html(line.name) + clone


def packets_of(count: int, size: int) -> str:
    """Return packets in words: `2 packets of 2 mg`."""
    return f"{count:,} packet{'' if count == 1 else 's'} of {amounts.show(size)}"


#: What else may be labelled: the method of the page, what is written in the menu, and what the request must have.
OTHER_LABELS = (
    ("print_parcel_label", "Of the &parcel…", "packets"),
    ("print_address_label", "Of the &address…", ""),
)


class RequestView(QScrollArea):
    """Shows one request. Signals: `deed(method)` when one of its buttons is pressed."""

    deed = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setObjectName("scroll")
        self.setAccessibleName("The request chosen")
        self.who = label(role="heading", wrap=True)
        self.about = label(role="mute", wrap=True)
        self.state = label(wrap=True)
        self.note = label(role="mute", wrap=True)
        self.buttons: dict[str, QPushButton] = {}
        self.others = MenuButton(
            "&Other labels", [(text, partial(self.deed.emit, method)) for method, text, _ in OTHER_LABELS]
        )
        self.cautions = CautionList()
        self._lines = QVBoxLayout()
        self._lines.setSpacing(8)
        inside = QWidget()
        inside.setObjectName("page")
        column = QVBoxLayout(inside)
        column.setContentsMargins(12, 0, 4, 8)
        column.setSpacing(8)
        for part in (self.who, self.about, self.state, self.note):
            column.addWidget(part)
        column.addWidget(self._deeds())
        column.addWidget(self.cautions)
        column.addLayout(self._lines)
        column.addStretch(1)
        self.setWidget(inside)

    def _deeds(self) -> QWidget:
        row = QWidget()
        flow = FlowLayout(row)
        for method, text, _ in DEEDS:
            button = QPushButton(text)
            button.clicked.connect(lambda _=False, method=method: self.deed.emit(method))
            self.buttons[method] = button
        first, *rest = self.buttons.values()
        for button in (first, self.others, *rest):
            flow.addWidget(button)
        return row

    def show_request(self, told: Told) -> None:
        """Show a request."""
        request = told.request
        contact, has = request.contact, possible(request)
        self.who.setText(contact.name)
        parts = [contact.organisation, contact.country, f"received {day_label(request.received_on)}"]
        parts.append(f"order of {request.exchange}" if request.exchange else "")
        parts.append(f"parcel {codes.grouped(request.parcel)}" if request.parcel else "")
        self.about.setText(" · ".join(part for part in parts if part))
        self.state.setText(standing(request))
        self.note.setText(request.note)
        self.note.setVisible(bool(request.note))
        for method, _, needs in DEEDS:
            self.buttons[method].setEnabled(needs in has)
        for entry, (_, _, needs) in zip(self.others.entries, OTHER_LABELS, strict=True):
            entry.setEnabled(not needs or needs in has)
        self.cautions.show_checks(told.checks, open_to="unsent" in has)
        _empty(self._lines)
        for line in request.lines:
            self._lines.addWidget(LineCard(line, told.vials))
        self.setAccessibleDescription(f"{contact.name}. {self.state.text()}")


def standing(request: Request) -> str:
    """Return how far a request has come and what comes next."""
    if request.fate_on is not None:
        what = "came back" if request.fate is Fate.RETURNED else "was lost"
        return f"The parcel {what}, on record since {day_label(request.fate_on)}. They may ask again."
    if request.state is RequestState.SENT and request.dispatched_on is not None:
        return f"Sent on {day_label(request.dispatched_on)}: {filled(request)} of {wished(request)} packets."
    if request.state is RequestState.OPEN:
        return _NEXT[request.state]
    if request.state is RequestState.FILLED and request.packed_on is not None:
        gap = f" Left out because: {request.gap}." if request.gap else ""
        return f"The parcel is closed and can go: {filled(request)} of {wished(request)} packets.{gap}"
    if request.state is RequestState.FILLED and any(packet.packed for packet in request.packets):
        packed = sum(packet.packed for packet in request.packets)
        if packed == filled(request):
            return "Every packet is in the parcel. Close it at the bench, or dispatch it."
        return f"Packing: {packed} of {filled(request)} packets are in the parcel."
    return f"{_NEXT[request.state]} {filled(request)} of {wished(request)} packets."


class LineCard(QFrame):
    """One wish: what, how much of it is met and from which vials, and why the rest is not."""

    def __init__(self, line: Line, vials: dict[int, VialRow]) -> None:
        super().__init__()
        self.setProperty("card", True)
        self.what = QLabel(wish_html(line), wordWrap=True, textFormat=Qt.TextFormat.RichText)
        self.what.setProperty("role", "strong")
        self.unmet = label(_unmet(line), "warn", wrap=True)
        self.unmet.setVisible(bool(self.unmet.text()))
        whole = packets_of(line.packets, line.packet_ug)
        met = f"{len(line.filled)} of {whole}" if line.filled else f"{whole} wished"
        grid = QGridLayout(self)
        grid.setContentsMargins(12, 9, 12, 10)
        grid.setHorizontalSpacing(10)
        grid.setVerticalSpacing(4)
        grid.setColumnStretch(1, 1)
        grid.addWidget(label(f"{line.rank}.", "mute"), 0, 0, Qt.AlignmentFlag.AlignTop)
        grid.addWidget(self.what, 0, 1)
        grid.addWidget(label(met, "mute"), 1, 1)
        for widget in (*_vials(line.filled, vials), *cautions(line), self.unmet):
            grid.addWidget(widget, grid.rowCount(), 1)
        spoken = (names.text(line.name), line.clone, met, self.unmet.text())
        self.setAccessibleName(". ".join(part for part in spoken if part))


def _unmet(line: Line) -> str:
    return line.unmet if len(line.filled) < line.packets else ""


def _vials(packets: Sequence[Packet], vials: dict[int, VialRow]) -> list[QWidget]:
    """Return two lines for each vial: how many packets from which one and where; how alive it is."""
    found: list[QWidget] = []
    for vial_id, count in Counter(packet.vial_id for packet in packets).items():
        row = vials[vial_id]
        packet = next(one for one in packets if one.vial_id == vial_id)
        found.append(label(f"{count} × {codes.grouped(row.code)} · {packet.place or 'in no place'}", wrap=True))
        found.append(label(f"clone {row.clone} · {amounts.show(row.left)} left", "small"))
        band = Band()
        band.set_share(row.share, row.state)
        found.append(band)
    return found


def cautions(line: Line) -> list[QWidget]:
    """Return what must be minded when this taxon is given away."""
    known = load_cautions()
    said = (known.invasive(line.name), known.protected(line.name))
    return [label(sentence, "small", wrap=True) for sentence in said if sentence]


def _empty(layout: QVBoxLayout) -> None:
    while (item := layout.takeAt(0)) is not None:
        widget = item.widget()
        if widget is not None:
            widget.hide()
            widget.deleteLater()
