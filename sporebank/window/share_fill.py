"""Filling a request: the vials proposed for every wish, each of which can be changed or taken out before it is kept."""

from __future__ import annotations

from collections import Counter

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QScrollArea, QVBoxLayout, QWidget

from sporebank.core import amounts, codes, names
from sporebank.core.errors import Refusal
from sporebank.core.records import Line
from sporebank.core.sharing import Filled
from sporebank.jobs.filling import Filling, Pick, by_hand
from sporebank.window.share_view import packets_of, wish_html
from sporebank.window.widgets.choice import Choice, Count
from sporebank.window.widgets.flow import FlowLayout
from sporebank.window.widgets.simple import label
from sporebank.window.words import likely


class FillEditor(QWidget):
    """Shows a proposal to be edited. Signals: `kept`, `left` and `anew` when a button is pressed."""

    kept = Signal()
    left = Signal()
    anew = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.filling: Filling | None = None
        self.cards: list[WishCard] = []
        self.who = label(role="heading", wrap=True)
        self.about = label(
            "Each vial can be changed or taken out. What is kept is held back for the parcel; nothing leaves the "
            "ledger before it is dispatched.",
            "mute",
            wrap=True,
        )
        self.message = label(role="warn", wrap=True)
        self.message.hide()
        self._wishes = QVBoxLayout()
        self._wishes.setSpacing(8)
        self.keep, self.propose, self.cancel = (QPushButton(text) for text in ("&Keep", "Propose &anew", "Cancel"))
        self.keep.setProperty("primary", True)
        for button, signal in ((self.keep, self.kept), (self.propose, self.anew), (self.cancel, self.left)):
            button.clicked.connect(lambda _=False, signal=signal: signal.emit())
        self._build()

    def _build(self) -> None:
        inside = QWidget()
        inside.setObjectName("page")
        wishes = QVBoxLayout(inside)
        wishes.setContentsMargins(0, 0, 4, 0)
        wishes.addLayout(self._wishes)
        wishes.addStretch(1)
        scroll = QScrollArea(widgetResizable=True)
        scroll.setObjectName("scroll")
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setWidget(inside)
        row = QWidget()
        foot = FlowLayout(row)
        for button in (self.keep, self.propose, self.cancel):
            foot.addWidget(button)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 0, 0, 0)
        for part, stretch in ((self.who, 0), (self.about, 0), (self.message, 0), (scroll, 1), (row, 0)):
            column.addWidget(part, stretch)

    def show_filling(self, filling: Filling) -> None:
        """Show what is proposed or held."""
        self.filling = filling
        self.message.hide()
        self.keep.setEnabled(True)
        self.who.setText(f"Fill for {filling.request.contact.name}")
        for card in self.cards:
            card.hide()
            card.deleteLater()
        self.cards = [WishCard(line, filling.chosen[line.id], filling.picks[line.id]) for line in filling.request.lines]
        for card in self.cards:
            self._wishes.addWidget(card)
        first = next((row.vial for card in self.cards for row in card.rows), self.keep)
        first.setFocus(Qt.FocusReason.OtherFocusReason)

    def chosen(self) -> dict[int, Filled]:
        """Return what is chosen for each line."""
        return {card.line.id: card.value() for card in self.cards}

    def refuse(self, refusal: Refusal) -> None:
        """Say why this cannot be kept."""
        self.message.setText(str(refusal))
        self.message.show()
        self.keep.setEnabled(True)


class WishCard(QFrame):
    """One wish with a row for each vial drawn from."""

    def __init__(self, line: Line, proposed: Filled, picks: tuple[Pick, ...]) -> None:
        super().__init__()
        self.setProperty("card", True)
        self.line, self._proposed = line, proposed
        self._picks = {pick.row.id: pick for pick in picks}
        self.rows: list[PickRow] = []
        what = QLabel(wish_html(line), wordWrap=True, textFormat=Qt.TextFormat.RichText)
        what.setProperty("role", "strong")
        self._spoken = f"Wish {line.rank}, {names.text(line.name)}"
        self.setAccessibleName(self._spoken)
        self.summary = label(wrap=True)
        self.more = QPushButton("Add a vial")
        self.more.setProperty("quiet", True)
        self.more.setAccessibleName(f"Add a vial to {self._spoken}")
        self.more.clicked.connect(self._add_next)
        self._column = QVBoxLayout()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(12, 9, 12, 10)
        layout.setSpacing(6)
        layout.addWidget(what)
        layout.addWidget(label(f"{line.rank}. wish: {packets_of(line.packets, line.packet_ug)}", "mute"))
        layout.addLayout(self._column)
        layout.addWidget(self.more, 0, Qt.AlignmentFlag.AlignLeft)
        layout.addWidget(self.summary)
        for vial_id, count in Counter(proposed.vials).items():
            if vial_id in self._picks:
                self._add(vial_id, count)
        self._sum_up()

    def value(self) -> Filled:
        """Return the vial of every packet chosen, and why what is missing is missing."""
        vials = tuple(row.vial.value() for row in self.rows for _ in range(row.count.value()))
        return by_hand(self.line.packets, vials, self._proposed)

    def _add(self, vial_id: int, count: int) -> PickRow:
        row = PickRow(tuple(self._picks.values()), vial_id, count, self.line, self._spoken)
        row.edited.connect(self._sum_up)
        row.dropped.connect(lambda: self._drop(row))
        self.rows.append(row)
        self._column.addWidget(row)
        return row

    def _add_next(self) -> None:
        used = {row.vial.value() for row in self.rows}
        free = [pick for pick in self._picks.values() if pick.row.id not in used]
        clear = [pick for pick in free if not pick.doubts]
        row = self._add((clear or free)[0].row.id, 1)
        row.vial.setFocus(Qt.FocusReason.OtherFocusReason)
        self._sum_up()

    def _drop(self, row: PickRow) -> None:
        self.rows.remove(row)
        row.hide()
        row.deleteLater()
        self._sum_up()
        self.more.setFocus(Qt.FocusReason.OtherFocusReason)

    def _sum_up(self) -> None:
        value = self.value()
        count, wished = len(value.vials), self.line.packets
        said = "All packets are chosen." if count == wished else value.unmet
        if count > wished:
            said = f"{count} packets are chosen, {wished} are wished. Take some out."
        self.summary.setProperty("role", "mute" if count == wished else "warn")
        self.summary.style().polish(self.summary)
        self.summary.setText(said)
        self.more.setVisible(count < wished and len(self._picks) > len({row.vial.value() for row in self.rows}))


class PickRow(QWidget):
    """So many packets from one vial. Signals: `edited`, and `dropped` when it is taken out."""

    edited = Signal()
    dropped = Signal()

    def __init__(self, picks: tuple[Pick, ...], vial_id: int, count: int, line: Line, spoken: str) -> None:
        super().__init__()
        self._picks = {pick.row.id: pick for pick in picks}
        self._size = line.packet_ug
        self.vial: Choice[int] = Choice([(_pick_text(pick), pick.row.id) for pick in picks])
        self.vial.set_value(vial_id)
        self.vial.setAccessibleName(f"Vial for {spoken}")
        self.count = Count(1, max(line.packets, count), count)
        self.count.setAccessibleName(f"Packets from this vial for {spoken}")
        self.count.setMinimumWidth(self.count.fontMetrics().horizontalAdvance("1000 packets") + 44)
        drop = QPushButton("Take out")
        drop.setProperty("quiet", True)
        drop.setAccessibleName(f"Take this vial out of {spoken}")
        drop.clicked.connect(self.dropped)
        self.about = label(role="small", wrap=True)
        row = QHBoxLayout()
        row.setSpacing(6)
        for widget, stretch in ((self.vial, 1), (self.count, 0), (drop, 0)):
            row.addWidget(widget, stretch)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        column.addLayout(row)
        column.addWidget(self.about)
        self.vial.edited.connect(self._changed)
        self.count.valueChanged.connect(lambda _: self._changed())
        self._tell()

    def _changed(self) -> None:
        self._tell()
        self.edited.emit()

    def _tell(self) -> None:
        pick = self._picks[self.vial.value()]
        asked = self.count.value() * self._size
        self.count.setSuffix(" packet" if self.count.value() == 1 else " packets")
        short = f"too little: {amounts.show(asked)} is asked of it" if asked > pick.free else ""
        doubts = ", ".join(part for part in (*pick.doubts, short) if part)
        said = f"{pick.row.place or 'In no place'} · {likely(pick.row.share, pick.row.state)}"
        self.about.setText(f"{said}\n⚠ {doubts[0].upper()}{doubts[1:]}." if doubts else said)
        self.vial.setAccessibleDescription(self.about.text())


def _pick_text(pick: Pick) -> str:
    row = pick.row
    mind = "⚠ " if pick.doubts else ""
    code = codes.grouped(row.code)
    return f"{mind}{code} · {row.clone} · {row.collected.label()} · {amounts.show(pick.free)} free"
