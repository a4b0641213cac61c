"""A stocktake: scan everything, see the box fill in, and write at the end what was found otherwise."""

from __future__ import annotations

from datetime import date
from functools import partial
from typing import Any

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QDialog,
    QHBoxLayout,
    QPushButton,
    QSizePolicy,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core.counted import counted
from sporebank.core.dates import day_label
from sporebank.core.errors import Refusal
from sporebank.core.records import Place
from sporebank.core.scanning import BEEPS
from sporebank.core.stocktake import (
    Answer,
    Heard,
    Line,
    Plan,
    Protocol,
    Stocktake,
    Way,
    resumed,
)
from sporebank.jobs import stocktake as jobs
from sporebank.window.context import Context
from sporebank.window.dialogs.room import resize_within
from sporebank.window.pictures import PictureDoor, Source, Then, Use
from sporebank.window.scan_sound import ScanSound
from sporebank.window.stocktake_grid import LEGEND, StockGrid
from sporebank.window.stocktake_result import ResultView
from sporebank.window.tell import tell_failure
from sporebank.window.widgets.choice import Choice
from sporebank.window.widgets.simple import Chips, label

KEEP_AFTER_MS = 1000
MOST_TOLD = 3
_FIGURES = (
    ("right", "right"),
    ("missing", "still missing"),
    ("wrong", "in the wrong slot"),
    ("strangers", "strangers"),
)


class StocktakeDialog(QDialog):
    """Counts what lies in a place and all in it. A half-done stocktake is kept when the dialog is closed.

    Args:
        context: the open bank.
        parent: the window.
        place_id: the place to begin with; the whole bank where it is None.
    """

    def __init__(self, context: Context, parent: QWidget | None = None, *, place_id: int | None = None) -> None:
        super().__init__(parent)
        self.context, self._place_id = context, place_id
        self.taken: Stocktake | None = None
        self._early: list[str] = []
        self._day = ""  # of the last scan
        self._said: list[str] = []
        self._written = False
        self.sound = ScanSound(context, self)
        self.pictures = PictureDoor(context, self)
        self._keeping = QTimer(self, singleShot=True, interval=KEEP_AFTER_MS)
        self._keeping.timeout.connect(self.keep)
        self.setWindowTitle("Stocktake")
        self._build()
        self._connect()
        context.read(queries.places, self._offer_scopes)
        self._read()
        resize_within(self, 1040, 660)

    # -- building

    def _build(self) -> None:
        self.scope: Choice[int | None] = Choice()
        self.scope.setAccessibleName("What is gone through")
        self.scope.setMinimumContentsLength(20)
        self.ways = Chips("How", tuple((way.value, way.value.capitalize()) for way in Way))
        self.parts: Choice[int] = Choice()
        self.parts.setAccessibleName("The box in hand")
        self.parts.setMinimumContentsLength(20)
        self.grid = StockGrid()
        self.message = label(role="warn", wrap=True)
        self.message.hide()
        self.found = ResultView(self.context)
        self.pages = QStackedWidget()
        self.pages.addWidget(self._scanning_page())
        self.pages.addWidget(self.found)
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 16, 20, 12)
        column.addWidget(self.message)
        column.addWidget(self.pages, 1)
        column.addLayout(self._foot())

    def _scanning_page(self) -> QWidget:
        page = QWidget()
        top = QHBoxLayout()
        for widget, stretch in ((self.scope, 3), (self.parts, 3), (self.ways, 0)):
            top.addWidget(widget, stretch)
        left = QVBoxLayout()
        left.addWidget(self.grid, 1)
        left.addWidget(label(LEGEND, "small", wrap=True))
        middle = QHBoxLayout()
        middle.setSpacing(18)
        middle.addLayout(left, 1)
        middle.addWidget(self._told())
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(top)
        column.addLayout(middle, 1)
        return page

    def _told(self) -> QWidget:
        told = QWidget()
        told.setFixedWidth(270)
        column = QVBoxLayout(told)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(3)
        self.figures = {key: label("0", "figure") for key, _ in _FIGURES}
        self.words = {key: label(words) for key, words in _FIGURES}
        for key, _ in _FIGURES:
            row = QHBoxLayout()
            self.figures[key].setMinimumWidth(96)
            row.addWidget(self.figures[key])
            row.addWidget(self.words[key], 1)
            column.addLayout(row)
        self.hint = label(role="mute", wrap=True)
        self.last = label(role="strong", wrap=True)
        self.earlier = label(role="mute", wrap=True)
        for widget in (self.hint, self.last, self.earlier):
            widget.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Minimum)
            column.addWidget(widget)
        column.addStretch(1)
        return told

    def _foot(self) -> QHBoxLayout:
        self.anew = QPushButton("Begin &anew")
        self.picture = QPushButton("Read a p&icture…")
        self.picture.setToolTip("Count the labels in a photo, in any order; it can also be dropped or pasted here")
        self.back = QPushButton("&Back to scanning")
        self.paper = QPushButton("&Protocol…")
        self.finish = QPushButton("&Result")
        self.write = QPushButton("&Write the corrections")
        close = QPushButton("&Close")
        close.clicked.connect(self.reject)
        foot = QHBoxLayout()
        for button in (self.anew, self.picture, self.back):
            foot.addWidget(button)
        foot.addStretch(1)
        for button in (self.paper, close, self.finish, self.write):
            foot.addWidget(button)
        for button in (self.anew, self.picture, self.back, self.paper, close, self.finish, self.write):
            button.setAutoDefault(False)  # Return belongs to the scanner
        for button in (self.finish, self.write):
            button.setProperty("primary", True)
        return foot

    def _connect(self) -> None:
        self.scope.edited.connect(self._change_scope)
        self.ways.chosen.connect(self._change_way)
        self.parts.edited.connect(lambda: self._turn_to(self.parts.value()))
        self.grid.stepped.connect(self._step)
        self.grid.chosen.connect(self._mark)
        self.anew.clicked.connect(self._begin_anew)
        self.picture.clicked.connect(self.pictures.open)
        self.pictures.given.connect(self._read_pictures)
        QShortcut(QKeySequence(QKeySequence.StandardKey.Paste), self, self.pictures.paste)
        self.finish.clicked.connect(self.show_result)
        self.back.clicked.connect(self._go_back)
        self.write.clicked.connect(self._write)
        self.paper.clicked.connect(self._show_paper)
        self.found.changed.connect(self._enable)

    # -- what is gone through

    def _offer_scopes(self, listed: list[tuple[Place, str, int]]) -> None:
        self.scope.offer([(jobs.WHOLE.capitalize(), None), *((path, place.id) for place, path, _ in listed)])
        self.scope.set_value(self._place_id)

    def _read(self) -> None:
        """Read once what should be where; from then on everything is matched in memory."""
        place_id = self._place_id
        self.taken = None
        self._enable()
        self.context.read(lambda bank: jobs.plan(bank, place_id), self._begin, self._failed)

    def _key(self) -> str:
        return f"stocktake/{self.context.tag}/{self._place_id or 'bank'}"

    def _begin(self, plan: Plan) -> None:
        kept: dict[str, Any] = self.context.state.get(self._key(), {})
        way = self.context.state.get("stocktake/way", Way.ANY)
        self.taken = resumed(plan, kept) if kept else Stocktake(plan, way)
        self.message.hide()
        self._written = False
        self._tell([])
        self._day = kept.get("on", "")
        if self.taken.begun():
            self._tell_day()
        self.ways.set_chosen(self.taken.way.value)
        self.parts.offer([(part.path, part.place_id) for part in plan.parts])
        self.pages.setCurrentIndex(0)
        self.grid.setFocus(Qt.FocusReason.OtherFocusReason)
        early, self._early = self._early, []
        self._show()
        for text in early:
            self.take_scan(text)

    def _tell_day(self) -> None:
        """Say of which day a stocktake is that is gone on with; of another day than this, where it stands out."""
        on = f" on {day_label(date.fromisoformat(self._day))}" if self._day else ""
        self._tell([f"Gone on with where you left it{on}."])
        if self._day != self.context.today().isoformat():
            self.message.setText(f"This was scanned{on or ' some time ago'}. Press “Begin anew” to count afresh.")
            self.message.show()

    def _change_scope(self) -> None:
        self.keep()
        self._place_id = self.scope.value()
        self._read()

    def _change_way(self, way: str) -> None:
        if self.taken is None or way == self.taken.way.value:
            return
        self.message.hide()
        if self._may_forget():
            self.taken.begin_anew(Way(way))
            self.context.state.put("stocktake/way", way)
            self.keep()
            self._tell([])
        self.ways.set_chosen(self.taken.way.value)
        self._show()
        self.grid.setFocus(Qt.FocusReason.OtherFocusReason)

    def _begin_anew(self) -> None:
        if self.taken is not None and self._may_forget():
            self.taken.begin_anew(self.taken.way)
            self.keep()
            self._read()

    def _may_forget(self) -> bool:
        if self.taken is None or not self.taken.begun():
            return True
        return bool(self.context.tell.ask("Forget what was scanned so far?", ["Forget it"], careful=True))

    # -- scanning

    def take_scan(self, text: str) -> None:
        """Take the text of a label, right or wrong; one that comes before the bank was read waits."""
        if self._written and self.taken is not None:
            self._read()  # what is scanned after the end belongs to the next stocktake
        if self.taken is None:
            self._early.append(text)
            return
        answer = self.taken.take(text)
        loud = {Heard.WRONG: 1, Heard.STRANGER: 2, Heard.REFUSED: 1}
        self.sound.play(BEEPS[answer.fault] if answer.fault else loud.get(answer.heard, 0))
        self._hear(answer)

    def _read_pictures(self, sources: list[Source]) -> None:
        if self.taken is None or self._written:
            return
        if self.taken.way is Way.SLOTS:
            self._failed(Refusal("A picture does not tell which slot is empty. Choose “In any order” to count it."))
            return
        here = self.taken.plan.part(self.taken.at).path
        use = Use(f"Each label will count as lying in {here}.", self._count_from_picture, strangers=True)
        self.context.dialog("picture", sources=sources, use=use)

    def _count_from_picture(self, text: str, then: Then) -> None:
        assert self.taken is not None
        answer = self.taken.take(text)
        self._hear(answer)
        then(f"{answer.heard.value.capitalize()}: {answer.text}", answer.heard is not Heard.REFUSED)

    def _hear(self, answer: Answer) -> None:
        if self.pages.currentIndex() == 1:
            self._go_back()
        self._tell([f"{answer.heard.value.capitalize()}: {answer.text}", *self._said])
        self._day = self.context.today().isoformat()
        self.message.hide()
        self._keeping.start()
        self._show()

    def _tell(self, said: list[str]) -> None:
        """Say what the last scans were, the latest first."""
        self._said = said[:MOST_TOLD]
        self.last.setText("".join(said[:1]))
        self.earlier.setText("\n".join(self._said[1:]))

    def _turn_to(self, place_id: int) -> None:
        if self.taken is not None:
            self.taken.turn_to(place_id)
            self._show()
            self.grid.setFocus(Qt.FocusReason.OtherFocusReason)

    def _step(self, by: int) -> None:
        if self.taken is not None and self.taken.way is Way.SLOTS:
            self.taken.step(by)
            self._show()

    def _mark(self, slot: int) -> None:
        if self.taken is not None and self.taken.way is Way.SLOTS:
            self.taken.turn_to(self.taken.at, slot)
            self._show()

    def _show(self) -> None:
        taken = self.taken
        if taken is None:
            return
        counts = taken.counts()
        for key, figure in self.figures.items():
            figure.setText(f"{getattr(counts, key):,}")
        self.words["strangers"].setText("stranger" if counts.strangers == 1 else "strangers")
        part = taken.plan.part(taken.at)
        self.parts.set_value(taken.at)
        marked = taken.way is Way.SLOTS and bool(part.size)
        self.grid.show_box(part, taken.here(taken.at), taken.slot if marked else None)
        self.hint.setText(_hint(taken))
        self._enable()

    def _enable(self) -> None:
        scanning = self.pages.currentIndex() == 0
        for button in (self.anew, self.picture, self.finish):
            button.setVisible(scanning)
        self.back.setVisible(not scanning)
        self.picture.setEnabled(self.taken is not None and self.taken.way is Way.ANY)
        self.back.setEnabled(not self._written)
        self.write.setVisible(not scanning)
        self.paper.setVisible(not scanning)
        self.finish.setEnabled(self.taken is not None)
        self.write.setEnabled(not scanning and not self._written and bool(self.found.corrected()))

    # -- the end

    def show_result(self) -> None:
        """Show what was found, in its four groups."""
        if self.taken is not None:
            taken = self.taken.copied()  # the bank is read while more may be scanned
            self.context.read(lambda bank: jobs.result(bank, taken), partial(self._show_lines, taken), self._failed)

    def _show_lines(self, taken: Stocktake, lines: tuple[Line, ...]) -> None:
        if taken != self.taken:
            return  # more was scanned meanwhile, which the keeper looks at
        self.found.show_lines(lines, taken.plan)
        self.pages.setCurrentIndex(1)
        self.found.table.setFocus(Qt.FocusReason.OtherFocusReason)
        self._enable()

    def _go_back(self) -> None:
        if self._written:
            self._read()
            return
        self.message.hide()
        self.pages.setCurrentIndex(0)
        self.grid.setFocus(Qt.FocusReason.OtherFocusReason)
        self._enable()

    def _write(self) -> None:
        taken = self.taken
        if taken is None:
            return
        wanted, title, today = self.found.corrected(), taken.plan.title, self.context.today()
        self.write.setEnabled(False)
        self.context.do(lambda bank: jobs.correct(bank, title, wanted, today), self._corrected, self._failed)

    def _corrected(self, count: int) -> None:
        self._written = True
        self._keeping.stop()
        self.context.state.put(self._key(), {})
        written = counted(count, "correction is", "corrections are")
        put = " Put what goes into a first free slot into the one named." if self.found.names_slots() else ""
        self.found.right.setText(f"{written} in the bank.{put} The protocol says so; undo takes all back at once.")
        self.context.done(f"{written} in the bank.")
        self._enable()

    def _show_paper(self) -> None:
        taken, lines, chosen = self.taken, self.found.lines, self.found.chosen()
        written = self._written
        if taken is None:
            return

        def gather(bank: Bank) -> Protocol:
            return jobs.protocol(bank, taken, lines, chosen, written=written)

        def render(record: Protocol) -> bytes:
            from sporebank.documents import stocktake as document  # brings ReportLab

            return document.render(record)

        self.context.dialog("paper", title="Stocktake", file_name="stocktake.pdf", gather=gather, render=render)

    def _failed(self, failure: Exception) -> None:
        self._enable()
        if isinstance(failure, Refusal):
            self.message.setText(str(failure))
            self.message.show()
        else:
            tell_failure(self.context.tell, failure)

    # -- keeping it

    def keep(self) -> None:
        """Keep a half-done stocktake, so that it can be gone on with."""
        if self.taken is not None and not self._written:
            kept = {**self.taken.kept(), "on": self._day} if self.taken.begun() else {}
            self.context.state.put(self._key(), kept)

    def done(self, result: int) -> None:
        """Close, and keep what was scanned."""
        self.keep()
        super().done(result)


def _hint(taken: Stocktake) -> str:
    part = taken.plan.part(taken.at)
    if not part.size:
        return "Scan all that lies here. Scan a box to turn to it."
    if taken.way is Way.SLOTS:
        return f"Scan {taken.slot_said()}. Space leaves it empty, Left goes back, a click goes anywhere."
    return "Scan all vials of this box in any order. Scan another box to turn to it."
