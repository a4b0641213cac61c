"""Cautions and keys."""

from __future__ import annotations

from html import escape

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QTextBrowser, QVBoxLayout, QWidget

from sporebank.core.cautions import Cautions
from sporebank.core.dates import day_label
from sporebank.window.actions import ACTIONS
from sporebank.window.context import Context
from sporebank.window.dialogs.room import resize_within
from sporebank.window.fonts import BOLD


class HelpDialog(QDialog):
    """What to be careful about, and the keys of every action."""

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        from sporebank.formats.tables import load_cautions

        super().__init__(parent)
        self.setWindowTitle("Cautions and help")
        resize_within(self, 620, 460)
        text = QTextBrowser()
        text.document().setDefaultStyleSheet(BOLD)
        text.setHtml(_cautions(load_cautions()) + _keys())
        text.setAccessibleName("Cautions and keys")
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        buttons.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.addWidget(text)
        layout.addWidget(buttons)


def _cautions(cautions: Cautions) -> str:
    lines = "".join(f"<li>{escape(caution.text)}</li>" for caution in cautions.general)
    return (
        f"<h3>Take care</h3><ul>{lines}</ul><p>As known on {day_label(cautions.as_of)}. Your own law, your local "
        "codes and a licensed practitioner come before anything said here.</p>"
    )


def _keys() -> str:
    rows = "".join(
        f"<tr><td><b>{escape(spec.shortcut)}</b>&nbsp;&nbsp;</td><td>{escape(spec.text)}: {escape(spec.tip)}</td></tr>"
        for spec in ACTIONS
        if spec.shortcut
    )
    pages = "<tr><td><b>Ctrl+1 to Ctrl+9</b>&nbsp;&nbsp;</td><td>The pages, in the order of the rail</td></tr>"
    return f"<h3>Keys</h3><table cellspacing=4>{pages}{rows}</table>"
