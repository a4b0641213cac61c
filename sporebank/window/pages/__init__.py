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


_HERE = "sporebank.window.pages"

PAGES: tuple[PageSpec, ...] = (
    PageSpec("today", "Today", "today", f"{_HERE}.today:TodayPage"),
    PageSpec("overview", "Bank", "overview", f"{_HERE}.overview:OverviewPage"),
    PageSpec("vials", "Vials", "vial", f"{_HERE}.vials:VialsPage"),
    PageSpec("store", "Store", "store", f"{_HERE}.store:StorePage"),
    PageSpec("test", "Test", "test", f"{_HERE}.test:TestPage"),
    PageSpec("sow", "Sow", "sow", f"{_HERE}.sow:SowPage"),
    PageSpec("share", "Share", "share", f"{_HERE}.share:SharePage"),
    PageSpec("exchange", "Exchange", "exchange", f"{_HERE}.exchange:ExchangePage"),
    PageSpec("cull", "Cull", "cull", f"{_HERE}.cull:CullPage"),
    PageSpec("places", "Places", "places", f"{_HERE}.places:PlacesPage"),
    PageSpec("history", "History", "history", f"{_HERE}.history:HistoryPage"),
    PageSpec("settings", "Settings", "settings", f"{_HERE}.settings:SettingsPage"),
)
