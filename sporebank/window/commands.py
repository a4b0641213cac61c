"""The actions as Qt has them: built from the one list, enabled by what is there."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QPushButton, QWidget

from sporebank.window.actions import ACTIONS, ActionSpec, Needs
from sporebank.window.icons import icon


class Commands(QObject):
    """Holds one QAction for every declared action; `run(spec)` is called when one is triggered."""

    def __init__(self, owner: QWidget, run: Callable[[ActionSpec], object]) -> None:
        super().__init__(owner)
        self._run = run
        self.by_id = {spec.id: self._build(spec, owner) for spec in ACTIONS}

    def _build(self, spec: ActionSpec, owner: QWidget) -> QAction:
        built = QAction(spec.text, owner)
        built.setShortcut(QKeySequence(spec.shortcut))
        _tell(built, spec)
        if spec.icon:
            built.setIcon(icon(spec.icon, "mute"))
        built.triggered.connect(lambda: self._run(spec))
        owner.addAction(built)
        return built

    def enable(self, scope: str, has: Callable[[Needs], bool], why_not: Callable[[Needs], str]) -> None:
        """Enable the window's actions and those of the page in sight, by what is there, or let them say why not."""
        for spec in ACTIONS:
            mine = spec.scope in ("window", scope)
            self.by_id[spec.id].setEnabled(mine and has(spec.needs))
            if spec.scope == scope:
                _tell(self.by_id[spec.id], spec, why_not(spec.needs))

    def button(self, action_id: str, primary: bool) -> QPushButton:
        """Return a button that follows an action."""
        return _Following(self.by_id[action_id], primary)


class _Following(QPushButton):
    def __init__(self, follows: QAction, primary: bool) -> None:
        super().__init__(follows.text())
        self._follows = follows
        self.setProperty("primary", primary)
        self.clicked.connect(follows.trigger)
        follows.changed.connect(self._follow)
        self._follow()

    def _follow(self) -> None:
        self.setToolTip(self._follows.toolTip())
        self.setAccessibleDescription(self._follows.statusTip())
        self.setEnabled(self._follows.isEnabled())


def _tell(action: QAction, spec: ActionSpec, why_not: str = "") -> None:
    """Let an action say what it does, or why it cannot."""
    action.setToolTip(why_not or (f"{spec.tip} ({spec.shortcut})" if spec.shortcut else spec.tip))
    action.setStatusTip(why_not or spec.tip)
