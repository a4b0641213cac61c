"""The pages of the window in the order of the rail, imported when they are first opened."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class PageSpec:
    """One page: `where` is `module:Class`, `icon` a drawing of resources/icons."""

    key: str
    title: str
    icon: str
    where: str


PAGES: tuple[PageSpec, ...] = (PageSpec("vials", "Vials", "vial", "sporebank.window.pages.vials:VialsPage"),)
