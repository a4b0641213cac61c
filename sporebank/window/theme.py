"""The look: colour tokens, and the Qt palette and the one style sheet made from them."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import dataclass, fields
from functools import cache

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtGui import QColor, QGuiApplication, QPalette
from PySide6.QtWidgets import QApplication

from sporebank.paths import resources
from sporebank.window.stylesheet import stylesheet

CHOICES = ("system", "light", "dark")


@dataclass(frozen=True)
class Tokens:
    """The colours of one palette as `#RRGGBB`; resources/palette.toml says what each is for."""

    paper: str
    sheet: str
    rail: str
    rail_text: str
    rail_mute: str
    rail_select: str
    rail_mark: str
    ink: str
    mute: str
    line: str
    edge: str
    accent: str
    accent_hover: str
    accent_text: str
    select: str
    hover: str
    warn: str
    warn_bg: str
    bad: str
    bad_bg: str
    info: str
    alive: str
    fading: str
    spent: str

    def colour(self, token: str, alpha: float = 1.0) -> QColor:
        """Return a token as a colour; `alpha` from 0 (clear) to 1."""
        colour = QColor(getattr(self, token))
        colour.setAlphaF(alpha)
        return colour

    def as_dict(self) -> dict[str, str]:
        """Return the tokens by name."""
        return {field.name: getattr(self, field.name) for field in fields(self)}


@cache
def palettes() -> dict[str, Tokens]:
    """Return the light and the dark palette."""
    text = (resources() / "palette.toml").read_text(encoding="utf-8")
    return {name: Tokens(**tokens) for name, tokens in tomllib.loads(text).items()}


def tokens() -> Tokens:
    """Return the palette the application wears now."""
    ground = QGuiApplication.palette().color(QPalette.ColorRole.Window)
    return palettes()["dark" if ground.lightness() < 128 else "light"]


def luminance(colour: str) -> float:
    """Return the relative luminance of `#RRGGBB`, 0 to 1 (WCAG 2.x)."""
    channels = (int(colour[start : start + 2], 16) / 255 for start in (1, 3, 5))
    red, green, blue = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours, 1 to 21 (WCAG 2.x)."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def qpalette(colours: Tokens) -> QPalette:
    """Return the Qt palette of the tokens, so that plain widgets need no style of their own."""
    role = QPalette.ColorRole
    palette = QPalette()
    for key, token in {
        role.Window: "paper", role.WindowText: "ink", role.Base: "sheet", role.AlternateBase: "hover",
        role.Text: "ink", role.Button: "sheet", role.ButtonText: "ink", role.PlaceholderText: "mute",
        role.Highlight: "select", role.HighlightedText: "ink", role.ToolTipBase: "sheet",
        role.ToolTipText: "ink", role.Link: "info", role.LinkVisited: "info", role.Accent: "accent",
        role.Light: "hover", role.Midlight: "line", role.Mid: "line", role.Dark: "edge", role.Shadow: "line",
        role.BrightText: "bad",
    }.items():  # fmt: skip
        palette.setColor(key, colours.colour(token))
    for key in (role.WindowText, role.Text, role.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, key, colours.colour("mute"))
    return palette


class Theme(QObject):
    """Dresses the application, following the system or the keeper's choice. Signals: `changed`."""

    changed = Signal()

    def __init__(self, app: QApplication, choice: str = "system") -> None:
        super().__init__(app)
        self._app = app
        self._choice = choice
        self._worn: Tokens | None = None
        app.setStyle("Fusion")
        app.styleHints().colorSchemeChanged.connect(self._dress)
        self._dress()

    def choose(self, choice: str) -> None:
        """Follow the `system`, or stay `light` or `dark`."""
        self._choice = choice
        self._dress()

    def _dress(self) -> None:
        system_dark = self._app.styleHints().colorScheme() == Qt.ColorScheme.Dark
        dark = self._choice == "dark" or (self._choice == "system" and system_dark)
        colours = palettes()["dark" if dark else "light"]
        if colours == self._worn:
            return  # a style sheet, put on anew, is gone through for every widget there is
        self._worn = colours
        self._app.setPalette(qpalette(colours))
        self._app.setStyleSheet(stylesheet(colours.as_dict(), self._app.font().pointSizeF()))
        self.changed.emit()


def follow(slot: Callable[[], object]) -> None:
    """Call a slot whenever another palette has been put on everything.

    A widget that makes or drops others must wait for this: while a palette is put on, Qt goes through all there are.
    """
    app = QApplication.instance()
    for theme in app.findChildren(Theme) if app is not None else ():
        theme.changed.connect(slot)
