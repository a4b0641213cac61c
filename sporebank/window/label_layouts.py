"""Layouts of labels: those of the program, and the keeper's own with every field seen as it will be printed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QImage, QResizeEvent
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QListWidget,
    QPushButton,
    QScrollArea,
    QSplitter,
    QVBoxLayout,
    QWidget,
)

from sporebank.core.errors import Refusal
from sporebank.core.label_examples import examples
from sporebank.core.layout import SYMBOL, TEXTS, Fault, Field, Kind, Layout, faults
from sporebank.core.sheets import roll
from sporebank.jobs.label_stock import keep_layout, remove_layout
from sporebank.window.background import Cancelled, Report
from sporebank.window.columns import Column
from sporebank.window.context import Context
from sporebank.window.label_field_form import FieldForm, LabelForm, show_faults
from sporebank.window.label_stock_tab import Stocked, StockEditor, StockTab, whose
from sporebank.window.widgets.label_picture import LEAST_HEIGHT, LabelPicture
from sporebank.window.widgets.simple import label

T = TypeVar("T", Layout, Field)
PAUSE_MS = 150
MOST_SAID = 3
LEAST_LIST = 118
_EXAMPLES = ("The long example", "The short example")
_KINDS = list(Kind)
EMPTY = Layout("", "", Kind.VIAL, 1.0, 1.0, ())

LAYOUTS = Stocked[Layout](
    kind="layout",
    name="Layouts",
    columns=(
        Column("title", "Layout", lambda one: one.title, 196),
        Column("own", "Whose", whose, 58),
    ),
    of=lambda found: sorted(found.layouts, key=lambda one: _KINDS.index(one.kind)),
    keep=keep_layout,
    remove=remove_layout,
)


@dataclass(frozen=True)
class Drawn:
    """Two examples as they will be printed, and what of them will not be."""

    images: tuple[QImage, ...]
    troubles: tuple[str, ...]


class LayoutsTab(StockTab[Layout]):
    """Every layout of labels, kind by kind."""

    def __init__(self, context: Context) -> None:
        super().__init__(context, LAYOUTS, LayoutEditor(context))


class LayoutEditor(StockEditor[Layout]):
    """A layout with its fields; what is written is checked and drawn as one types."""

    def __init__(self, context: Context) -> None:
        super().__init__()
        self._context = context
        self._layout, self._own, self._wish = EMPTY, False, 0
        self._faults: tuple[Fault, ...] = ()
        self.picture = LabelPicture()
        self.troubles, self.wrong = label(role="warn", wrap=True), label(role="warn", wrap=True)
        self.label_form, self.field_form = LabelForm(), FieldForm()
        self.fields = QListWidget()
        self.fields.setAccessibleName("Fields")
        self.fields.setSpacing(2)
        self.fields.setMinimumHeight(LEAST_LIST)
        self.add, self.drop = QPushButton("&Add"), QPushButton("Take &out")
        self.up, self.down = QPushButton("&Up"), QPushButton("&Down")
        self._pause = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._pause.timeout.connect(self._draw)
        self._build()
        self._connect()

    def _build(self) -> None:
        """Put everything in its place from the outside in: what is moved is dressed anew with all that it holds."""
        split, lower, inside = QSplitter(Qt.Orientation.Vertical), QWidget(), QWidget()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(split)
        split.setChildrenCollapsible(False)
        split.addWidget(self.picture)
        split.addWidget(lower)
        split.setStretchFactor(0, 2)
        split.setStretchFactor(1, 5)
        scroll = QScrollArea(widgetResizable=True)
        scroll.setObjectName("scroll")
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        below = QVBoxLayout(lower)
        below.setContentsMargins(0, 6, 0, 0)
        below.addWidget(self.troubles)
        below.addWidget(scroll, 1)
        inside.setObjectName("page")
        scroll.setWidget(inside)
        whole = QVBoxLayout(inside)
        whole.setContentsMargins(0, 0, 8, 0)
        whole.setSpacing(12)
        whole.addWidget(self.label_form)
        whole.addLayout(self._both(), 1)
        self.setFocusProxy(self.label_form.title)

    def _both(self) -> QHBoxLayout:
        left, right, deeds, both = QVBoxLayout(), QVBoxLayout(), QHBoxLayout(), QHBoxLayout()
        deeds.setSpacing(4)  # so that both columns stand side by side on a screen 800 wide
        for button in (self.add, self.drop, self.up, self.down):
            button.setProperty("quiet", True)
            deeds.addWidget(button)
        deeds.addStretch(1)
        left.addWidget(self.fields, 1)
        left.addLayout(deeds)
        left.addWidget(self.wrong)
        right.addWidget(self.field_form)
        right.addStretch(1)
        both.setSpacing(18)
        both.addLayout(left, 1)
        both.addLayout(right, 1)
        return both

    def _connect(self) -> None:
        self.label_form.edited.connect(self._edit)
        self.field_form.edited.connect(self._edit)
        self.fields.currentRowChanged.connect(self._show_field)
        self.picture.chosen.connect(self.fields.setCurrentRow)
        self.picture.resized.connect(self._pause.start)
        self.add.clicked.connect(self._add)
        self.drop.clicked.connect(self._drop)
        self.up.clicked.connect(lambda: self._move(-1))
        self.down.clicked.connect(lambda: self._move(1))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Leave most of a small screen to the numbers, and give the labels more of a large one."""
        super().resizeEvent(event)
        self.picture.setMinimumHeight(max(LEAST_HEIGHT, self.height() // 4))

    # -- what the tab asks

    def show_one(self, one: Layout, own: bool) -> None:
        """Show a layout from its first field; only the keeper's own may be changed."""
        hand = max(0, self._hand()) if one.fields == self._layout.fields else 0
        self._layout, self._own = one, own
        self.label_form.show_layout(one)
        self.label_form.setEnabled(own)
        self.field_form.setEnabled(own)
        self._list(hand)

    def written(self) -> Layout | None:
        """Return the layout as it is written, or None where a number is wrong."""
        return None if self._faults else self._layout

    def why_not(self) -> str:
        """Return why it cannot be kept, or ""."""
        return self._faults[0].sentence if self._faults else ""

    def refuse(self, refusal: Refusal) -> bool:
        """Show a refusal beside its field."""
        return self.label_form.refuse(refusal)

    # -- what the keeper does

    def _hand(self) -> int:
        return self.fields.currentRow()

    def _list(self, hand: int) -> None:
        """List the fields anew, one of them in hand."""
        self.fields.blockSignals(True)
        self.fields.clear()
        self.fields.addItems([" "] * len(self._layout.fields))
        self.fields.setCurrentRow(min(hand, len(self._layout.fields) - 1))
        self.fields.blockSignals(False)
        self._show_field(self._hand())

    def _show_field(self, place: int) -> None:
        self.field_form.setVisible(place >= 0)
        if place >= 0:
            self.field_form.show_field(self._layout.kind, self._layout.fields[place])
        self._edit()

    def _edit(self) -> None:
        """Read what is written; where a number cannot be read, the last one that could stands in the picture."""
        unread: list[Fault] = []
        layout, hand = _read(self.label_form.written, self._layout, (), unread), self._hand()
        if hand >= 0:
            fields = list(layout.fields)
            fields[hand] = _read(self.field_form.written, fields[hand], (hand,), unread)
            layout = replace(layout, fields=tuple(fields))
        self._layout, self._faults = layout, (*unread, *faults(layout))
        self._mark()
        self._pause.start()
        self.edited.emit()

    def _put(self, fields: Sequence[Field], hand: int) -> None:
        self._layout = replace(self._layout, fields=tuple(fields))
        self._list(hand)

    def _add(self) -> None:
        self._put((*self._layout.fields, new_field(self._layout)), len(self._layout.fields))

    def _drop(self) -> None:
        hand = self._hand()
        self._put([one for place, one in enumerate(self._layout.fields) if place != hand], hand)

    def _move(self, step: int) -> None:
        fields, hand = list(self._layout.fields), self._hand()
        fields.insert(hand + step, fields.pop(hand))
        self._put(fields, hand + step)

    # -- what is shown

    def _mark(self) -> None:
        """Show every fault where it belongs: in hand beside its number, else under the list."""
        hand, count = self._hand(), len(self._layout.fields)
        mine = [fault for fault in self._faults if hand in fault.places]
        show_faults(self.label_form, (fault for fault in self._faults if not fault.places))
        if hand >= 0:
            self.field_form.show_faults(self._layout.fields[hand], mine)
        wrong = {place for fault in self._faults for place in fault.places}
        for place, one in enumerate(self._layout.fields):
            self.fields.item(place).setText(f"{'⚠ ' if place in wrong else ''}{' · '.join(one.show).capitalize()}")
        others = [one.sentence for one in self._faults if one not in mine and (one.places or one.number == "fields")]
        more = [f"and {len(others) - MOST_SAID} more."] if len(others) > MOST_SAID else []
        self.wrong.setText("\n".join([*others[:MOST_SAID], *more]))
        self.wrong.setVisible(bool(others))
        self.picture.show_layout(self._layout, hand, wrong)
        self.add.setEnabled(self._own)
        self.drop.setEnabled(self._own and hand >= 0)
        self.up.setEnabled(self._own and hand > 0)
        self.down.setEnabled(self._own and 0 <= hand < count - 1)

    def _draw(self) -> None:
        """Draw the examples beside the lane; of a layout that cannot be printed the outlines must do."""
        self._wish += 1
        if self._faults:
            self._show(Drawn((), ()), self._wish)
            return
        layout, wish, ratio = self._layout, self._wish, self.devicePixelRatioF()
        dpi = self.picture.scale * ratio * 25.4
        self._context.work(
            "Drawing the label",
            lambda report, cancelled: draw(layout, dpi, report, cancelled),
            lambda drawn: self._show(drawn, wish),
        )

    def _show(self, drawn: Drawn, wish: int) -> None:
        if wish == self._wish:
            self.picture.show_images(drawn.images)
            self.troubles.setText("\n".join(drawn.troubles[:MOST_SAID]))
            self.troubles.setVisible(bool(drawn.troubles))


def _read(written: Callable[[T], T], before: T, places: tuple[int, ...], unread: list[Fault]) -> T:
    """Return a thing as it is written, or as it was before, noting what cannot be read."""
    try:
        return written(before)
    except Refusal as refusal:
        unread.append(Fault(str(refusal), refusal.field or "", places))
        return before


def new_field(layout: Layout) -> Field:
    """Return one more field, with a text that the layout does not show yet, in its corner to be put in place."""
    shown = {key for one in layout.fields for key in one.show} | {"tag", "serial"}
    key = next((key for key in TEXTS[layout.kind] if key not in shown), "note")
    return Field((key,), 0.0, 0.0, *((7.5, 7.5) if key == SYMBOL else (12.0, 2.5)))


def draw(layout: Layout, dpi: float, report: Report, cancelled: Cancelled) -> Drawn:
    """Render the examples on labels of the layout's own size, and draw that very PDF."""
    from sporebank.documents.labels import LabelPrint, preflight, render
    from sporebank.documents.picture import pictures

    wish = LabelPrint(examples(layout.kind), layout, roll("", "", layout.width, layout.height, round=layout.round))
    troubles = tuple(f"{_EXAMPLES[one.label]}: {one.sentence}" for one in preflight(wish, cancelled=cancelled))
    drawn = pictures(render(wish, cancelled=cancelled), dpi)
    return Drawn(
        tuple(QImage(one.rgb, one.width, one.height, one.stride, QImage.Format.Format_RGB888).copy() for one in drawn),
        troubles,
    )
