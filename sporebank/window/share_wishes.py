"""The wishes of a new request: a row each, in the order of rank, moved up and down."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import names
from sporebank.core.errors import Refusal
from sporebank.core.records import Clone, Taxon
from sporebank.jobs.sharing import Wish
from sporebank.window.context import Context
from sporebank.window.widgets.choice import Choice, Count, WordEdit
from sporebank.window.widgets.editors import AmountEdit
from sporebank.window.widgets.simple import label

ANY: tuple[str, int | None] = ("any clone", None)


class WishRow(QWidget):
    """One wish. Signals: `moved(-1 or 1)` and `dropped` when its buttons or keys ask for it."""

    moved = Signal(int)
    dropped = Signal()

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._taxa: dict[str, int] = {}
        self._clones: frozenset[str] = frozenset()
        self.rank = label("1.", "mute")
        self.what = WordEdit("taxon, or the code of a clone")
        self.clone: Choice[int | None] = Choice([ANY])
        self.packets = Count(1, 1000, 1)
        self.each = AmountEdit()
        self.each.line.setMinimumWidth(60)
        self.each.said.setMinimumWidth(0)
        self.up, self.down, self.drop = QPushButton("↑"), QPushButton("↓"), QPushButton("×")
        self.error = label(role="error", wrap=True)
        self.error.hide()
        self._build()
        self.what.edited.connect(self._look)
        self.up.clicked.connect(lambda: self.moved.emit(-1))
        self.down.clicked.connect(lambda: self.moved.emit(1))
        self.drop.clicked.connect(self.dropped)

    def _build(self) -> None:
        keys = QHBoxLayout()
        keys.setSpacing(0)
        for button in (self.up, self.down, self.drop):
            button.setProperty("quiet", True)
            button.setAutoDefault(False)
            button.setFixedWidth(button.fontMetrics().height() * 2)
            keys.addWidget(button)
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(2)
        widgets = (self.rank, self.what, self.clone, self.packets, self.each)
        for column, (widget, stretch) in enumerate(zip(widgets, (0, 6, 3, 0, 3), strict=True)):
            grid.addWidget(widget, 0, column)
            grid.setColumnStretch(column, stretch)
        grid.addLayout(keys, 0, len(widgets))
        grid.addWidget(self.error, 1, 1, 1, len(widgets))

    def set_rank(self, rank: int) -> None:
        """Say which wish this is, also to a screen reader."""
        self.rank.setText(f"{rank}.")
        for widget, what in (
            (self.what, "taxon or clone"), (self.clone, "clone"), (self.packets, "packets"),
            (self.each, "milligrams in a packet"), (self.up, "move up"), (self.down, "move down"),
            (self.drop, "take out"),
        ):  # fmt: skip
            widget.setAccessibleName(f"Wish {rank}: {what}")
            widget.setToolTip(what.capitalize())

    def offer(self, taxa: dict[str, int], clones: frozenset[str]) -> None:
        """Offer what the bank has."""
        self._taxa, self._clones = taxa, clones
        self.what.offer([*taxa, *sorted(clones)])

    def is_empty(self) -> bool:
        """Return whether nothing is wished here."""
        return not self.what.text().strip()

    def value(self) -> Wish:
        """Return the wish.

        Raises:
            Refusal: it names nothing that the bank knows, or no amount; the sentence is shown in the row already.
        """
        try:
            if self.is_empty():
                raise Refusal("Name a taxon or a clone, and say how many packets.")
            taxon_id = self._taxa.get(self.what.text().strip())
            if taxon_id is None:
                raise Refusal(f"The bank knows no “{self.what.text().strip()}”. Choose a name from the list.")
            size = self.each.value()
            if size is None or size <= 0:
                raise Refusal("Say how much a packet holds, such as 2 mg.")
        except Refusal as refusal:
            raise self.refuse(str(refusal)) from refusal
        clone_id = self.clone.value()
        of = {"taxon_id": taxon_id} if clone_id is None else {"clone_id": clone_id}
        return Wish(self.packets.value(), size, **of)

    def refuse(self, sentence: str) -> Refusal:
        """Show what is wrong with this wish, go there, and return it as a refusal of the field `wish`."""
        self.error.setText(f"⚠ {sentence}")
        self.error.show()
        self.what.setFocus(Qt.FocusReason.OtherFocusReason)
        return Refusal(sentence, field="wish")

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Move up and down with Alt and the arrow keys."""
        step = {Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1}.get(Qt.Key(event.key()))
        if step is not None and event.modifiers() & Qt.KeyboardModifier.AltModifier:
            self.moved.emit(step)
        else:
            super().keyPressEvent(event)

    def _look(self) -> None:
        """Offer the clones of the taxon written, or take the taxon of the clone whose code is."""
        self.error.hide()
        text = self.what.text().strip()
        if text in self._clones:
            self._context.read(lambda bank: _of_code(bank, text), self._take_clone)
        elif text in self._taxa:
            self._context.read(lambda bank: queries.clones_of(bank, self._taxa[text]), self._offer_clones)
        else:
            self.clone.offer([ANY])

    def _offer_clones(self, clones: Sequence[Clone]) -> None:
        self.clone.offer([ANY, *((one.code, one.id) for one in clones)])

    def _take_clone(self, found: tuple[Clone, Sequence[Clone]] | None) -> None:
        if found is not None and self.what.text().strip() == found[0].code:
            self.what.show_text(names.text(found[0].taxon.name))
            self._offer_clones(found[1])
            self.clone.set_value(found[0].id)


def _of_code(bank: Bank, code: str) -> tuple[Clone, Sequence[Clone]] | None:
    clone = queries.clone_by_code(bank, code)
    return None if clone is None else (clone, queries.clones_of(bank, clone.taxon.id))


class Wishes(QWidget):
    """The rows. There is always one; empty ones count for nothing."""

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._taxa: dict[str, int] = {}
        self._clones: frozenset[str] = frozenset()
        self._packet_ug: int | None = None
        self.rows: list[WishRow] = []
        self._column = QVBoxLayout()
        self._column.setSpacing(6)
        self.more = QPushButton("&Add a wish")
        self.more.setProperty("quiet", True)
        self.more.setAutoDefault(False)
        self.more.clicked.connect(self._add_and_go)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(label("Taxon or clone · which clone · packets · milligrams in each", "small", wrap=True))
        layout.addLayout(self._column)
        layout.addWidget(self.more, 0, Qt.AlignmentFlag.AlignLeft)
        self.setFocusProxy(self.more)
        self.add()

    def offer(self, taxa: Sequence[Taxon], clones: Sequence[str], packet_ug: int) -> None:
        """Offer what the bank has, and the usual packet."""
        self._taxa = {names.text(one.name): one.id for one in taxa}
        self._clones, self._packet_ug = frozenset(clones), packet_ug
        for row in self.rows:
            row.offer(self._taxa, self._clones)
            if row.is_empty():
                row.each.set_value(packet_ug)

    def add(self) -> WishRow:
        """Add an empty row."""
        row = WishRow(self._context)
        row.offer(self._taxa, self._clones)
        row.each.set_value(self._packet_ug)
        row.moved.connect(lambda step: self._move(row, step))
        row.dropped.connect(lambda: self._drop(row))
        self.rows.append(row)
        self._arrange()
        return row

    def value(self) -> tuple[Wish, ...]:
        """Return the wishes in the order of rank.

        Raises:
            Refusal: one of them is wrong, or there is none; the sentence is shown in its row already.
        """
        for row in self.rows:
            row.error.hide()
        return tuple(row.value() for row in self.rows if not row.is_empty()) or (self.rows[0].value(),)

    def _add_and_go(self) -> None:
        self.add().what.setFocus(Qt.FocusReason.OtherFocusReason)

    def _move(self, row: WishRow, step: int) -> None:
        before = self.rows.index(row)
        after = min(max(before + step, 0), len(self.rows) - 1)
        self.rows.insert(after, self.rows.pop(before))
        self._arrange()

    def _drop(self, row: WishRow) -> None:
        self.rows.remove(row)
        self._column.removeWidget(row)
        row.hide()
        row.deleteLater()
        if self.rows:
            self._arrange()
        else:
            self.add()
        self.more.setFocus(Qt.FocusReason.OtherFocusReason)

    def _arrange(self) -> None:
        previous: QWidget | None = None
        for number, row in enumerate(self.rows):
            self._column.removeWidget(row)
            self._column.insertWidget(number, row)
            row.set_rank(number + 1)
            row.up.setEnabled(number > 0)
            row.down.setEnabled(number + 1 < len(self.rows))
            if previous is not None:
                QWidget.setTabOrder(previous, row.what)
            for before, after in zip(_stops(row), _stops(row)[1:], strict=False):
                QWidget.setTabOrder(before, after)
            previous = row.drop
        if previous is not None:
            QWidget.setTabOrder(previous, self.more)


def _stops(row: WishRow) -> list[QWidget]:
    return [row.what, row.clone, row.packets, row.each.line, row.up, row.down, row.drop]
