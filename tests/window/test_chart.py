"""The decay chart in the panel and in its dialog: its numbers, its keys, its files."""

from __future__ import annotations

import io
import xml.etree.ElementTree as ET
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QColor, QContextMenuEvent, QImage, QWheelEvent
from PySide6.QtWidgets import QApplication, QFileDialog, QMenu, QPushButton, QWidget
from pytestqt.qtbot import QtBot

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core.dates import PartDate
from sporebank.core.records import PlaceKind
from sporebank.documents import report as document
from sporebank.jobs import chart as jobs
from sporebank.jobs import testing, vials
from sporebank.jobs.places import PlaceForm, add_place
from sporebank.window import chart_file
from sporebank.window.pages.vials import VialsPage
from sporebank.window.theme import Theme, palettes, tokens
from sporebank.window.widgets.chart import DeclineChart
from tests.builders import clone, counted, fridge, stored
from tests.documents.reports import chart, lines_of, report, sister
from tests.window.conftest import Told
from tests.window.desk import DialogDesk, Make, Settle
from tests.window.keys import at, press, tab_to

Show = Callable[[QWidget], QWidget]
SVG = "{http://www.w3.org/2000/svg}"


def shown(show: Show, what: Any, *, large: bool = False) -> DeclineChart:
    made = DeclineChart(large=large)
    made.show_chart(what)
    show(made)
    made.resize(700, 420) if large else made.resize(320, 178)
    QApplication.processEvents()
    return made


def has(image: QImage, colour: QColor) -> bool:
    return any(image.pixelColor(x, y) == colour for x in range(image.width()) for y in range(image.height()))


def curves(made: DeclineChart) -> dict[str, tuple[list[float], list[float]]]:
    """Return what the plot was given to draw, by name."""
    found = {}
    for item in made.plot.plotItem.items:
        if getattr(item, "name", None) and item.name():
            x, y = item.getData()
            found[item.name()] = (x.tolist(), y.tolist())
    return found


def test_the_screen_and_the_paper_draw_equal_numbers(theme: Theme, show: Show) -> None:
    """The middle as the plot holds it, beside the line that PDFium reads out of the report."""
    what = chart()
    x, y = curves(shown(show, what))["middle"]
    assert x == [day.toordinal() for day in what.curve.dates]
    assert y == list(what.curve.middle)
    middle = lines_of(document.render(report(chart=what)), len(what.curve.dates))[2]
    for on_screen, on_paper in ((x, [px for px, _ in middle]), (y, [py for _, py in middle])):
        first, last = on_screen[0], on_screen[-1]
        parts = [(value - first) / (last - first) for value in on_screen]
        drawn = [(value - on_paper[0]) / (on_paper[-1] - on_paper[0]) for value in on_paper]
        assert drawn == pytest.approx(parts, abs=1e-4)


def test_tests_that_count_are_circles_and_those_left_out_crosses(theme: Theme, show: Show) -> None:
    made = shown(show, chart())
    marks = {item.opts["symbol"]: item.getData() for item in made.plot.plotItem.items if hasattr(item, "setSymbol")}
    assert marks["o"][1].tolist() == [0.93, 0.6]
    assert marks["x"][1].tolist() == [0.1]
    assert marks["x"][0].tolist() == [date(2022, 2, 3).toordinal()]


def test_the_small_chart_is_quiet(theme: Theme, show: Show, qtbot: QtBot) -> None:
    made = shown(show, chart())
    assert made.plot.focusPolicy() == Qt.FocusPolicy.NoFocus
    before = made.plot.stretch()
    wheel(made, 240)
    assert made.plot.stretch() == before
    assert "42 % alive today" in made.accessibleDescription()
    assert has(made.grab().toImage(), tokens().colour("alive"))
    made.show_chart(None)
    assert made.isHidden()
    assert made.accessibleDescription() == ""


def wheel(made: DeclineChart, by: int) -> None:
    port = made.plot.viewport()
    middle = QPointF(port.rect().center())
    event = QWheelEvent(
        middle, port.mapToGlobal(middle), QPoint(), QPoint(0, by), Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QApplication.sendEvent(port, event)
    QApplication.processEvents()


def test_keys_zoom_move_and_show_the_whole(theme: Theme, show: Show, qtbot: QtBot) -> None:
    made = shown(show, chart(), large=True)
    whole = made.plot.stretch()
    assert made.plot.in_sight() is None
    qtbot.keyClick(made.plot, Qt.Key.Key_Plus)
    low, high = made.plot.stretch()
    assert (high - low) / (whole[1] - whole[0]) == pytest.approx(0.8)
    assert (low + high) / 2 == pytest.approx(sum(whole) / 2)
    qtbot.keyClick(made.plot, Qt.Key.Key_Right)
    assert made.plot.stretch()[0] > low
    for _ in range(30):
        qtbot.keyClick(made.plot, Qt.Key.Key_Right)
    assert made.plot.stretch()[1] == pytest.approx(whole[1]), "moved past the end"
    for _ in range(30):
        qtbot.keyClick(made.plot, Qt.Key.Key_Left)
    assert made.plot.stretch()[0] == pytest.approx(whole[0]), "moved past the beginning"
    for _ in range(40):
        qtbot.keyClick(made.plot, Qt.Key.Key_Equal)
    low, high = made.plot.stretch()
    assert high - low == pytest.approx(90, abs=1), "zoomed in further than months can tell"
    qtbot.keyClick(made.plot, Qt.Key.Key_0)
    assert made.plot.stretch() == pytest.approx(whole)
    for _ in range(3):
        qtbot.keyClick(made.plot, Qt.Key.Key_Minus)
    assert made.plot.stretch() == pytest.approx(whole), "zoomed out past the whole"


def test_the_wheel_zooms_and_a_drag_moves(theme: Theme, show: Show, qtbot: QtBot) -> None:
    made = shown(show, chart(), large=True)
    whole = made.plot.stretch()
    wheel(made, 480)
    low, high = made.plot.stretch()
    assert high - low < whole[1] - whole[0]
    shares = made.plot.plotItem.getViewBox().viewRange()[1]
    port, middle = made.plot.viewport(), made.plot.viewport().rect().center()
    qtbot.mousePress(port, Qt.MouseButton.LeftButton, pos=middle)
    for step in (20, 40, 60):
        qtbot.mouseMove(port, middle + QPoint(step, 25))
    qtbot.mouseRelease(port, Qt.MouseButton.LeftButton, pos=middle + QPoint(60, 25))
    assert made.plot.stretch() != pytest.approx((low, high))
    assert made.plot.plotItem.getViewBox().viewRange()[1] == shares, "shares run from 0 to 100 % whatever is done"


def test_there_is_no_menu_behind_it(theme: Theme, show: Show, qtbot: QtBot) -> None:
    made = shown(show, chart(), large=True)
    middle = made.plot.viewport().rect().center()
    qtbot.mouseClick(made.plot.viewport(), Qt.MouseButton.RightButton, pos=middle)
    event = QContextMenuEvent(QContextMenuEvent.Reason.Mouse, middle, made.plot.viewport().mapToGlobal(middle))
    QApplication.sendEvent(made.plot.viewport(), event)
    QApplication.processEvents()
    assert QApplication.activePopupWidget() is None
    assert not [menu for menu in QApplication.topLevelWidgets() if isinstance(menu, QMenu) and menu.isVisible()]


def test_it_follows_the_palette(theme: Theme, show: Show) -> None:
    made = shown(show, chart())
    try:
        theme.choose("dark")
        QApplication.processEvents()
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        image = made.grab().toImage()
        assert has(image, palettes()["dark"].colour("alive"))
        assert not has(image, palettes()["light"].colour("alive"))
    finally:
        theme.choose("light")
        QApplication.processEvents()


@pytest.mark.parametrize("mode", ["light", "dark"])
def test_saved_as_svg_it_is_a_drawing_on_white_in_the_light_colours(theme: Theme, mode: str) -> None:
    try:
        theme.choose(mode)
        root = ET.fromstring(chart_file.svg(chart(sisters=(sister(),), tested_sisters=1)))
    finally:
        theme.choose("light")
    assert root.tag == f"{SVG}svg"
    assert root.find(f".//{SVG}image") is None, "something was drawn as dots"
    said = {" ".join((one.text or "").split()) for one in root.iter(f"{SVG}text")}
    for text in ("today, 42 %", "the line, 20 %", "collected 14 Aug 2019", "Freezer, −18 °C", "100 %", "1"):
        assert text in said, text
    assert root.findtext(f"{SVG}title", "").startswith("Decline of V-K7F-00001")
    colours = {one.get("stroke", "").lower() for one in root.iter()} | {
        one.get("fill", "").lower() for one in root.iter()
    }
    light, dark = palettes()["light"], palettes()["dark"]
    assert light.alive.lower() in colours
    assert dark.alive.lower() not in colours


def test_saved_as_png_it_is_a_picture_on_white(theme: Theme) -> None:
    with Image.open(io.BytesIO(chart_file.png(chart()))) as picture:
        assert picture.format == "PNG"
        assert picture.size == (2000, 1240)
        seen = picture.convert("RGB")
    assert {seen.getpixel(corner) for corner in ((0, 0), (1999, 0), (0, 1239), (1999, 1239))} == {(255, 255, 255)}
    alive = palettes()["light"].colour("alive")
    assert (alive.red(), alive.green(), alive.blue()) in {colour for _, colour in seen.getcolors(1 << 20)}


def test_a_stretch_is_saved_without_the_rest(theme: Theme) -> None:
    root = ET.fromstring(chart_file.svg(chart(), (date(2024, 1, 1), date(2025, 6, 1))))
    said = {" ".join((one.text or "").split()) for one in root.iter(f"{SVG}text")}
    assert {"Apr 2024", "Jan 2025"} <= said or {"Jan 2024", "Jan 2025"} <= said
    assert not said & {"today, 42 %", "collected 14 Aug 2019"}


def test_where_nothing_is_modelled_the_chart_says_so(theme: Theme) -> None:
    bare = chart(curve=None, share=None, tests=(), stays=(), collected=PartDate(2019))
    root = ET.fromstring(chart_file.svg(bare))
    said = {" ".join((one.text or "").split()) for one in root.iter(f"{SVG}text")}
    assert {"Not modelled here: go by tests.", "today", "collected 2019"} <= said


# -- the dialog, and the ways to it


def _kin(bank: Bank) -> None:
    """Three batches of a fern, of which one has a test left out and another lies too cold to be modelled."""
    fridge(bank, boxes=2)
    deep = add_place(bank, PlaceForm(PlaceKind.FREEZER, "Deep freezer", temperature=-80.0))
    batches = [stored(bank, clone=clone(f"A-{number}"), vials=1, collected=PartDate(2019)) for number in (1, 2, 3)]
    for number, batch in enumerate(batches):
        counted(bank, batch.batch_id, 60 + number)
    counted(bank, batches[0].batch_id, 2, on=date(2026, 2, 1))
    left_out = queries.tests_of(bank, [batches[0].batch_id])[batches[0].batch_id][1][0].id
    testing.leave_out(bank, left_out, "the agar was mouldy")
    vials.move(bank, vials.free_moves(bank, batches[2].vial_ids, deep), date(2026, 2, 1))


@pytest.fixture
def desk(qtbot: QtBot, theme: Theme, make_context: Make, settle: Settle, told: Told) -> DialogDesk:
    context = make_context()
    context.do(_kin)
    return DialogDesk(qtbot, context, settle, told)


def test_the_dialog_shows_the_chart_of_the_vial_with_the_keyboard_in_it(desk: DialogDesk) -> None:
    dialog = desk.open("chart", vial_id=1)
    assert dialog.chart.record == desk.read(lambda bank: jobs.vial_chart(bank, 1))
    assert dialog.windowTitle().startswith("Decline of V-")
    assert "Cross: a test left out." in dialog.key.text()
    assert at(dialog) is dialog.chart.plot
    assert at(dialog).accessibleName() == "How the share alive declines"
    before = dialog.chart.plot.stretch()
    desk.qtbot.keyClick(at(dialog), Qt.Key.Key_Plus)
    assert dialog.chart.plot.stretch() != before
    desk.qtbot.keyClick(at(dialog), Qt.Key.Key_Escape)
    assert not dialog.isVisible()


def test_sister_batches_come_and_go(desk: DialogDesk) -> None:
    dialog = desk.open("chart", vial_id=1)
    assert dialog.how_many.text() == ""
    press(desk.qtbot, dialog, "Sister batches")
    desk.settle()
    assert [one.clone for one in dialog.chart.record.sisters] == ["A-2"], "A-3 lies too cold for a curve"
    assert dialog.how_many.text().startswith("1 of 2 sister batches")
    assert "1 A-" in dialog.key.text()
    press(desk.qtbot, dialog, "Sister batches")
    desk.settle()
    assert dialog.chart.record.sisters == ()
    assert dialog.how_many.text() == ""


@pytest.mark.parametrize("kind", ["PNG", "SVG"])
def test_the_chart_is_saved(desk: DialogDesk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: str) -> None:
    dialog = desk.open("chart", vial_id=1)
    target = tmp_path / f"decline.{kind.lower()}"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(target), ""))
    press(desk.qtbot, dialog, f"Save as {kind}…")
    assert dialog.message.text() == f"Saved as {target}."
    data = target.read_bytes()
    assert data.startswith(b"\x89PNG\r\n") if kind == "PNG" else ET.fromstring(data).tag == f"{SVG}svg"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(tmp_path / "gone" / target.name), ""))
    press(desk.qtbot, dialog, f"Save as {kind}…")
    assert "could not be written" in dialog.message.text()


def test_a_vial_that_lies_too_cold_is_told_by_its_tests(desk: DialogDesk) -> None:
    dialog = desk.open("chart", vial_id=3)
    assert dialog.chart.record.curve is None
    assert "Not modelled here: go by tests." in dialog.chart.accessibleDescription()
    assert "Thick line" not in dialog.key.text()
    press(desk.qtbot, dialog, "Sister batches")
    desk.settle()
    assert [one.clone for one in dialog.chart.record.sisters] == ["A-1", "A-2"]


def test_the_report_is_asked_for_with_this_vial_and_comes_on_either_paper(desk: DialogDesk) -> None:
    asked: list[tuple[str, dict[str, Any]]] = []
    desk.context.dialog_wanted.connect(lambda key, arguments: asked.append((key, arguments)))
    dialog = desk.open("chart", vial_id=2)
    code = dialog.chart.record.code
    press(desk.qtbot, dialog, "Batch report…")
    assert not dialog.isVisible()
    ((key, arguments),) = asked
    paper = desk.open(key, **arguments)
    desk.qtbot.waitUntil(paper.save_button.isEnabled, timeout=20_000)
    assert paper.records.chart.code == code
    large = paper.pdf
    tab_to(desk.qtbot, paper, "Paper")
    desk.qtbot.keyClick(at(paper), Qt.Key.Key_Down)
    desk.qtbot.waitUntil(lambda: paper.save_button.isEnabled() and paper.pdf != large, timeout=20_000)
    assert desk.context.state.get("report/paper", "") == "A5"
    desk.qtbot.waitUntil(lambda: not desk.context.background.busy, timeout=20_000)


def test_the_batch_card_leads_to_its_report(desk: DialogDesk) -> None:
    asked: list[str] = []
    desk.context.dialog_wanted.connect(lambda key, arguments: asked.append(key))
    dialog = desk.open("batch", batch_id=1)
    press(desk.qtbot, dialog, "Report…")
    assert asked == ["report"]


def test_panel_and_page_open_the_chart_of_the_vial_chosen(
    desk: DialogDesk, show: Show, settle: Settle, qtbot: QtBot
) -> None:
    asked: list[tuple[str, dict[str, Any]]] = []
    desk.context.dialog_wanted.connect(lambda key, arguments: asked.append((key, arguments)))
    page = VialsPage(desk.context)
    qtbot.addWidget(page.panel)
    show(page)
    settle(desk.context)
    page.open_chart()
    page.print_report()
    assert asked == [], "nothing is chosen"
    page.table.selectRow(0)
    with qtbot.waitSignal(page.panel.currentChanged, timeout=20_000):  # the first chart of all loads what draws it
        pass
    show(page.panel)
    button = next(one for one in page.panel.findChildren(QPushButton) if one.text() == "Open the chart")
    qtbot.keyClick(button, Qt.Key.Key_Space)
    page.open_chart()
    page.print_report()
    chosen = page.model.row_at(0).id
    assert [key for key, _ in asked] == ["chart", "chart", "report"]
    assert asked[0][1] == asked[1][1] == {"vial_id": chosen}
