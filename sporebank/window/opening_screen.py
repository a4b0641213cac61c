"""Before a bank is open: the first start, and the screen for a bank that cannot be opened."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QStandardPaths, Qt, Signal
from PySide6.QtWidgets import (
    QFileDialog,
    QFrame,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from sporebank.bank.opening import SUFFIX, Unopenable
from sporebank.core.errors import Refusal
from sporebank.window.widgets.field import Form
from sporebank.window.widgets.simple import label

_FILTER = f"Banks (*{SUFFIX});;All files (*)"


def default_folder() -> Path:
    """Return where banks are kept when the keeper does not say: the documents folder."""
    documents = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.DocumentsLocation)
    return Path(documents) / "Spore banks"


def file_name(name: str) -> str:
    """Return a file name for a bank's name: letters, figures, spaces and hyphens of it."""
    plain = "".join(c if c.isalnum() or c in " -_" else " " for c in name)
    return (" ".join(plain.split()) or "Spore bank") + SUFFIX


def bank_path(written: str) -> Path:
    """Return the path of a bank as written: whole, in the folder of banks when none is named, and with its ending.

    Raises:
        Refusal: nothing is written.
    """
    if not written.strip():
        raise Refusal("Say where the file shall lie.", field="path")
    path = default_folder() / Path(written.strip()).expanduser()
    return path if path.suffix == SUFFIX else path.with_name(path.name + SUFFIX)


class Screen(QWidget):
    """A card in the middle of a quiet window."""

    def __init__(self, title: str, text: str) -> None:
        super().__init__()
        self.setObjectName("page")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.setWindowTitle("sporebank")
        self.resize(640, 520)
        wordmark = QLabel("sporebank")
        wordmark.setProperty("role", "heading")
        card = QFrame()
        card.setProperty("card", True)
        card.setMaximumWidth(560)
        self.card = QVBoxLayout(card)
        self.card.setContentsMargins(28, 24, 28, 24)
        self.card.setSpacing(12)
        self.card.addWidget(label(title, "title", wrap=True))
        self.text = label(text, "mute", wrap=True)
        self.card.addWidget(self.text)
        inside = QWidget()
        inside.setObjectName("page")
        layout = QVBoxLayout(inside)
        layout.setContentsMargins(28, 24, 28, 24)
        layout.addWidget(wordmark, 0, Qt.AlignmentFlag.AlignHCenter)
        layout.addStretch(1)
        middle = QHBoxLayout()
        middle.addStretch(1)
        middle.addWidget(card, 8)
        middle.addStretch(1)
        layout.addLayout(middle)
        layout.addStretch(2)
        scroll = QScrollArea(widgetResizable=True)  # at 150 % a small screen is lower than the card
        scroll.setObjectName("scroll")
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setWidget(inside)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addWidget(scroll)

    def button(self, text: str, *, primary: bool = False) -> QPushButton:
        """Add a button at the foot of the card."""
        made = QPushButton(text)
        made.setProperty("primary", primary)
        made.setDefault(primary)
        self.card.addWidget(made)
        return made


class FirstStart(Screen):
    """Asks for a name and a place.

    Signals: `create_wanted(name, path)`, `open_wanted(path)`, `demo_wanted`.
    """

    create_wanted = Signal(str, object)
    open_wanted = Signal(object)
    demo_wanted = Signal()

    def __init__(self) -> None:
        super().__init__(
            "A bank for your spore",
            "Everything is kept in one file on this computer. Give the bank a name; its place is yours to change.",
        )
        self._chosen_place = False
        self.name = QLineEdit()
        self.name.setPlaceholderText("such as the name of the collection")
        self.place = QLineEdit(str(default_folder() / file_name("")))
        self.form = Form()
        self.form.add("name", "&Name of the bank", self.name)
        self.form.add("path", "&Place of the file", self.place)
        self.card.addWidget(self.form)
        choose = QPushButton("Choose the place…")
        choose.setProperty("quiet", True)
        self.card.addWidget(choose, 0, Qt.AlignmentFlag.AlignLeft)
        create = self.button("Make the bank", primary=True)
        another = self.button("Open a bank you have…")
        demo = self.button("Look round in the demo bank")
        self.name.textEdited.connect(self._propose)
        self.place.textEdited.connect(self._keep_place)
        self.name.returnPressed.connect(self._create)
        self.place.returnPressed.connect(self._create)
        choose.clicked.connect(self._choose_place)
        create.clicked.connect(self._create)
        another.clicked.connect(lambda: ask_for_bank(self, self.open_wanted.emit))
        demo.clicked.connect(self.demo_wanted)

    def refuse(self, refusal: Refusal) -> None:
        """Show why no bank was made, beside the field it is about."""
        if not self.form.refuse(refusal):
            self.form.fields["path"].set_error(str(refusal))

    def _propose(self, name: str) -> None:
        if not self._chosen_place:
            self.place.setText(str(Path(self.place.text()).parent / file_name(name)))

    def _keep_place(self) -> None:
        self._chosen_place = True

    def _choose_place(self) -> None:
        chosen, _ = QFileDialog.getSaveFileName(self, "Where the bank is kept", self.place.text(), _FILTER)
        if chosen:
            self._chosen_place = True
            self.place.setText(str(bank_path(chosen)))

    def _create(self) -> None:
        self.form.clear_errors()
        try:
            path = bank_path(self.place.text())
        except Refusal as refusal:
            self.refuse(refusal)
            return
        self.create_wanted.emit(self.name.text(), path)


class CannotOpen(Screen):
    """Says why a bank cannot be opened and what can be done.

    Signals: `backup_wanted(path)` with the backup chosen, `open_wanted(path)`, `again_wanted`, `first_wanted`.
    """

    backup_wanted = Signal(object)
    open_wanted = Signal(object)
    again_wanted = Signal()
    first_wanted = Signal()

    def __init__(self, path: Path, trouble: Refusal, backups: Path) -> None:
        super().__init__("This bank cannot be opened", str(trouble))
        self._backups = backups
        self.text.setProperty("role", "")
        self.card.addWidget(label(str(path), "small", wrap=True))
        again = self.button("Try again", primary=True)
        backup = self.button("Open a backup…")
        another = self.button("Open another bank…")
        new = self.button("Make a new bank…")
        self.details = QPlainTextEdit(_details(trouble))
        self.details.setReadOnly(True)
        self.details.setAccessibleName("Details")
        self.details.hide()
        show = QPushButton("Details")
        show.setProperty("quiet", True)
        show.setCheckable(True)
        show.toggled.connect(self.details.setVisible)
        self.card.addWidget(show, 0, Qt.AlignmentFlag.AlignLeft)
        self.card.addWidget(self.details)
        again.clicked.connect(self.again_wanted)
        backup.clicked.connect(self._choose_backup)
        another.clicked.connect(lambda: ask_for_bank(self, self.open_wanted.emit))
        new.clicked.connect(self.first_wanted)

    def _choose_backup(self) -> None:
        chosen, _ = QFileDialog.getOpenFileName(self, "Open a backup", str(self._backups), "All files (*)")
        if chosen:
            self.backup_wanted.emit(Path(chosen))


def _details(trouble: Refusal) -> str:
    known = trouble.details if isinstance(trouble, Unopenable) else ""
    return known or "There are no further details."


def ask_for_bank(parent: QWidget, then: Callable[[Path], object]) -> None:
    """Let the keeper choose a bank file and call `then` with its path."""
    chosen, _ = QFileDialog.getOpenFileName(parent, "Open a bank", str(default_folder()), _FILTER)
    if chosen:
        then(Path(chosen))
