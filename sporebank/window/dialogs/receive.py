"""A parcel of another bank, seen by its manifest before it is taken in."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import (
    QDialog,
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import amounts, codes
from sporebank.core.advice import percent, span
from sporebank.core.counted import counted
from sporebank.core.dates import day_label
from sporebank.core.errors import Refusal
from sporebank.core.papers import Manifest, ManifestItem
from sporebank.core.records import Place
from sporebank.jobs.receiving import Incoming, Known, Preview, preview, read_file, take_in
from sporebank.window.columns import Column
from sporebank.window.context import Context
from sporebank.window.dialogs.room import resize_within
from sporebank.window.models import RowsModel
from sporebank.window.table import DataTable
from sporebank.window.tell import tell_failure
from sporebank.window.widgets.choice import Choice
from sporebank.window.widgets.simple import Empty, label

_FOLDER = "receive/folder"
_KINDS = "Manifests (*.json *.csv);;All files (*)"
_CHOOSE = "Choose the manifest that came with the parcel"
_NOWHERE: tuple[str, Place | None] = ("not put away yet", None)


def _alive(item: ManifestItem) -> str:
    share = item.share
    return "not known" if share is None else f"{percent(share.middle)} ({span(share.low, share.high)})"


def _says(packet: Incoming) -> str:
    if packet.problem:
        return f"⚠ {packet.problem}"
    return " ".join((f"{packet.known.value.capitalize()}.", *packet.remarks))


COLUMNS: tuple[Column[Incoming], ...] = (
    Column("line", "Line", lambda one: str(one.item.line), 44, right=True, order=lambda one: one.item.line),
    Column("taxon", "Taxon", lambda one: one.taxon, 190),
    Column("clone", "Clone", lambda one: one.clone or f"new, {one.item.clone} there", 120),
    Column("amount", "Amount", lambda one: amounts.show(one.item.micrograms), 72, right=True),
    Column("alive", "Alive there", lambda one: _alive(one.item), 120),
    Column("says", "What is known of it", _says, 330),
)


class ReceiveDialog(QDialog):
    """Reads a manifest, shows packet by packet what it would bring, and takes it in.

    Args:
        context: the open bank.
        parent: the window.
        path: the file; None asks for one.
    """

    def __init__(self, context: Context, parent: QWidget | None = None, *, path: Path | None = None) -> None:
        super().__init__(parent)
        self.context = context
        self._manifest: Manifest | None = None
        self.setWindowTitle("Receive a parcel")
        self.setAcceptDrops(True)
        self._build()
        resize_within(self, 980, 600)
        context.read(queries.places, self._offer)
        if path is not None:
            self._open(path)

    # -- building

    def _build(self) -> None:
        self.head = label(_CHOOSE, "heading", wrap=True)
        self.about = label(role="mute", wrap=True)
        self.model: RowsModel[Incoming] = RowsModel(COLUMNS, self)
        self.table = DataTable(self.model, self.context.state, "receive")
        self.table.setAccessibleName("Packets of the parcel")
        self.table.enable_sorting("line")
        self.told = label(role="warn", wrap=True)
        self.told.hide()
        self.empty = Empty(
            "share", "No manifest yet", "It is the file that ends in .json or .csv. Choose it, or drop it here.",
            "Choose the file…", self.choose,
        )  # fmt: skip
        self.pages = QStackedWidget()
        self.pages.addWidget(self.empty)
        self.pages.addWidget(self.table)
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 16, 20, 12)
        for widget in (self.head, self.about):
            column.addWidget(widget)
        column.addWidget(self.pages, 1)
        column.addWidget(self.told)
        column.addLayout(self._foot())
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._look())

    def _foot(self) -> QHBoxLayout:
        self.place: Choice[Place | None] = Choice([_NOWHERE])
        self.place.setMinimumWidth(220)
        where = QLabel("&Put into")
        where.setBuddy(self.place)
        self.place.setAccessibleName("Put into")
        self.other, self.close_button = QPushButton("Another &file…"), QPushButton("&Close")
        self.go = QPushButton("&Take it in")
        self.go.setProperty("primary", True)
        self.go.setEnabled(False)
        self.other.hide()
        foot = QHBoxLayout()
        for widget in (where, self.place):
            foot.addWidget(widget)
        foot.addStretch(1)
        for button, do in ((self.other, self.choose), (self.close_button, self.reject), (self.go, self._take_in)):
            button.setAutoDefault(False)
            button.clicked.connect(lambda _=False, do=do: do())
            foot.addWidget(button)
        return foot

    def _offer(self, found: list[tuple[Place, str, int]]) -> None:
        self.place.offer([_NOWHERE, *((path, place) for place, path, _ in found)])

    # -- the file

    def choose(self) -> None:
        """Ask for the file."""
        folder = self.context.state.get(_FOLDER, "") or str(Path.home())
        chosen, _ = QFileDialog.getOpenFileName(self, "Choose the manifest", folder, _KINDS)
        if chosen:
            self.context.state.put(_FOLDER, str(Path(chosen).parent))
            self._open(Path(chosen))

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Let a file in."""
        if any(url.isLocalFile() for url in event.mimeData().urls()):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """Read the file that was dropped."""
        event.acceptProposedAction()
        self._open(next(Path(url.toLocalFile()) for url in event.mimeData().urls() if url.isLocalFile()))

    def _open(self, path: Path) -> None:
        self._manifest = None
        self.go.setEnabled(False)
        self.context.work("Reading the manifest", lambda report, cancelled: read_file(path), self._read, self._failed)

    def _read(self, manifest: Manifest) -> None:
        self._manifest = manifest
        self.context.read(lambda bank: preview(bank, manifest), self._show, self._failed)

    def _show(self, seen: Preview) -> None:
        if seen.manifest is not self._manifest:
            return  # another file is on its way
        manifest, count = seen.manifest, len(seen.packets)
        packets = counted(count, "packet")
        self.head.setText(f"Parcel {codes.grouped(manifest.parcel)} of {manifest.bank}")
        self.about.setText(f"Sent on {day_label(manifest.sent_on)} to {manifest.recipient}: {packets}. {_new(seen)}")
        self.model.set_rows(list(seen.packets))
        self.pages.setCurrentWidget(self.table)
        self.other.show()
        wrong = sum(bool(packet.problem) for packet in seen.packets)
        self._say(seen.refusal or (f"{wrong:,} of the packets cannot be taken in, so that none is." if wrong else ""))
        self.go.setEnabled(seen.ready)
        (self.go if seen.ready else self.table).setFocus(Qt.FocusReason.OtherFocusReason)

    def _look(self) -> None:
        """Show the whole sentence of the packet selected."""
        chosen = self.table.chosen_rows()
        if len(chosen) == 1:
            self._say(_says(self.model.rows[chosen[0]]))

    def _say(self, sentence: str) -> None:
        self.told.setText(sentence)
        self.told.setVisible(bool(sentence))

    # -- taking in

    def _take_in(self) -> None:
        manifest, place = self._manifest, self.place.value()
        if manifest is None:
            return
        self.go.setEnabled(False)

        def job(bank: Bank) -> int:
            return len(take_in(bank, manifest, None if place is None else place.id))

        self.context.do(job, self._taken, self._not_taken)

    def _taken(self, count: int) -> None:
        self.accept()
        self.context.done(f"{'1 vial' if count == 1 else f'{count:,} vials'} taken in; the labels wait.")

    def _not_taken(self, failure: Exception) -> None:
        self.go.setEnabled(True)
        if isinstance(failure, Refusal):
            self._say(str(failure))
        else:
            tell_failure(self.context.tell, failure)

    def _failed(self, failure: Exception) -> None:
        if not isinstance(failure, Refusal):
            tell_failure(self.context.tell, failure)
            return
        self.head.setText(_CHOOSE)
        self.about.setText("")
        self._say("")
        self.other.hide()
        self.empty.say("This file cannot be taken in", str(failure))
        self.pages.setCurrentWidget(self.empty)


def _new(seen: Preview) -> str:
    """Return how many clones and names would be new."""
    clones = len({packet.item.clone for packet in seen.packets if not packet.clone})
    names = len({packet.taxon for packet in seen.packets if packet.known is Known.NEW})
    said = [f"{clones:,} new clone{'' if clones == 1 else 's'}" if clones else "No new clone"]
    said.append(f"{names:,} new name{'' if names == 1 else 's'}" if names else "no new name")
    return f"{said[0]}, {said[1]}."
