"""Pictures of labels: how they come in, what is listed, and what is done then."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QGuiApplication, QImage
from PySide6.QtWidgets import QApplication, QFileDialog, QLineEdit, QWidget
from pytestqt.qtbot import QtBot

from sporebank.bank import queries
from sporebank.core import codes
from sporebank.core.stocktake import Way
from sporebank.window.context import Context
from sporebank.window.dialogs import dialog_class
from sporebank.window.main import MainWindow
from sporebank.window.pages import PAGES
from sporebank.window.pictures import Use
from tests.formats.photos import noise, pdf, photo, saved
from tests.window.conftest import Told
from tests.window.desk import DialogDesk


class PictureDesk(DialogDesk):
    """The window, and the dialogs that it asks for, shown without holding the test up."""

    def __init__(self, qtbot: QtBot, context: Context, settle, told: Told) -> None:
        super().__init__(qtbot, context, settle, told)
        self.window = MainWindow(context, tuple(one for one in PAGES if one.key in ("vials", "places", "cull")))
        qtbot.addWidget(self.window)
        self.asked: list[tuple[str, dict]] = []
        context.dialog_wanted.disconnect(self.window._open_dialog)
        context.dialog_wanted.connect(lambda key, arguments: self.asked.append((key, arguments)))
        with qtbot.waitExposed(self.window):
            self.window.show()
        self.settle()
        self.boxes = [place for place, _, _ in self.read(queries.places) if place.rows]
        self.codes = [row.code for row in self.vials()]

    def vials(self):
        return [row for _, row in self.read(lambda bank: queries.box_vials(bank, self.boxes[0].id))]

    def listed(self):
        """Open what the window asked for, and wait until the labels are listed or it says why not."""
        self.qtbot.waitUntil(lambda: bool(self.asked))
        key, arguments = self.asked.pop()
        assert key == "picture"
        return self.looked_at(dialog_class(key)(self.context, self.window, **arguments))

    def looked_at(self, dialog):
        self._opened.append(dialog)
        self.qtbot.addWidget(dialog)
        dialog.show()
        self.qtbot.waitUntil(lambda: dialog.bar.isHidden(), timeout=20_000)
        return dialog

    def read_picture(self, picture: bytes, use: Use | None = None):
        made = dialog_class("picture")(self.context, self.window, sources=[picture], use=use or self.window.scans.use())
        return self.looked_at(made)

    def do(self, dialog) -> list[tuple[str, str]]:
        """Do it, and return what came of each."""
        self.qtbot.mouseClick(dialog.go, Qt.MouseButton.LeftButton)
        self.qtbot.waitUntil(lambda: "done" in dialog.head.text(), timeout=20_000)
        return [(row.label.text, row.said()) for row in dialog.model.rows]


@pytest.fixture
def desk(qtbot: QtBot, make_context: Callable[..., Context], settle, told: Told) -> PictureDesk:
    return PictureDesk(qtbot, make_context(90), settle, told)


def drop(window: QWidget, mime: QMimeData) -> bool:
    """Drag something over a window and let go; return whether it was taken."""
    copy, left, none = Qt.DropAction.CopyAction, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    for event in (
        QDragEnterEvent(QPoint(9, 9), copy, mime, left, none),
        QDropEvent(QPointF(9, 9), copy, mime, left, none),
    ):
        event.setAccepted(False)
        QApplication.sendEvent(window, event)
    return event.isAccepted()


@pytest.mark.parametrize("way", ["dropped", "pasted as a file", "pasted as a picture", "opened"])
def test_a_picture_comes_in_every_way(
    desk: PictureDesk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, way: str
) -> None:
    file = tmp_path / "box lid.jpg"
    file.write_bytes(saved(photo([desk.codes[:3]])))
    mime = QMimeData()
    if way == "pasted as a picture":
        mime.setImageData(QImage(str(file)))
    else:
        mime.setUrls([QUrl.fromLocalFile(str(file))])
    if way == "dropped":
        assert drop(desk.window, mime)
    elif way == "opened":
        monkeypatch.setattr(QFileDialog, "getOpenFileNames", lambda *_: ([str(file)], ""))
        desk.window.commands.by_id["read_picture"].trigger()
        assert desk.context.state.get("pictures/folder", "") == str(tmp_path)
    else:
        QGuiApplication.clipboard().setMimeData(mime)
        desk.window.page().first_focus().setFocus()
        desk.window.activateWindow()
        desk.qtbot.keyClick(desk.window.page().first_focus(), Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    dialog = desk.listed()
    assert [row.label.text for row in dialog.model.rows] == desk.codes[:3]
    assert dialog.head.text() == "3 labels"


def test_what_is_no_picture_is_not_taken(desk: PictureDesk, told: Told) -> None:
    mime = QMimeData()
    mime.setText("Dryopteris")
    assert not drop(desk.window, mime)
    QGuiApplication.clipboard().setText("Dryopteris")
    desk.window.paste_picture()
    assert "no picture on the clipboard" in str(told.errors[0])
    assert desk.asked == []


def test_a_field_of_text_keeps_its_own_pasting(desk: PictureDesk) -> None:
    QGuiApplication.clipboard().setText("Osmunda")
    field: QLineEdit = desk.window.find_field
    desk.window.activateWindow()
    field.setFocus()
    desk.qtbot.keyClick(field, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    assert field.text() == "Osmunda"
    assert desk.told is not None
    assert desk.told.errors == []
    QGuiApplication.clipboard().setImage(QImage.fromData(saved(photo([desk.codes[:2]]))))
    desk.qtbot.keyClick(field, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    assert field.text() == "Osmunda"
    assert len(desk.listed().model.rows) == 2


def test_many_vials_are_shown_on_vials_and_no_others(desk: PictureDesk) -> None:
    dialog = desk.read_picture(pdf([photo([desk.codes[:2]]), photo([desk.codes[1:4]])]))
    assert dialog.head.text() == "4 labels"
    desk.qtbot.mouseClick(dialog.go, Qt.MouseButton.LeftButton)
    desk.settle()
    page = desk.window.page()
    assert sorted(page.model.row_at(n).code for n in range(page.model.rowCount())) == sorted(desk.codes[:4])
    assert page.filters.only.text() == "Show all (now: 4 vials only)"


@pytest.mark.parametrize("count", [1, 3])
def test_return_goes_to_the_one_chosen(desk: PictureDesk, count: int) -> None:
    dialog = desk.read_picture(saved(photo([desk.codes[:count]])))
    assert dialog.go.isEnabled() is (count > 1)
    dialog.table.choose_rows([count - 1])
    dialog.table.setCurrentIndex(dialog.model.index(count - 1, 0))
    desk.enter(dialog)
    desk.settle()
    page = desk.window.page()
    assert [page.model.row_at(row).code for row in page.table.chosen_rows()] == [desk.codes[count - 1]]
    assert dialog.isHidden()


def test_what_is_wrong_comes_first_with_its_own_sentence(desk: PictureDesk) -> None:
    tag = desk.context.tag
    foreign = codes.make("V", "000" if tag != "000" else "001", 9)
    unknown = codes.make("V", tag, 99_999)
    dialog = desk.read_picture(saved(photo([[desk.codes[0], foreign, unknown, desk.codes[0]]])))
    assert dialog.head.text() == "3 labels, of which 2 cannot be used"
    said = []
    for number in range(3):
        dialog.table.choose_rows([number])
        said.append(dialog.told.text())
        assert dialog.one.isEnabled() is (number == 2)
    assert "another bank" in said[0]
    assert "nothing here carries it" in said[1]
    assert said[2] == ""


@pytest.mark.parametrize(
    ("data", "title", "says"),
    [
        (saved(noise()), "No label was found", "nearer"),
        (b"", "cannot be read", "empty"),
        (b"spores", "cannot be read", "no picture"),
        (pdf([noise()], encrypt="secret"), "cannot be read", "password"),
    ],
)
def test_a_picture_that_gives_nothing_says_what_helps(desk: PictureDesk, data: bytes, title: str, says: str) -> None:
    dialog = desk.read_picture(data)
    assert title in dialog.empty.title.text()
    assert says in dialog.empty.text.text()
    assert not dialog.go.isVisible()
    assert desk.told is not None
    assert (desk.told.bugs, desk.told.errors) == ([], [])


def test_a_file_that_is_gone_is_named(desk: PictureDesk, tmp_path: Path) -> None:
    dialog = dialog_class("picture")(
        desk.context, desk.window, sources=[tmp_path / "gone.jpg"], use=desk.window.scans.use()
    )
    desk.looked_at(dialog)
    assert dialog.empty.text.text().startswith("gone.jpg: It cannot be opened")


def test_a_file_that_cannot_be_read_is_named_and_the_others_are_used(desk: PictureDesk, tmp_path: Path) -> None:
    files = [tmp_path / name for name in ("one.jpg", "notes.txt", "two.jpg")]
    for file, data in zip(
        files, (saved(photo([desk.codes[:2]])), b"spores", saved(photo([desk.codes[2:3]]))), strict=True
    ):
        file.write_bytes(data)
    dialog = dialog_class("picture")(desk.context, desk.window, sources=files, use=desk.window.scans.use())
    desk.looked_at(dialog)
    assert [row.label.text for row in dialog.model.rows] == desk.codes[:3]
    assert dialog.failed.isVisible()
    assert dialog.failed.text().startswith("notes.txt: This is no picture that can be read here.")


def test_of_many_files_that_cannot_be_read_the_first_are_named(desk: PictureDesk, tmp_path: Path) -> None:
    files = [tmp_path / f"{number}.jpg" for number in range(6)]
    dialog = dialog_class("picture")(desk.context, desk.window, sources=files, use=desk.window.scans.use())
    desk.looked_at(dialog)
    assert dialog.empty.title.text() == "The picture cannot be read"
    assert dialog.empty.text.text().startswith("0.jpg: It cannot be opened")
    assert dialog.empty.text.text().endswith("\nand 3 more.")
    files[0].write_bytes(saved(noise()))
    dialog = dialog_class("picture")(desk.context, desk.window, sources=files[:2], use=desk.window.scans.use())
    desk.looked_at(dialog)
    assert "No label was found" in dialog.empty.title.text()
    assert "1.jpg: It cannot be opened" in dialog.empty.text.text()


def test_closing_leaves_a_long_pdf(desk: PictureDesk) -> None:
    page = photo([desk.codes[:9]] * 9)
    made = dialog_class("picture")(desk.context, desk.window, sources=[pdf([page] * 60)], use=desk.window.scans.use())
    desk._opened.append(made)
    desk.qtbot.addWidget(made)
    made.show()
    desk.qtbot.waitUntil(lambda: "of 60" in made.head.text())
    made.reject()
    desk.qtbot.waitUntil(lambda: not desk.context.background.busy, timeout=3_000)
    assert made.model.rows == []


def test_taking_out_does_each_as_a_scan_and_the_strip_keeps_the_last(desk: PictureDesk) -> None:
    scans = desk.window.scans
    scans.choice.setCurrentIndex(1)
    scans.choice.edited.emit()
    desk.qtbot.keyClicks(scans.strip.amount.line, "1 mg")
    before = {row.code: row.left for row in desk.vials()}
    dialog = desk.read_picture(saved(photo([desk.codes[:4]])))
    assert "take 1 mg for" in dialog.about.text()
    came = desk.do(dialog)
    assert [text for text, _ in came] == desk.codes[:4]
    assert all("left." in said for _, said in came)
    after = {row.code: row.left for row in desk.vials()}
    assert {code for code in before if after[code] == before[code] - 1_000} == set(desk.codes[:4])
    scans.strip.take_back()
    desk.settle()
    assert {row.code: row.left for row in desk.vials()}[desk.codes[3]] == before[desk.codes[3]]


def test_moving_takes_the_one_place_first_wherever_it_stands(desk: PictureDesk) -> None:
    desk.window.show_page("places")
    scans = desk.window.scans
    scans.choice.setCurrentIndex(1)
    scans.choice.edited.emit()
    dialog = desk.read_picture(saved(photo([[*desk.codes[:2], desk.boxes[1].code]])))
    came = desk.do(dialog)
    assert came[2][1].startswith("The place to move to")
    assert dialog.head.text() == "3 labels done"
    inside = [row.code for _, row in desk.read(lambda bank: queries.box_vials(bank, desk.boxes[1].id))]
    assert set(desk.codes[:2]) <= set(inside)


def test_what_a_mode_refuses_stands_beside_its_label_without_a_sound(desk: PictureDesk, told: Told) -> None:
    desk.window.show_page("cull")
    scans = desk.window.scans
    beeps: list[int] = []
    scans.sound._beep = lambda: beeps.append(1)
    scans.choice.setCurrentIndex(1)
    scans.choice.edited.emit()
    dialog = desk.read_picture(saved(photo([[desk.codes[0], desk.boxes[0].code]])))
    came = dict(desk.do(dialog))
    assert "is a place; here each scan should be of a vial" in came[desk.boxes[0].code]
    assert dialog.told.text().startswith("Not done: ")
    assert "not" in dialog.head.text()
    assert (beeps, told.errors) == ([], [])


def test_a_photo_of_a_whole_box_counts_all_its_labels_in_a_stocktake(desk: PictureDesk, told: Told) -> None:
    stocktake = desk.open("stocktake", place_id=desk.boxes[0].id)
    foreign = codes.make("V", "000" if desk.context.tag != "000" else "001", 9)
    rows = [desk.codes[start : start + 9] for start in range(0, 81, 9)]
    rows[4] = [*rows[4][:8], foreign]
    stocktake.pictures.given.emit([saved(photo(rows, side=90, gap=20))])
    dialog = desk.listed()
    came = desk.do(dialog)
    assert dialog.head.text() == "81 labels done"
    assert {said.split(":")[0] for _, said in came} == {"Right", "Stranger"}
    assert {key: figure.text() for key, figure in stocktake.figures.items()} == {
        "right": "80", "missing": "1", "wrong": "0", "strangers": "1",
    }  # fmt: skip
    stocktake.ways.chosen.emit(Way.SLOTS.value)
    told.answer = "Forget it"
    stocktake.ways.chosen.emit(Way.SLOTS.value)
    stocktake.pictures.given.emit([saved(photo(rows))])
    assert "In any order" in stocktake.message.text()
    assert desk.asked == []
