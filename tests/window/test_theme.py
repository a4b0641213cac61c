from __future__ import annotations

import re

import pytest
from PySide6.QtGui import QColor, QPalette
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from sporebank.paths import resources
from sporebank.window import icons
from sporebank.window.pages import PAGES
from sporebank.window.stylesheet import stylesheet
from sporebank.window.theme import Theme, contrast, palettes, tokens

TEXT = [
    ("mute", "paper"), ("mute", "sheet"), ("mute", "select"), ("mute", "hover"),
    ("rail_text", "rail_select"), ("rail_mute", "rail"), ("rail_mute", "rail_select"), ("rail", "rail_mark"),
    ("accent_text", "accent"), ("accent_text", "accent_hover"), ("accent", "paper"), ("accent", "sheet"),
    ("accent", "hover"), ("warn", "warn_bg"), ("warn", "sheet"), ("bad", "sheet"), ("bad", "paper"),
    ("info", "sheet"), ("info", "paper"),
]  # fmt: skip
INK = [("ink", ground) for ground in ("paper", "sheet", "select", "hover", "bad_bg")] + [("rail_text", "rail")]
GRAPHICS = [(band, ground) for band in ("alive", "fading", "spent") for ground in ("sheet", "select", "hover")] + [
    ("edge", "paper"), ("edge", "sheet"), ("rail_mark", "rail"), ("bad", "bad_bg"), ("accent", "select"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        # WCAG 2.x, definition of contrast ratio: 1 to 21
        ("#000000", "#FFFFFF", 21.0),
        # published worked pairs of the WCAG 2.x formula
        ("#0000FF", "#FFFFFF", 8.5925),
        ("#0000FF", "#FF0000", 2.1489),
        # computed by hand with the same formula
        ("#767676", "#FFFFFF", 4.5422),
        ("#777777", "#FFFFFF", 4.4781),
        ("#595959", "#FFFFFF", 7.0047),
        ("#949494", "#FFFFFF", 3.0335),
        ("#FF0000", "#FFFFFF", 3.9985),
        ("#008000", "#FFFFFF", 5.1374),
    ],
)
def test_contrast_follows_the_wcag_formula(one: str, other: str, ratio: float) -> None:
    assert contrast(one, other) == pytest.approx(ratio, abs=1e-3)
    assert contrast(other, one) == contrast(one, other)


@pytest.mark.parametrize("mode", ["light", "dark"])
@pytest.mark.parametrize(
    ("least", "pairs"), [(4.5, TEXT), (7.0, INK), (3.0, GRAPHICS)], ids=["text", "ink", "graphics"]
)
def test_every_pair_that_is_used_has_enough_contrast(mode: str, least: float, pairs: list[tuple[str, str]]) -> None:
    colours = palettes()[mode].as_dict()
    short = {pair: contrast(colours[pair[0]], colours[pair[1]]) for pair in pairs}
    assert {pair: ratio for pair, ratio in short.items() if ratio < least} == {}


@pytest.mark.parametrize("mode", ["light", "dark"])
def test_the_style_sheet_has_no_colours_of_its_own(mode: str) -> None:
    template = (resources() / "window.qss").read_text(encoding="utf-8")
    assert re.findall(r"#[0-9A-Fa-f]{3,8}\b(?=[^{]*;)", template) == []
    filled = stylesheet(palettes()[mode].as_dict(), 10.0)
    used = {colour.upper() for colour in re.findall(r"#[0-9A-Fa-f]{6}\b", filled)}
    assert used <= {colour.upper() for colour in palettes()[mode].as_dict().values()}
    for path in re.findall(r'url\("([^"]+)"\)', filled):
        assert (resources() / "icons" / path.rsplit("/", 1)[1]).is_file()


def test_no_widget_names_a_colour() -> None:
    folder = resources().parent / "sporebank" / "window"
    literal = re.compile(r"""["']#[0-9A-Fa-f]{3,8}["']|Qt\.GlobalColor\.(?!transparent)|QColor\(\s*\d""")
    found = [
        f"{path.name}:{number}"
        for path in folder.rglob("*.py")
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        if literal.search(line)
    ]
    assert found == []


def test_choosing_an_appearance_dresses_the_application(qapp: QApplication, theme: Theme) -> None:
    theme.choose("dark")
    assert tokens() == palettes()["dark"]
    assert qapp.palette().color(QPalette.ColorRole.WindowText) == QColor(palettes()["dark"].ink)
    theme.choose("light")
    assert tokens() == palettes()["light"]


def test_what_is_worn_already_is_not_put_on_again(qtbot: QtBot, theme: Theme) -> None:
    theme.choose("light")
    with qtbot.assertNotEmitted(theme.changed):
        theme.choose("light")
    with qtbot.waitSignal(theme.changed):
        theme.choose("dark")
    with qtbot.waitSignal(theme.changed):
        theme.choose("light")


def test_icons_are_drawn_in_the_palette_worn(qapp: QApplication, theme: Theme) -> None:
    drawn = icons.icon("vial", "ink")
    for mode in ("dark", "light"):
        theme.choose(mode)
        picture = drawn.pixmap(40, 40).toImage()
        solid = {
            picture.pixelColor(x, y).name().upper()
            for x in range(40)
            for y in range(40)
            if picture.pixelColor(x, y).alpha() == 255
        }
        assert palettes()[mode].ink.upper() in solid


def test_every_page_has_a_drawing(qapp: QApplication) -> None:
    for spec in PAGES:
        assert not icons.icon(spec.icon).pixmap(20, 20).isNull(), spec.key
