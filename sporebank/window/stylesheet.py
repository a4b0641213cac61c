"""The one style sheet of the application, filled with colour tokens and sizes relative to the user's font."""

from __future__ import annotations

from string import Template

from sporebank.paths import resources

SERIF = '"Noto Serif", "Source Serif 4", "DejaVu Serif", "Georgia", serif'


def stylesheet(colours: dict[str, str], base: float) -> str:
    """Return the style sheet for a set of tokens; `base` is the user's font size in points."""
    sizes = {
        "small": base * 0.92, "title": base * 1.55, "heading": base * 1.75, "figure": base * 2.3,
        "wordmark": base * 1.5, "chip": base * 1.2,
    }  # fmt: skip
    mode = "dark" if int(colours["paper"][1:3], 16) < 128 else "light"
    icons = (resources() / "icons").as_posix()
    filled = {name: f"{size:.1f}" for name, size in sizes.items()}
    text = (resources() / "window.qss").read_text(encoding="utf-8")
    return Template(text).substitute(colours, **filled, serif=SERIF, mode=mode, icons=icons)
