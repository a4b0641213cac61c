"""Receiving a parcel of another bank: the file is chosen or dropped, seen, and taken in."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QApplication, QFileDialog

from sporebank.bank import queries
from sporebank.core import codes
from sporebank.core.papers import Manifest
from sporebank.formats import manifest_csv
from sporebank.formats.manifest_json import write_manifest
from sporebank.window.screens import room_for
from tests.builders import fridge
from tests.documents.examples import manifest
from tests.window.desk import DialogDesk
from tests.window.keys import choose, press

BUTTONS, NONE = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier


def parcel() -> Manifest:
    """Return a manifest of three packets, each of a batch and a clone of its own."""
    whole = manifest(3)
    items = tuple(
        replace(item, batch=codes.make("B", "K7F", number), clone=f"DS-{number:02d}")
        for number, item in enumerate(whole.items, start=1)
    )
    return replace(whole, items=items)


@pytest.fixture
def desk(qtbot: Any, make_context: Any, settle: Any, told: Any) -> DialogDesk:
    made = DialogDesk(qtbot, make_context(), settle, told)
    made.read(lambda bank: fridge(bank))
    return made


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "manifest.json"
    path.write_bytes(write_manifest(parcel()))
    return path


def shown(desk: DialogDesk, ready: Callable[[], bool]) -> None:
    desk.qtbot.waitUntil(ready)
    desk.settle()


def test_a_file_is_chosen_seen_and_taken_in_by_the_keyboard(desk, file, monkeypatch) -> None:
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(file), ""))
    dialog = desk.open("receive")
    press(desk.qtbot, dialog, "Choose the file…")
    shown(desk, dialog.go.isEnabled)
    assert dialog.head.text() == "Parcel R-K7F-00007-K of The Alder Carr spore bank"
    assert "3 packets. 3 new clones, 3 new names." in dialog.about.text()
    cells = [dialog.model.index(0, column).data() for column in range(dialog.model.columnCount())]
    assert cells[:5] == ["1", "Asplenium scolopendrium", "new, DS-01 there", "5 mg", "62 % (41 to 78 %)"]
    assert cells[5].startswith("New.")
    choose(desk.qtbot, dialog, "Put into", "Potting shed / Fridge 1 / Box 1")
    press(desk.qtbot, dialog, "Take it in")
    desk.settle()
    assert not dialog.isVisible()
    assert desk.told.infos[-1][0] == "3 vials taken in; the labels wait."
    rows = desk.read(lambda bank: queries.vials_by_id(bank, [1, 2, 3]))
    assert [row.place[-10:] for row in rows] == ["Box 1 / A1", "Box 1 / A2", "Box 1 / A3"]
    again = desk.open("receive", path=file)
    shown(desk, lambda: bool(again.model.rows))
    assert "already. Nothing is taken in twice." in again.told.text()
    assert not again.go.isEnabled()


def test_a_table_brings_what_json_does(desk, file, tmp_path) -> None:
    table = tmp_path / "manifest.CSV"
    table.write_bytes(manifest_csv.write_manifest(parcel()))
    seen = []
    for path in (file, table):
        dialog = desk.open("receive", path=path)
        shown(desk, dialog.go.isEnabled)
        seen.append((dialog.head.text(), dialog.about.text(), dialog.model.rows))
    assert seen[0] == seen[1]
    press(desk.qtbot, dialog, "Take it in")
    desk.settle()
    assert desk.told.infos[-1][0] == "3 vials taken in; the labels wait."
    table.write_bytes(b"%PDF-1.7 and no table")
    dialog = desk.open("receive", path=table)
    shown(desk, lambda: "not a manifest" in dialog.empty.text.text())


def test_what_is_dropped_is_read_and_what_is_no_manifest_is_said(desk, file, tmp_path) -> None:
    bad = tmp_path / "letter.json"
    bad.write_bytes(file.read_bytes()[:300])
    dialog = desk.open("receive")
    for path, ready in ((bad, lambda: "ends too early" in dialog.empty.text.text()), (file, dialog.go.isEnabled)):
        mime = QMimeData()
        mime.setUrls([QUrl.fromLocalFile(str(path))])
        entering = QDragEnterEvent(QPoint(9, 9), Qt.DropAction.CopyAction, mime, BUTTONS, NONE)
        QApplication.sendEvent(dialog, entering)
        assert entering.isAccepted()
        QApplication.sendEvent(dialog, QDropEvent(QPointF(9, 9), Qt.DropAction.CopyAction, mime, BUTTONS, NONE))
        shown(desk, ready)
    assert not dialog.empty.isVisible()


def test_a_problem_is_told_for_its_packet_and_keeps_all_out(desk, tmp_path) -> None:
    whole = parcel()
    path = tmp_path / "nothing.json"
    path.write_bytes(write_manifest(replace(whole, items=(replace(whole.items[0], micrograms=0), *whole.items[1:]))))
    dialog = desk.open("receive", path=path)
    shown(desk, lambda: bool(dialog.model.rows))
    assert dialog.told.text() == "1 of the packets cannot be taken in, so that none is."
    assert not dialog.go.isEnabled()
    dialog.table.selectRow(0)
    desk.settle()
    assert dialog.told.text().startswith("⚠ Every vial needs some spore in it.")


def test_no_more_room_than_there_is(desk, file) -> None:
    dialog = desk.open("receive", path=file)
    shown(desk, dialog.go.isEnabled)
    room = room_for(dialog)
    assert dialog.width() < room.width()
    assert dialog.height() < room.height()
