"""Scanning with a camera: its frames are pictures here, so that no camera is needed."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from PySide6.QtGui import QImage
from pytestqt.qtbot import QtBot

from sporebank.core import codes
from sporebank.window.camera import AGAIN_AFTER, APART, WIDEST, FrameReader, lacks
from sporebank.window.context import Context
from sporebank.window.main import MainWindow
from sporebank.window.pages import PAGES
from tests.formats.photos import noise, photo, saved
from tests.window.conftest import Told

FIRST, SECOND = (codes.make("V", "7K2", number) for number in (1, 2))


def frame(*texts: str, width: int = 0) -> QImage:
    picture = QImage.fromData(saved(photo([list(texts)]) if texts else noise()))
    return picture.scaledToWidth(width) if width else picture


class Camera:
    """A reader that sees one frame after the other, and a clock set by hand."""

    def __init__(self, qtbot: QtBot, context: Context) -> None:
        self.qtbot, self.now, self.scans = qtbot, 0.0, []
        self.reader = FrameReader(context, clock=lambda: self.now)
        self.reader.scanned.connect(self.scans.append)

    def see(self, picture: QImage, after: float = APART) -> None:
        """Offer a frame and wait until it was read."""
        self.now += after
        self.reader.offer(picture)
        self.qtbot.waitUntil(lambda: not self.reader._busy)


@pytest.fixture
def camera(qtbot: QtBot, make_context: Callable[..., Context]) -> Iterator[Camera]:
    made = Camera(qtbot, make_context())
    yield made
    assert made.reader.shut()


def test_a_label_held_before_the_camera_is_one_scan(camera: Camera, told: Told) -> None:
    for _ in range(20):
        camera.see(frame(FIRST))
    assert camera.scans == [FIRST]
    camera.see(frame(), after=AGAIN_AFTER - 0.1)
    camera.see(frame(FIRST), after=0.2)
    assert camera.scans == [FIRST, FIRST]
    assert told.bugs == []


def test_two_labels_in_one_frame_are_two_scans_in_reading_order(camera: Camera) -> None:
    camera.see(frame(SECOND, FIRST))
    camera.see(frame(FIRST))
    assert camera.scans == [SECOND, FIRST]


def test_the_frames_of_a_fine_camera_are_made_smaller_and_read(camera: Camera) -> None:
    camera.see(frame(FIRST, width=2 * WIDEST + 1))
    assert camera.scans == [FIRST]


def test_frames_that_come_too_soon_are_let_go(camera: Camera) -> None:
    camera.see(frame())
    camera.now += APART / 2
    assert not camera.reader.ready()
    camera.reader.offer(frame(FIRST))
    camera.see(frame(SECOND))
    camera.see(QImage())
    assert camera.scans == [SECOND]


def test_the_action_is_on_only_where_there_is_a_camera_and_else_says_why(
    qtbot: QtBot, make_context: Callable[..., Context], show: Callable
) -> None:
    window = show(MainWindow(make_context(), tuple(one for one in PAGES if one.key == "vials")))
    action = window.commands.by_id["scan_with_camera"]
    assert not action.isEnabled()
    bank_menu = window.menuBar().actions()[0].menu()
    bank_menu.aboutToShow.emit()
    lacking = lacks()
    assert action.isEnabled() is (lacking == "")
    assert action.toolTip() == (lacking or action.statusTip())
    assert bank_menu.toolTipsVisible()
    window.show_page("vials")
    assert action.isEnabled() is (lacking == "")
