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
        built.setToolTip(f"{spec.tip} ({spec.shortcut})" if spec.shortcut else spec.tip)
        built.setStatusTip(spec.tip)
        if spec.icon:
            built.setIcon(icon(spec.icon, "mute"))
        built.triggered.connect(lambda: self._run(spec))
        owner.addAction(built)
        return built

    def enable(self, scope: str, has: Callable[[Needs], bool]) -> None:
        """Enable the window's actions and those of the page in sight, by what is there."""
        for spec in ACTIONS:
            mine = spec.scope in ("window", scope)
            self.by_id[spec.id].setEnabled(mine and has(spec.needs))

    def button(self, action_id: str, primary: bool) -> QPushButton:
        """Return a button that follows an action."""
        follows = self.by_id[action_id]
        button = QPushButton(follows.text())
        button.setProperty("primary", primary)
        button.setToolTip(follows.toolTip())
        button.setAccessibleDescription(follows.statusTip())
        button.setEnabled(follows.isEnabled())
        button.clicked.connect(follows.trigger)
        follows.enabledChanged.connect(button.setEnabled)
        return button
