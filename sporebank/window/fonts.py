"""The typeface of the window: the one that is printed too, so that every name has its letters on every system."""

from __future__ import annotations

from PySide6.QtGui import QFont, QFontDatabase
from PySide6.QtWidgets import QApplication

from sporebank.paths import resources

FAMILY = "Noto Sans"
BOLD = "b, h2, h3 { font-weight: 600; }"
"""For rich text: the weight that the faces have, since a heavier one would be smeared from it."""
_FACES = ("Regular", "Italic", "SemiBold", "SemiBoldItalic")


def wear(app: QApplication) -> None:
    """Load the faces and wear them at the size the user's system has chosen."""
    for face in _FACES:
        QFontDatabase.addApplicationFont(str(resources() / "fonts" / f"NotoSans-{face}.ttf"))
    font = QFont(FAMILY)
    font.setPointSizeF(app.font().pointSizeF())
    app.setFont(font)
