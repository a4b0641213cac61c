"""A dialog with a form: one deed, its button, and refusals beside their fields."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from PySide6.QtCore import QEvent, QObject, Qt, QTimer
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QPushButton, QScrollArea, QVBoxLayout, QWidget

from sporebank.bank.bank import Bank
from sporebank.core.errors import Refusal
from sporebank.window.context import Context
from sporebank.window.dialogs.room import most_size, resize_within
from sporebank.window.tell import tell_failure
from sporebank.window.widgets.field import Form
from sporebank.window.widgets.simple import label

T = TypeVar("T")


class FormDialog(QDialog):
    """The frame of every small form: as high as what it shows, and scrolled where the screen is lower.

    A subclass writes `submit`, which calls `do`; that closes the dialog and says what was done.
    """

    def __init__(
        self, context: Context, parent: QWidget | None, title: str, deed: str, *, columns: int = 1, width: int = 440
    ) -> None:
        super().__init__(parent)
        self.context = context
        self.setWindowTitle(title)
        self.setMinimumWidth(min(width, most_size(self).width()))
        self.about = label(role="mute", wrap=True)
        self.about.hide()
        self.form = Form(columns)
        self.message = label(role="warn", wrap=True)
        self.message.hide()
        self.go = QPushButton(deed)
        self.go.setProperty("primary", True)
        self.go.clicked.connect(self._try)
        self._scroll = scroll = QScrollArea(widgetResizable=True)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)  # the keyboard begins in the first field
        scroll.setObjectName("scroll")
        self._around = QVBoxLayout(self)
        self._around.setContentsMargins(0, 0, 0, 12)
        self._around.addWidget(scroll, 1)
        inside = QWidget()
        inside.setObjectName("page")
        scroll.setWidget(inside)
        self.column = column = QVBoxLayout(inside)
        column.setContentsMargins(20, 16, 20, 8)
        column.setSpacing(10)
        for widget in (self.about, self.form, self.message):
            column.addWidget(widget)
        column.addStretch(1)
        self._foot: QDialogButtonBox | None = None
        self._fitting = QTimer(self, singleShot=True, interval=0)
        self._fitting.timeout.connect(self._fit)
        inside.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Follow the form when it asks for another height, as when a field comes or a refusal stands under one."""
        if event.type() == QEvent.Type.LayoutRequest:
            self._fitting.start()
        return super().eventFilter(watched, event)

    def setVisible(self, visible: bool) -> None:
        """Come up at the height of the form, its buttons put in last, so that Tab comes to them last."""
        if visible and self._foot is None:
            self._foot = self._add_foot()
            self._fit()
        super().setVisible(visible)

    def _add_foot(self) -> QDialogButtonBox:
        foot = QDialogButtonBox(QDialogButtonBox.StandardButton.Cancel)
        foot.addButton(self.go, QDialogButtonBox.ButtonRole.AcceptRole)
        foot.rejected.connect(self.reject)
        foot.setContentsMargins(20, 0, 20, 0)
        self._around.addWidget(foot)
        self.go.setDefault(True)  # only inside its dialog is it remembered as the one that Return presses
        return foot

    def _fit(self) -> None:
        around, form = self._around, self.column.totalHeightForWidth(self.width())
        foot = self._foot.sizeHint().height() if self._foot is not None else 0
        foot += around.spacing() + around.contentsMargins().bottom()
        resize_within(self, self.width(), form + foot)
        for policy in (Qt.ScrollBarPolicy.ScrollBarAlwaysOff, Qt.ScrollBarPolicy.ScrollBarAsNeeded):
            self._scroll.setVerticalScrollBarPolicy(policy)  # a bar from before would make the form narrow and stay

    def say_about(self, text: str) -> None:
        """Say above the form what it is about."""
        self.about.setText(text)
        self.about.show()

    def _try(self) -> None:
        self.form.clear_errors()
        self.message.hide()
        try:
            self.submit()
        except Refusal as refusal:
            self.refuse(refusal)

    def submit(self) -> None:
        """Read the form and do the deed; a Refusal raised here is shown beside its field."""
        raise NotImplementedError

    def do(self, job: Callable[[Bank], T], said: str | Callable[[T], str]) -> None:
        """Do a deed in the lane; when it is done, close and say so with *Undo* beside it."""
        self.go.setEnabled(False)

        def done(result: T) -> None:
            self.accept()
            self.context.done(said if isinstance(said, str) else said(result))

        self.context.do(job, done, self._gone_wrong)

    def _gone_wrong(self, failure: Exception) -> None:
        self.go.setEnabled(True)
        if isinstance(failure, Refusal):
            self.refuse(failure)
        else:
            tell_failure(self.context.tell, failure)

    def refuse(self, refusal: Refusal) -> None:
        """Show why not, beside the field or under the form."""
        if not self.form.refuse(refusal):
            self.message.setText(str(refusal))
            self.message.show()
