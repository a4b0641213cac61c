"""What came of packets that were sent; a complaint about a batch, with the letters that follow; how it was settled."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QCheckBox, QGridLayout, QLineEdit, QPlainTextEdit, QPushButton, QWidget

from sporebank.bank import queries
from sporebank.core import codes, counted, names
from sporebank.core.dates import day_label
from sporebank.core.results import ComplaintKind, Concern, Sent, letters
from sporebank.jobs import results
from sporebank.jobs.results import ComplaintForm, Told
from sporebank.window.context import Context
from sporebank.window.dialogs.form_dialog import FormDialog
from sporebank.window.widgets.choice import Choice
from sporebank.window.widgets.day import DayEdit
from sporebank.window.widgets.simple import label

_GERMINATED: tuple[tuple[str, bool | None], ...] = (("not told", None), ("germinated", True), ("nothing came", False))
_NAMED: tuple[tuple[str, bool | None], ...] = (("not told", None), ("true to name", True), ("something else", False))
SOMEBODY: tuple[str, int | None] = ("somebody else, or ourselves", None)


class SentRow:
    """The editors of one packet in a grid."""

    def __init__(self, sent: Sent) -> None:
        self.sent = sent
        self.germinated: Choice[bool | None] = Choice(_GERMINATED)
        self.true_name: Choice[bool | None] = Choice(_NAMED)
        self.note = QLineEdit(sent.note)
        self.germinated.set_value(sent.germinated)
        self.true_name.set_value(sent.true_name)
        what = names.text(sent.name)
        for editor, about in ((self.germinated, "germinated"), (self.true_name, "name"), (self.note, "note")):
            editor.setAccessibleName(f"{what}: {about}")

    def add_to(self, grid: QGridLayout, place: int) -> None:
        """Put the packet into a line of a grid."""
        name = label(names.html(self.sent.name))
        name.setTextFormat(Qt.TextFormat.RichText)
        for column, widget in enumerate((name, self.germinated, self.true_name, self.note)):
            grid.addWidget(widget, place, column)

    def told(self) -> Told:
        """Return what is told of the packet."""
        return Told(self.sent.packet_id, self.germinated.value(), self.true_name.value(), self.note.text())


class ResultsDialog(FormDialog):
    """What somebody tells of the packets they got, a line each.

    Args:
        context: the open bank.
        parent: the window.
        request_id: the request that was sent.
    """

    def __init__(self, context: Context, parent: QWidget | None = None, *, request_id: int) -> None:
        super().__init__(context, parent, "What came of it", "Write it down", columns=2, width=820)
        self._request_id = request_id
        self.rows: list[SentRow] = []
        self.on = DayEdit(context.today())
        self.form.add("on", "&Told on", self.on)
        self._grid = QGridLayout()
        self._grid.setHorizontalSpacing(10)
        self._grid.setColumnStretch(3, 1)
        self.column.insertLayout(2, self._grid)
        context.read(lambda bank: queries.sent_of_request(bank, request_id), self._show)

    def _show(self, sent: Sequence[Sent]) -> None:
        if not sent:
            self.say_about("Nothing of this request was sent.")
            self.go.setEnabled(False)
            return
        self.say_about(f"Sent to {sent[0].contact.name} on {day_label(sent[0].sent_on)}. Leave open what was not told.")
        for column, text in enumerate(("Packet", "Germinated", "Name", "Note")):
            self._grid.addWidget(label(text, "small"), 0, column)
        self.rows = [SentRow(one) for one in sent]
        for place, row in enumerate(self.rows, start=1):
            row.add_to(self._grid, place)

    def submit(self) -> None:
        """Write down what is told."""
        on, told, request_id = self.on.day(), [row.told() for row in self.rows], self._request_id
        self.do(lambda bank: results.record(bank, request_id, on, told), _written)


def _written(count: int) -> str:
    return "What came of 1 packet is on record." if count == 1 else f"What came of {count:,} packets is on record."


class ComplaintDialog(FormDialog):
    """What is said to be wrong with a batch; the letters to everyone it concerns are ready to copy.

    Args:
        context: the open bank.
        parent: the window.
        batch_id: the batch.
    """

    def __init__(self, context: Context, parent: QWidget | None = None, *, batch_id: int) -> None:
        super().__init__(context, parent, "Something is wrong with it", "Put it on record", columns=2, width=720)
        self._batch_id = batch_id
        self._concern: Concern | None = None
        self.kind: Choice[ComplaintKind] = Choice([(kind.value.capitalize(), kind) for kind in ComplaintKind])
        self.on = DayEdit(context.today())
        self.by: Choice[int | None] = Choice([SOMEBODY])
        self.note = QLineEdit()
        self.pull = QCheckBox("Give up the packets &held back of it")
        self.pull.setChecked(True)
        self.letters = QPlainTextEdit(readOnly=True)
        self.letters.setTabChangesFocus(True)
        self.letters.setFixedHeight(self.letters.fontMetrics().lineSpacing() * 9 + 16)
        self.copy = QPushButton("&Copy the letters")
        self.copy.setAutoDefault(False)
        self.form.add("kind", "&What is wrong", self.kind)
        self.form.add("on", "&Told on", self.on)
        self.form.add("by", "Told &by", self.by, span=2)
        self.form.add("note", "&Note", self.note, "Goes to the donor word for word, to nobody else.", span=2)
        self.form.add("letters", "&Letters that follow", self.letters, span=2)
        self.column.insertWidget(2, self.copy, 0, Qt.AlignmentFlag.AlignLeft)
        self.column.insertWidget(2, self.pull)
        self.kind.edited.connect(self._write)
        self.note.textEdited.connect(lambda _: self._write())
        self.copy.clicked.connect(self._copy)
        context.read(lambda bank: queries.concern(bank, batch_id), self._show)

    def _show(self, found: Concern) -> None:
        self._concern = found
        sent, people = len(found.sent), len(found.people())
        to = counted.counted(people, "person", "people")
        went = f"{counted.packets(sent)} of it went to {to}" if sent else "Nothing of it was sent"
        self.say_about(
            f"Batch {codes.grouped(found.batch)} of {names.text(found.name)}, clone {found.clone}. {went}. Until it is "
            "settled, nothing more of it is offered."
        )
        got = ((f"{one.contact.name}, sent {day_label(one.sent_on)}", one.packet_id) for one in found.sent)
        self.by.offer([SOMEBODY, *got])
        self.pull.setVisible(bool(found.held))
        self._write()

    def _write(self) -> None:
        if self._concern is None:
            return
        written = letters(self._concern, self.kind.value(), self.note.text().strip(), self.context.name)
        self.letters.setPlainText("\n\n—\n\n".join(text for _, text in written) or "There is nobody to write to.")
        self.copy.setEnabled(bool(written))

    def _copy(self) -> None:
        QApplication.clipboard().setText(self.letters.toPlainText())
        self.context.tell.info("The letters are on the clipboard.")

    def submit(self) -> None:
        """Put the complaint on record."""
        pull = self._concern is not None and bool(self._concern.held) and self.pull.isChecked()
        form = ComplaintForm(self._batch_id, self.on.day(), self.kind.value(), self.by.value(), self.note.text(), pull)
        said = "It is on record; nothing of the batch is offered until it is settled."
        packed = self._concern.packed if self._concern is not None and pull else ()
        if packed:
            taken = ", ".join(f"{codes.grouped(packet)} out of {codes.grouped(parcel)}" for parcel, packet in packed)
            said = f"{said} Open the parcels packed already and take {taken}."
        self.do(lambda bank: results.complain(bank, form), said)


class SettleDialog(FormDialog):
    """How a complaint ended.

    Args:
        context: the open bank.
        parent: the window.
        complaint_id: the complaint.
    """

    def __init__(self, context: Context, parent: QWidget | None = None, *, complaint_id: int) -> None:
        super().__init__(context, parent, "Settle the complaint", "Settle it", width=480)
        self._complaint_id = complaint_id
        self.how = QLineEdit()
        self.how.setPlaceholderText("such as: came true in our own pots")
        self.form.add("settled", "&How it ended", self.how, "It stays on record with the name.")

    def submit(self) -> None:
        """Settle it."""
        number, how = self._complaint_id, self.how.text()
        self.do(lambda bank: results.settle(bank, number, how), "The complaint is settled.")
