"""The main window: the rail, the field at the top, the page, its panel, and the strip at the foot."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from typing import TYPE_CHECKING, cast

from PySide6.QtCore import QCoreApplication, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QCloseEvent, QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import (
    QHBoxLayout,
    QMainWindow,
    QScrollArea,
    QSplitter,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from sporebank.core.records import Changed
from sporebank.jobs.today import Agenda, agenda
from sporebank.jobs.undo import NextSteps, next_steps
from sporebank.window.actions import ACTIONS, MENUS, ActionSpec, Needs
from sporebank.window.camera import CameraDoor
from sporebank.window.commands import Commands
from sporebank.window.context import Context
from sporebank.window.dialogs import dialog_class
from sporebank.window.find_field import FindField
from sporebank.window.later import Later
from sporebank.window.notice import Notice, Strip
from sporebank.window.page import Page, page_class
from sporebank.window.pages import PAGES, PageSpec
from sporebank.window.pictures import PictureDoor, Source
from sporebank.window.rail import Rail
from sporebank.window.scan import Scans
from sporebank.window.screens import room_for
from sporebank.window.tell import WindowTell, may_lose
from sporebank.window.wedge import Wedge

if TYPE_CHECKING:
    from sporebank.window import bank_copy
else:
    bank_copy = Later("sporebank.window.bank_copy")

NARROW_BELOW = 1080
PANEL_WIDTH = 300
FRAME = QSize(8, 40)
"""What the system draws around a window, more or less, and what must not push its foot off a small screen."""


class MainWindow(QMainWindow):
    """The window over one open bank. Signals: `another_wanted` when another bank shall be opened."""

    another_wanted = Signal()
    closing = Signal()

    def __init__(self, context: Context, pages: Sequence[PageSpec] = PAGES) -> None:
        super().__init__()
        self._context = context
        self._specs = {spec.key: spec for spec in pages}
        self._pages: dict[str, Page] = {}
        self._frames: dict[str, QWidget] = {}
        self._open_key = ""
        self._app = cast("QCoreApplication", QCoreApplication.instance())
        self._steps = NextSteps("", "")
        self.setWindowTitle(f"{context.name} — sporebank")
        self.commands = Commands(self, self._run)
        self._build()
        self._build_menus()
        self._connect()
        self._restore()
        self.show_page(pages[0].key)
        self._read_undo()
        self._app.installEventFilter(self.wedge)

    # -- building

    def _build(self) -> None:
        self.rail = Rail(tuple(self._specs.values()), self._context.name, str(self._context.path))
        self.find_field = FindField(self._context.tag)
        self.notice = Notice()
        self.scans = Scans(self._context, self.page, self)
        self.wedge = Wedge(self)
        self.pictures = PictureDoor(self._context, self)
        self.camera = CameraDoor(self._context, self, self.scans.take)
        self._stack = QStackedWidget()
        self._stack.setObjectName("stack")
        self._side = QStackedWidget()
        self._side.setObjectName("side")
        self._top = QHBoxLayout()
        self._top.setContentsMargins(16, 14, 16, 6)
        self._top.setSpacing(8)
        self._top.addWidget(self.find_field, 1)
        self._top.addWidget(self.scans.choice)
        self._buttons: list[QWidget] = []
        self._split = QSplitter(Qt.Orientation.Horizontal)
        self._split.setHandleWidth(1)
        self._split.setChildrenCollapsible(False)
        self._side.setMinimumWidth(260)
        self._side.setAccessibleName("Panel")
        whole = QWidget()
        self.setCentralWidget(whole)  # from the outside in: whatever finds its place later is styled once more
        self._fill(whole)
        self._split.setStretchFactor(0, 1)
        self._split.setStretchFactor(1, 0)

    def _fill(self, whole: QWidget) -> None:
        layout, columns, middle = QVBoxLayout(whole), QHBoxLayout(), QWidget()
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addLayout(columns, 1)
        columns.setSpacing(0)
        columns.addWidget(self.rail)
        columns.addWidget(self._split, 1)
        middle.setObjectName("middle")
        self._split.addWidget(middle)
        self._fill_middle(middle)
        self._split.addWidget(self._side)
        layout.addWidget(Strip(str(self._context.path), self._context.background))

    def _fill_middle(self, middle: QWidget) -> None:
        layout = QVBoxLayout(middle)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addLayout(self._top)
        notice = QHBoxLayout()
        notice.setContentsMargins(16, 0, 16, 4)
        notice.addWidget(self.notice)
        layout.addLayout(notice)
        strip = QHBoxLayout()
        strip.setContentsMargins(16, 0, 16, 4)
        strip.addWidget(self.scans.strip)
        layout.addLayout(strip)
        layout.addWidget(self._stack, 1)

    def _build_menus(self) -> None:
        for title in MENUS:
            menu = self.menuBar().addMenu(title)
            if title == "Pages":
                for number, spec in enumerate(self._specs.values(), start=1):
                    entry = menu.addAction(spec.title, partial(self.show_page, spec.key))
                    if number <= 9:
                        entry.setShortcut(QKeySequence(f"Ctrl+{number}"))
            for declared in ACTIONS:
                if declared.menu == title:
                    menu.addAction(self.commands.by_id[declared.id])
            if title == "Bank":
                self.camera.watch(menu, self.commands.by_id["scan_with_camera"])

    def _connect(self) -> None:
        context = self._context
        self.rail.chosen.connect(self.show_page)
        context.gone.connect(self._go)
        context.dialog_wanted.connect(self._open_dialog)
        context.changed.connect(self._hear)
        if isinstance(context.tell, WindowTell):
            context.tell.noticed.connect(self.notice.say)
        self.find_field.code_given.connect(lambda _, code: self.scans.take(code))
        self.find_field.text_given.connect(self._find_text)
        self.find_field.refused.connect(self.scans.refuse)
        self.wedge.scanned.connect(self.scans.take)
        self.wedge.unread.connect(self.scans.unread)
        self.pictures.given.connect(self._read_pictures)
        QShortcut(QKeySequence("Esc"), self, self._escape)
        QTimer.singleShot(0, self, self._count_waiting)

    @contextmanager
    def _unwatched(self) -> Iterator[None]:
        """Let nobody watch for keys while many widgets are made: every event of theirs would be asked about."""
        self._app.removeEventFilter(self.wedge)
        try:
            yield
        finally:
            self._app.installEventFilter(self.wedge)

    # -- pages

    def show_page(self, key: str) -> None:
        """Show a page, making it when it is first opened."""
        page, before = self._page(key), self._open_key
        self._open_key = key
        self._stack.setCurrentWidget(self._frames[key])
        self.rail.mark(key)
        panel = page.side_panel
        self._side.setVisible(panel is not None)
        if panel is not None:
            self._side.setCurrentWidget(panel)
        self._set_buttons(page)
        self._enable()
        if key != before:
            self.scans.page_opened(key)
        focus = page.first_focus()
        if focus is not None:
            focus.setFocus(Qt.FocusReason.OtherFocusReason)

    def page(self) -> Page:
        """Return the page in sight."""
        return self._pages[self._open_key]

    def _page(self, key: str) -> Page:
        if key not in self._pages:
            with self._unwatched():
                self._make_page(key)
        return self._pages[key]

    def _make_page(self, key: str) -> None:
        frame = QScrollArea(widgetResizable=True)
        frame.setObjectName("scroll")
        frame.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._stack.addWidget(frame)  # while it is empty: all that is in it would be dressed once more
        page = page_class(self._specs[key])(self._context, frame.viewport())
        page.setAccessibleName(self._specs[key].title)
        frame.setWidget(page)
        page.side_panel = page.side()
        if page.side_panel is not None:
            self._side.addWidget(page.side_panel)
        page.needs_changed.connect(self._enable)
        page.needs_changed.connect(self.scans.look)
        self._pages[key], self._frames[key] = page, frame

    def _set_buttons(self, page: Page) -> None:
        for button in self._buttons:
            button.hide()
            button.deleteLater()
        wanted = [(action_id, False) for action_id in page.buttons]
        if page.primary:
            wanted.append((page.primary, True))
        self._buttons = [self.commands.button(action_id, primary) for action_id, primary in wanted]
        before: QWidget = self.scans.choice
        for button in self._buttons:
            self._top.addWidget(button)
            QWidget.setTabOrder(before, button)
            before = button

    def _go(self, key: str, focus: dict[str, object]) -> None:
        self.show_page(key)
        if focus:
            self.page().focus_on(**focus)

    def _find_text(self, text: str) -> None:
        if text or self._open_key == "vials":
            had_focus = self.find_field.hasFocus()
            self._go("vials", {"text": text})
            if had_focus:
                self.find_field.setFocus()

    def _count_waiting(self) -> None:
        self._context.read(agenda, self._show_waiting, background=True)

    def _show_waiting(self, found: Agenda) -> None:
        for key, count in found.waiting().items():
            if key in self._specs:
                self.rail.set_count(key, count)

    # -- actions

    def _run(self, spec: ActionSpec) -> None:
        target = self if spec.scope == "window" else self._pages[spec.scope]
        getattr(target, spec.method)()

    def store_batch(self) -> None:
        """Go to where a batch is stored."""
        self._context.go("store")

    def find_anything(self) -> None:
        """Put the keyboard into the field at the top."""
        self.find_field.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.find_field.selectAll()

    def open_another(self) -> None:
        """Ask for another bank."""
        self.another_wanted.emit()

    def save_copy(self) -> None:
        """Put a copy of the bank somewhere else."""
        bank_copy.save_copy(self._context, self)

    def read_picture(self) -> None:
        """Ask for pictures of labels, and read them."""
        self.pictures.open()

    def paste_picture(self) -> None:
        """Read the labels in the picture on the clipboard."""
        self.pictures.paste()

    def scan_with_camera(self) -> None:
        """Show what the camera sees, and read its labels."""
        self.camera.open()

    def _read_pictures(self, sources: list[Source]) -> None:
        self._context.dialog("picture", sources=sources, use=self.scans.use())

    def undo(self) -> None:
        """Take the last deed back."""
        self._context.undo()

    def redo(self) -> None:
        """Do again what was taken back."""
        self._context.redo()

    def set_up_labels(self) -> None:
        """Open what labels are printed on, and what was printed."""
        self._context.dialog("label_stock")

    def show_help(self) -> None:
        """Show keys and cautions."""
        self._context.dialog("help")

    def next_area(self) -> None:
        """Move the keyboard on: the rail, the field at the top, the page, its panel."""
        page = self.page()
        now = self.focusWidget()
        if now is self.find_field:
            target = page.first_focus() or page
            target.setFocus(Qt.FocusReason.ShortcutFocusReason)
        elif now is not None and self.rail.isAncestorOf(now):
            self.find_anything()
        elif now is not None and page.isAncestorOf(now) and page.side_panel is not None:
            page.side_panel.setFocus(Qt.FocusReason.ShortcutFocusReason)
        else:
            self.rail.focus_open()

    # -- what is there

    def _has(self, needs: Needs) -> bool:
        if needs is Needs.UNDO:
            return bool(self._steps.undo)
        if needs is Needs.REDO:
            return bool(self._steps.redo)
        if needs is Needs.CAMERA:
            return self.camera.ready
        return needs is Needs.NOTHING or self.page().has(needs)

    def _enable(self) -> None:
        self.commands.enable(self._open_key, self._has, self.page().why_not)

    def _hear(self, changed: Changed) -> None:
        self._read_undo()
        self._count_waiting()

    def _read_undo(self) -> None:
        self._context.read(next_steps, self._show_undo)

    def _show_undo(self, steps: NextSteps) -> None:
        self._steps = steps
        for action_id, word, title in (("undo", "Undo", steps.undo), ("redo", "Redo", steps.redo)):
            self.commands.by_id[action_id].setText(f"{word}: {title}" if title else word)
        self._enable()

    def _open_dialog(self, key: str, arguments: dict[str, object]) -> None:
        with self._unwatched():
            dialog = dialog_class(key)(self._context, self, **arguments)
        dialog.exec()
        self._context.let_go(dialog)

    def _escape(self) -> None:
        focus = self.page().first_focus()
        if self.notice.isVisible():
            self.notice.hide()
        elif self.find_field.hasFocus() and self.find_field.text():
            self.find_field.clear()
        elif focus is not None:
            focus.setFocus(Qt.FocusReason.ShortcutFocusReason)

    # -- size and end

    def _restore(self) -> None:
        self.rail.set_narrow(True)  # or the wide rail would hold the window wider than it was left
        room = room_for(self) - FRAME
        self.resize(QSize(1280, 760).boundedTo(room))
        self.restoreGeometry(self._context.state.get_bytes("window/geometry"))
        self._split.setSizes([self.width() - PANEL_WIDTH, PANEL_WIDTH])
        self._split.restoreState(self._context.state.get_bytes("window/split"))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Show the rail as icons where the window is small."""
        super().resizeEvent(event)
        self.rail.set_narrow(event.size().width() < NARROW_BELOW)

    def may_close(self) -> bool:
        """Return whether the bank may be closed; asks about what is half written, and shows it, or under way."""
        for key, page in self._pages.items():
            what = page.half_written()
            if what and not may_lose(
                self._context.tell,
                f"{what} is half written on {self._specs[key].title}. Close all the same?",
                "Close all the same",
                "What is written there and not kept is lost then.",
            ):
                self.show_page(key)
                return False
        under_way = self._context.background.at_closing
        return not under_way or may_lose(
            self._context.tell,
            f"{under_way} Close all the same?",
            "Close all the same",
            "What is under way is stopped then, and has to be begun anew.",
            turn_away="Wait",
        )

    def closeEvent(self, event: QCloseEvent) -> None:
        """Remember the window's shape and let the bank be closed."""
        if not self.signalsBlocked() and not self.may_close():  # blocked, it gives way to a bank that is open already
            event.ignore()
            return
        self._context.state.put_bytes("window/geometry", self.saveGeometry())
        self._context.state.put_bytes("window/split", self._split.saveState())
        self._app.removeEventFilter(self.wedge)
        self.camera.shut()
        self.closing.emit()
        super().closeEvent(event)
