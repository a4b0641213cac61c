from __future__ import annotations

from collections import Counter

from PySide6.QtGui import QKeySequence

from sporebank.paths import resources
from sporebank.window.actions import ACTIONS, MENUS
from sporebank.window.columns import VIAL_COLUMNS
from sporebank.window.dialogs import DIALOGS, dialog_class
from sporebank.window.main import MainWindow
from sporebank.window.page import Page, page_class
from sporebank.window.pages import PAGES


def _repeated(values: list[str]) -> list[str]:
    return [value for value, count in Counter(values).items() if value and count > 1]


def test_ids_and_shortcuts_are_unique() -> None:
    assert _repeated([spec.id for spec in ACTIONS]) == []
    keys = [QKeySequence(spec.shortcut).toString() for spec in ACTIONS]
    assert _repeated(keys) == []
    assert not {f"Ctrl+{number}" for number in range(1, 10)} & set(keys), "those open the pages"
    assert all(QKeySequence(spec.shortcut).toString() for spec in ACTIONS if spec.shortcut)


def test_every_action_calls_something_that_is_there() -> None:
    pages = {spec.key: page_class(spec) for spec in PAGES}
    for spec in ACTIONS:
        target = MainWindow if spec.scope == "window" else pages[spec.scope]
        assert callable(getattr(target, spec.method)), spec.id
        assert spec.menu in MENUS, spec.id
        assert spec.tip, spec.id


def test_every_icon_is_there() -> None:
    for name in [spec.icon for spec in ACTIONS if spec.icon] + [spec.icon for spec in PAGES]:
        assert (resources() / "icons" / f"{name}.svg").is_file(), name


def test_pages_are_declared_once_and_can_be_imported() -> None:
    assert _repeated([spec.key for spec in PAGES]) == []
    ids = {spec.id for spec in ACTIONS}
    for spec in PAGES:
        found = page_class(spec)
        assert issubclass(found, Page)
        assert set(found.buttons) <= ids
        assert found.primary in ids | {""}


def test_dialogs_can_be_imported() -> None:
    for key in DIALOGS:
        assert callable(dialog_class(key)), key


def test_vial_columns_are_declared_once() -> None:
    assert _repeated([column.key for column in VIAL_COLUMNS]) == []
    assert _repeated([column.title for column in VIAL_COLUMNS]) == []
    assert sum(column.shown for column in VIAL_COLUMNS) >= 5
