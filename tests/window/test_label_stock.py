"""The keeper's own layouts and sheets, made with the keyboard alone, and printed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QApplication, QScrollArea, QTabBar
from pytestqt.qtbot import QtBot

from sporebank.bank.bank import Bank
from sporebank.core.label_examples import examples
from sporebank.core.layout import TEXTS, Align, Field, Kind, Layout, Stand, faults, fits
from sporebank.core.sheets import Sheet, roll
from sporebank.documents.labels import LabelPrint, preflight, render
from sporebank.documents.picture import page_sizes
from sporebank.formats.label_layouts import load_label_layouts
from sporebank.formats.label_sheets import load_label_sheets
from sporebank.jobs import undo
from sporebank.jobs.label_stock import Stock, keep_layout, keep_sheet, stock
from sporebank.window.dialogs.label_stock import LabelStockDialog
from sporebank.window.label_layouts import LayoutEditor, LayoutsTab, draw, new_field
from sporebank.window.label_sheets import SheetsTab, takes
from sporebank.window.label_stock_tab import DROP, KEEP
from sporebank.window.theme import Theme
from tests.core.test_sheets import sheets
from tests.documents.examples import LABELS, pictures, symbols, text_of
from tests.window.conftest import Told
from tests.window.desk import DialogDesk, Make, Settle
from tests.window.keys import at, bring_to_front, choose, doubled_letters, press, tab_to, write
from tests.window.test_papers import Printery

FIRST = load_label_layouts()[0]
OWN = "Vial wrap, 24 × 9.4 mm, own"


class StockDesk(DialogDesk):
    """The dialog, and short ways to work it."""

    dialog: LabelStockDialog

    def open_tab(self, number: int = 0) -> LayoutsTab | SheetsTab:
        """Open the dialog on a tab."""
        self.dialog = self.open("label_stock")
        bar = self.dialog.tabs.tabBar()
        assert isinstance(bar, QTabBar)
        bar.setFocus()
        for _ in range(number):
            self.qtbot.keyClick(bar, Qt.Key.Key_Right)
        tab = self.dialog.tabs.currentWidget()
        assert isinstance(tab, LayoutsTab | SheetsTab)
        self.drawn()
        return tab

    def drawn(self) -> None:
        """Wait until what is wished is what is shown."""
        tab = self.dialog.tabs.currentWidget()
        if isinstance(tab, LayoutsTab):
            editor = tab.editor
            assert isinstance(editor, LayoutEditor)
            self.qtbot.waitUntil(lambda: not editor._pause.isActive())
        self.qtbot.waitUntil(lambda: not self.context.background.busy, timeout=20_000)
        self.settle()

    def press(self, name: str) -> None:
        """Tab to a button or a tick and press it."""
        press(self.qtbot, self.dialog, name)
        self.settle()

    def write(self, name: str, text: str) -> None:
        """Write into a field."""
        write(self.qtbot, self.dialog, name, text)
        self.settle()

    def go_to(self, name: str, row: int) -> None:
        """Tab to a list and go down to a row."""
        here = tab_to(self.qtbot, self.dialog, name)
        self.qtbot.keyClick(here, Qt.Key.Key_Home, Qt.KeyboardModifier.ControlModifier)
        for _ in range(row):
            self.qtbot.keyClick(here, Qt.Key.Key_Down)
        self.settle()

    def own_layouts(self) -> list[Layout]:
        """Return the keeper's own layouts."""
        return list(self.read(stock).layouts[len(load_label_layouts()) :])

    def own_sheets(self) -> list[Sheet]:
        """Return the keeper's own sheets."""
        return list(self.read(stock).sheets[len(load_label_sheets()) :])


@pytest.fixture
def desk(qtbot: QtBot, theme: Theme, make_context: Make, settle: Settle, told: Told) -> StockDesk:
    return StockDesk(qtbot, make_context(), settle, told)


def _editor(desk: StockDesk) -> LayoutEditor:
    editor = desk.dialog.tabs.currentWidget().editor
    assert isinstance(editor, LayoutEditor)
    return editor


# -- layouts


def test_what_travels_with_the_program_is_shown_and_stays(desk: StockDesk) -> None:
    tab = desk.open_tab()
    assert [row.id for row in tab.model.rows][:3] == ["vial-24", "vial-32", "vial-38"]
    assert [list(Kind).index(row.kind) for row in tab.model.rows] == sorted(
        list(Kind).index(row.kind) for row in tab.model.rows
    )
    assert not tab.keep.isEnabled()
    assert not tab.remove.isEnabled()
    assert "Copy it" in tab.about.text()
    assert not _editor(desk).label_form.isEnabled()
    assert not _editor(desk).field_form.isEnabled()
    assert len(_editor(desk).picture.paper._images) == 2
    assert doubled_letters(desk.dialog) == []


def test_a_copy_is_changed_and_kept_printed_and_taken_back(desk: StockDesk, told: Told) -> None:
    tab = desk.open_tab()
    desk.press("Copy")
    assert at(desk.dialog).accessibleName() == "Title"
    assert doubled_letters(desk.dialog) == []
    assert tab.keep.isEnabled()
    assert desk.own_layouts() == []
    desk.write("Width of the label (mm)", "26,5")
    desk.go_to("Fields", 1)
    desk.write("Width (mm)", "18")
    desk.press("Shows note")
    desk.drawn()
    desk.press("Keep")
    (kept,) = desk.own_layouts()
    assert (kept.title, kept.kind, kept.width) == (OWN, Kind.VIAL, 26.5)
    assert (kept.fields[1].width, kept.fields[1].show) == (18, ("name", "note"))
    assert kept.fields[2:] == FIRST.fields[2:]
    assert told.infos[-1][0] == f"{OWN} is kept."
    assert tab.table.currentIndex().row() == next(n for n, row in enumerate(tab.model.rows) if row.id == kept.id)
    assert "yours" in [tab.model.columns[1].text(row) for row in tab.model.rows]
    pdf = render(LabelPrint([replace(LABELS[Kind.VIAL](), note="shade")], kept, roll("r", "r", 26.5, 9.4)))
    assert "shade" in text_of(pdf)
    assert symbols(pictures(pdf, 300)) == [LABELS[Kind.VIAL]().code]
    assert desk.read(undo.undo) == f"Add label layout {OWN}"
    desk.settle()
    assert desk.own_layouts() == []
    assert tab.editor.written().id != kept.id


@pytest.mark.parametrize(
    ("field", "name", "text", "beside", "says"),
    [
        (1, "Width (mm)", "20", "x", "lies outside the label by 3.5 mm, at the right"),
        (1, "Left (mm)", "7", "x", "“symbol” and “name” overlap by 0.5 × 4.2 mm"),
        (1, "Width (mm)", "99999999999999", "width", "lies outside the label by 99999999999982.5 mm, at the right"),
        (1, "Left (mm)", "many", "x", "“many” is not a number"),
        (1, "Left (mm)", "", "x", "Give a number."),
        (1, "Smallest (pt)", "3", "smallest", "at least 4 pt"),
        (0, "Width (mm)", "7", "width", "a code takes 7.25 mm"),
        (2, "Height (mm)", "1", "height", "one line of 4 pt takes 1.52 mm"),
    ],
)
def test_a_wrong_number_is_said_beside_it_and_not_kept(
    desk: StockDesk, field: int, name: str, text: str, beside: str, says: str
) -> None:
    tab = desk.open_tab()
    desk.press("Copy")
    desk.go_to("Fields", field)
    desk.write(name, text)
    desk.drawn()
    editor = _editor(desk)
    assert says in editor.field_form.fields[beside].error
    assert editor.fields.item(field).text().startswith("⚠ ")
    assert not tab.keep.isEnabled()
    assert says in tab.about.text()
    assert editor.picture.paper._images == ()
    desk.enter(desk.dialog)
    assert desk.own_layouts() == []


@pytest.mark.parametrize(
    ("name", "text", "beside", "says"),
    [
        ("Width of the label (mm)", "0", "width", "not 0 × 9.4 mm"),
        ("Height of the label (mm)", "4000", "height", "at most 1000 mm, not 4000 mm"),
        ("Blank end of a tag (mm)", "30", "stem", "leaves nothing"),
        ("Blank end of a tag (mm)", "x", "stem", "not a number"),
    ],
)
def test_a_wrong_size_of_the_label_is_said_beside_it(
    desk: StockDesk, name: str, text: str, beside: str, says: str
) -> None:
    tab = desk.open_tab()
    desk.press("Copy")
    desk.write(name, text)
    assert says in _editor(desk).label_form.fields[beside].error
    assert not tab.keep.isEnabled()


def test_what_is_wrong_elsewhere_is_said_under_the_fields(desk: StockDesk) -> None:
    desk.open_tab()
    desk.press("Copy")
    desk.write("Width of the label (mm)", "20")
    editor = _editor(desk)
    assert editor.fields.currentRow() == 0
    assert editor.wrong.text().splitlines() == [
        f"“{name}” lies outside the label by 3.3 mm, at the right." for name in ("name", "clone · collected", "code")
    ]
    desk.write("Width of the label (mm)", "24")
    desk.go_to("Fields", 2)
    desk.write("Height (mm)", "1")
    desk.go_to("Fields", 0)
    (said,) = editor.wrong.text().splitlines()
    assert said.startswith("“clone · collected” is 1.00 mm high")
    desk.go_to("Fields", 3)
    desk.press("Take out")
    assert "The code must stand in letters beside the symbol" in editor.wrong.text()


def test_fields_are_added_moved_and_taken_out(desk: StockDesk) -> None:
    desk.open_tab()
    desk.press("Copy")
    desk.press("Add")
    editor = _editor(desk)
    assert (editor.fields.count(), editor.fields.currentRow()) == (5, 4)
    assert editor.fields.currentItem().text() == "⚠ Amount"
    desk.press("Up")
    assert [editor.fields.item(row).text() for row in range(5)][3] == "⚠ Amount"
    desk.press("Down")
    assert editor.fields.currentRow() == 4
    assert not editor.down.isEnabled()
    desk.press("Take out")
    assert (editor.fields.count(), editor.fields.currentRow()) == (4, 3)
    assert editor.why_not() == ""


def test_the_keyboard_goes_through_a_field_in_the_order_in_which_it_is_read(desk: StockDesk) -> None:
    desk.open_tab()
    desk.press("Copy")
    desk.go_to("Fields", 1)
    met = []
    while "Keep" not in met:
        here = at(desk.dialog)
        met.append(here.accessibleName() or getattr(here, "text", str)().replace("&", ""))
        desk.qtbot.keyClick(here, Qt.Key.Key_Tab)
    wanted = ["Fields", "Add", "Left (mm)", "Shows symbol", "Shows note", "Smallest (pt)", "Most lines", "Bold", "Keep"]
    assert [name for name in met if name in wanted] == wanted


def test_on_a_small_screen_the_numbers_of_a_field_are_in_sight_and_the_rest_comes_to_the_keyboard(
    desk: StockDesk,
) -> None:
    desk.open_tab()
    desk.dialog.resize(890, 470)  # 1366 by 768 at 150 %, less the bars of a window and a system
    desk.press("Copy")
    desk.go_to("Fields", 1)
    editor = _editor(desk)
    for name in ("x", "y", "width", "height"):
        number = editor.field_form.numbers[name]
        assert number.visibleRegion().boundingRect() == number.rect()
    for name in ("Smallest (pt)", "Must be there"):
        here = tab_to(desk.qtbot, desk.dialog, name)
        assert here.visibleRegion().boundingRect() == here.rect()


def test_on_a_screen_800_wide_a_layout_is_not_scrolled_sideways(desk: StockDesk) -> None:
    desk.open_tab()
    desk.dialog.resize(780, 560)
    desk.press("Copy")
    bar = _editor(desk).findChild(QScrollArea).horizontalScrollBar()
    assert bar.maximum() == 0


def test_the_arrows_move_a_number_by_a_step(desk: StockDesk) -> None:
    desk.open_tab()
    desk.press("Copy")
    desk.go_to("Fields", 1)
    here = tab_to(desk.qtbot, desk.dialog, "Left (mm)")
    for _ in range(3):
        desk.qtbot.keyClick(here, Qt.Key.Key_Up)
    desk.qtbot.keyClick(here, Qt.Key.Key_Down)
    assert _editor(desk).written().fields[1].x == 7.7
    here = tab_to(desk.qtbot, desk.dialog, "Largest (pt)")
    desk.qtbot.keyClick(here, Qt.Key.Key_Up)
    assert _editor(desk).written().fields[1].largest == 6.25


def test_the_long_example_tells_what_does_not_fit(desk: StockDesk) -> None:
    desk.open_tab()
    desk.press("Copy")
    desk.go_to("Fields", 1)
    desk.write("Smallest (pt)", "6")
    desk.drawn()
    editor = _editor(desk)
    assert editor.troubles.text().startswith("The long example: “Polypodium cambricum")
    assert "does not fit, not even at 6 points" in editor.troubles.text()
    assert len(editor.picture.paper._images) == 2


def test_a_field_is_chosen_in_the_picture(desk: StockDesk) -> None:
    desk.open_tab()
    editor = _editor(desk)
    picture = editor.picture
    middle = picture.paper.field(3, 1).center()
    desk.qtbot.mouseClick(picture.paper, Qt.MouseButton.LeftButton, pos=QPoint(round(middle.x()), round(middle.y())))
    assert editor.fields.currentRow() == 3


def test_a_name_is_given_once(desk: StockDesk) -> None:
    tab = desk.open_tab()
    desk.press("Copy")
    desk.write("Title", "vial WRAP, 24 × 9.4 mm")
    desk.enter(desk.dialog)
    assert "choose another name" in _editor(desk).label_form.fields["name"].error
    assert tab.keep.isEnabled()
    desk.write("Title", " ")
    desk.enter(desk.dialog)
    assert "a name of your own" in _editor(desk).label_form.fields["name"].error


def test_what_is_not_kept_is_asked_about_before_it_is_left(desk: StockDesk, told: Told) -> None:
    tab = desk.open_tab()
    desk.press("Copy")
    desk.go_to("Layouts", 0)
    assert told.asked == [f"“{OWN}” is changed and not yet kept."]
    assert tab.editor.written().title == OWN
    assert tab.table.chosen_rows() == [1]
    assert tab.model.columns[1].text(tab.model.rows[1]) == "new"
    told.answer = KEEP
    desk.go_to("Layouts", 0)
    assert [one.title for one in desk.own_layouts()] == [OWN]
    assert tab.editor.written() == FIRST
    assert tab.table.currentIndex().row() == 0


def test_closing_asks_too_and_drops_what_is_not_wanted(desk: StockDesk, told: Told) -> None:
    desk.open_tab()
    desk.press("Copy")
    desk.write("Width of the label (mm)", "2")
    desk.qtbot.keyClick(at(desk.dialog), Qt.Key.Key_Escape)
    assert desk.dialog.isVisible()
    assert not desk.dialog.close()
    told.answer = KEEP
    desk.qtbot.keyClick(at(desk.dialog), Qt.Key.Key_Escape)
    assert desk.dialog.isVisible(), "wrong numbers cannot be kept"
    told.answer = DROP
    desk.qtbot.keyClick(at(desk.dialog), Qt.Key.Key_Escape)
    assert not desk.dialog.isVisible()
    assert desk.own_layouts() == []


def test_closing_keeps_what_is_wanted(desk: StockDesk, told: Told) -> None:
    desk.open_tab()
    desk.press("Copy")
    told.answer = KEEP
    desk.qtbot.keyClick(at(desk.dialog), Qt.Key.Key_Escape)
    desk.settle()
    assert not desk.dialog.isVisible()
    assert [one.title for one in desk.own_layouts()] == [OWN]


def test_an_own_one_is_removed_and_comes_back(desk: StockDesk, told: Told) -> None:
    own = desk.read(lambda bank: keep_layout(bank, replace(FIRST, title="Mine")))
    tab = desk.open_tab()
    place = next(n for n, row in enumerate(tab.model.rows) if row.id == own)
    desk.go_to("Layouts", place)
    assert tab.about.text() == ""
    assert not tab.keep.isEnabled()
    desk.press("Remove")
    assert desk.own_layouts() == []
    assert told.infos[-1][0] == "Mine is removed."
    assert tab.table.currentIndex().row() == place
    assert tab.model.rows[place].kind is Kind.CAP
    assert tab.about.text() == "Mine is removed."
    assert tab.back.isVisible()
    desk.qtbot.keyClick(tab.table, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    desk.settle()
    desk.settle()
    assert tab.model.rows[place].title == "Mine"
    assert not tab.back.isVisible()
    desk.go_to("Layouts", place)
    desk.press("Remove")
    desk.press("Undo")
    desk.settle()
    assert [one.title for one in desk.own_layouts()] == ["Mine"]


@pytest.mark.parametrize("layout", load_label_layouts(), ids=lambda one: one.id)
def test_every_layout_is_shown_as_it_is(qtbot: QtBot, theme: Theme, make_context: Make, layout: Layout) -> None:
    editor = LayoutEditor(make_context())
    qtbot.addWidget(editor)
    own = replace(layout, id="own-1")
    editor.show_one(own, True)
    for place in range(len(layout.fields)):
        editor.fields.setCurrentRow(place)
        assert editor.written() == own
    editor._pause.stop()


# -- what the editor accepts is printed

_SHIFT = st.sampled_from((0.0, 0.0, -0.3, 0.4, 1.5, -2.0))
_SHOWN = st.integers(0, 2)


@st.composite
def _changed_layouts(draw: st.DrawFn) -> Layout:
    """Return a layout of the program as a keeper may change it."""
    layout = draw(st.sampled_from(load_label_layouts()))
    fields = []
    for one in layout.fields:
        if one.show != ("symbol",):
            keys = [key for key in TEXTS[layout.kind] if key != "symbol"]
            more = draw(st.lists(st.sampled_from(keys), max_size=2, unique=True))
            show = one.show if draw(_SHOWN) else tuple(dict.fromkeys((*one.show, *more)))
            one = replace(
                one, show=show, lines=draw(st.integers(1, 6)), align=draw(st.sampled_from(Align)),
                stand=draw(st.sampled_from(Stand)), strong=draw(st.booleans()), italic=draw(st.booleans()),
                whole=draw(st.booleans()), largest=draw(st.floats(4, 40)), smallest=draw(st.floats(4, 6)),
                turn=draw(st.sampled_from((0, 0, 90))),
            )  # fmt: skip
        x, y = one.x + draw(_SHIFT), one.y + draw(_SHIFT)
        fields.append(replace(one, x=x, y=y, width=one.width + draw(_SHIFT), height=one.height + draw(_SHIFT)))
    wider, higher = draw(st.sampled_from((0.0, 5.0, 80.0))), draw(st.sampled_from((0.0, 5.0, 300.0)))
    size = {"width": layout.width + wider, "height": layout.height + (wider if layout.round else higher)}
    return replace(layout, fields=tuple(fields), **size)


@given(_changed_layouts())
@settings(max_examples=100, deadline=None)
def test_whatever_the_editor_accepts_is_drawn_and_printed(layout: Layout) -> None:
    accepted = layout if not faults(layout) else _mended(layout)
    if accepted is None:
        return
    page = roll("r", "r", accepted.width, accepted.height, round=accepted.round)
    wish = LabelPrint(examples(accepted.kind), accepted, page)
    preflight(wish)
    sizes = page_sizes(render(wish))
    assert len(sizes) == 2
    assert sizes[0] == pytest.approx((accepted.width, accepted.height), abs=0.01)
    drawn = draw(accepted, 40.0, lambda *_: None, lambda: False)
    assert len(drawn.images) == 2


def _mended(layout: Layout) -> Layout | None:
    """Return a layout with its fields at fault as the program has them, or None where that does not mend it."""
    before = next(one for one in load_label_layouts() if one.id == layout.id)
    wrong = {place for fault in faults(layout) for place in fault.places}
    fields = tuple(before.fields[n] if n in wrong else one for n, one in enumerate(layout.fields))
    mended = replace(layout, fields=fields)
    return None if faults(mended) else mended


@given(sheets())
@settings(max_examples=60, deadline=None)
def test_every_sheet_that_is_not_refused_is_printed_on_at_its_size(sheet: Sheet) -> None:
    if not fits(FIRST, sheet):
        return
    pdf = render(LabelPrint([LABELS[Kind.VIAL](n) for n in range(sheet.cells + 1)], FIRST, sheet))
    paper = pytest.approx((sheet.paper_width, sheet.paper_height), abs=0.01)
    assert page_sizes(pdf) == (paper, paper)


def test_a_new_field_shows_what_is_not_shown_yet() -> None:
    assert new_field(FIRST).show == ("amount",)
    assert new_field(replace(FIRST, fields=())) == Field(("symbol",), 0, 0, 7.5, 7.5)
    full = replace(FIRST, fields=tuple(Field((key,), 0, 0, 1, 1) for key in TEXTS[Kind.VIAL]))
    assert new_field(full).show == ("note",)


@pytest.mark.parametrize("kind", Kind)
def test_the_examples_have_a_text_for_all_that_a_kind_may_show(kind: Kind) -> None:
    from sporebank.documents.wording import texts_of

    texts = texts_of(examples(kind)[0])
    assert {key for key in TEXTS[kind] if key != "symbol" and not texts.get(key)} == set()


# -- sheets


def test_a_new_sheet_is_kept_and_printed_on(desk: StockDesk, told: Told) -> None:
    tab = desk.open_tab(1)
    assert tab.editor.takes.text() == "Takes these labels: vial, pot along, packet, place."
    desk.press("New")
    assert doubled_letters(desk.dialog) == []
    desk.write("Title", "Leftover sheets")
    desk.write("Label width (mm)", "48.3")
    desk.write("Label height (mm)", "25.4")
    desk.write("Labels across", "4")
    desk.write("Left margin (mm)", "8")
    desk.write("Pitch across (mm)", "48.3")
    assert "vial" in tab.editor.takes.text()
    desk.press("Keep")
    (kept,) = desk.own_sheets()
    assert kept == Sheet(kept.id, "Leftover sheets", 210, 297, 4, 8, 48.3, 25.4, 8, 12.5, 48.3, 34)
    labels = [LABELS[Kind.VIAL](i) for i in range(3)]
    pdf = render(LabelPrint(labels, FIRST, kept))
    assert page_sizes(pdf)[0] == pytest.approx((210, 297), abs=0.01)
    assert symbols(pictures(pdf, 300)) == sorted(one.code for one in labels)
    assert desk.read(undo.undo) == "Add label sheet Leftover sheets"


@pytest.mark.parametrize(
    ("name", "text", "beside", "says"),
    [
        ("Pitch across (mm)", "50", "pitch_x", "The pitch across of 50 mm is less than the label's 60 mm"),
        ("Labels across", "4", "columns", "4 columns reach to 265.00 mm, past the paper's 210 mm"),
        ("Paper width (mm)", "3000", "paper_width", "at most 2000, not 3000"),
        ("Paper height (mm)", "0", "paper_height", "must be more than 0, not 0"),
        ("Left margin (mm)", "-1", "left", "cannot be less than 0 mm; it is -1 mm"),
        ("Upper margin (mm)", "", "top", "Give a number."),
        ("Label height (mm)", "1,000", "label_height", "can be read in two ways"),
    ],
)
def test_what_contradicts_itself_is_said_beside_its_number(
    desk: StockDesk, name: str, text: str, beside: str, says: str
) -> None:
    tab = desk.open_tab(1)
    desk.press("New")
    desk.write(name, text)
    error = tab.editor.form.fields[beside].error
    assert says in error
    assert "Label sheet" not in error
    assert not tab.keep.isEnabled()
    assert says in tab.about.text()


def test_a_roll_asks_for_its_label_alone_and_a_sheet_begins_with_a_paper(desk: StockDesk) -> None:
    tab = desk.open_tab(1)
    desk.press("New")
    choose(desk.qtbot, desk.dialog, "Made as", "Roll")
    assert not tab.editor.form.fields["paper_width"].isVisible()
    desk.write("Title", "My roll")
    desk.write("Label width (mm)", "12")
    desk.write("Label height (mm)", "12")
    desk.press("Round labels")
    desk.press("Keep")
    (kept,) = desk.own_sheets()
    assert kept == roll(kept.id, "My roll", 12, 12, round=True)
    choose(desk.qtbot, desk.dialog, "Made as", "Sheet")
    assert tab.editor.form.fields["paper_width"].isVisible()
    desk.press("Keep")
    (kept,) = desk.own_sheets()
    assert (kept.paper_width, kept.paper_height, kept.roll, kept.columns) == (210, 297, False, 1)


def test_a_sheet_that_nothing_fills_says_what_to_do() -> None:
    tiny = roll("", "", 5, 4)
    assert takes(load_label_layouts(), tiny) == (
        "No layout fills these labels. Copy one under Layouts, and give it their size."
    )


@pytest.mark.parametrize("sheet", load_label_sheets(), ids=lambda one: one.id)
def test_every_sheet_is_shown_as_it_is(qtbot: QtBot, theme: Theme, make_context: Make, sheet: Sheet) -> None:
    tab = SheetsTab(make_context())
    qtbot.addWidget(tab)
    own = replace(sheet, id="own-1")
    tab.editor.show_one(own, True)
    assert tab.editor.written() == own


def test_a_sheet_is_copied_and_removed(desk: StockDesk) -> None:
    own = desk.read(lambda bank: keep_sheet(bank, replace(load_label_sheets()[0], title="Mine")))
    tab = desk.open_tab(1)
    desk.go_to("Sheets and rolls", next(n for n, row in enumerate(tab.model.rows) if row.id == own))
    desk.press("Copy")
    desk.press("Keep")
    assert [one.title for one in desk.own_sheets()] == ["Mine", "Mine, own"]
    desk.press("Remove")
    assert [one.title for one in desk.own_sheets()] == ["Mine"]


# -- where labels are printed


@pytest.fixture
def printery(qtbot: QtBot, theme: Theme, make_context: Make, settle: Settle) -> Printery:
    return Printery(qtbot, make_context(60), settle)


def _do(printery: Printery, deed: Callable[[Bank], object]) -> None:
    printery.context.do(deed)
    printery._settle(printery.context)
    QApplication.processEvents()


def test_what_was_set_up_is_offered_at_once_and_what_was_chosen_stays(printery: Printery) -> None:
    dialog = printery.labels(3, 4)
    choose(printery.qtbot, dialog, "Sheet or roll", "A4, 5 × 16")
    choose(printery.qtbot, dialog, "Layout", "Vial wrap, 32 × 12 mm")
    here = tab_to(printery.qtbot, dialog, "First free label")
    printery.qtbot.keyClick(here, Qt.Key.Key_Right)
    printery.ready(dialog)
    assert doubled_letters(dialog) == []
    press(printery.qtbot, dialog, "Set up…")
    assert isinstance(printery.opened[-1], LabelStockDialog)
    printery.opened[-1].reject()
    bring_to_front(printery.qtbot, dialog)
    _do(printery, lambda bank: keep_sheet(bank, replace(load_label_sheets()[0], title="Mine")))
    _do(printery, lambda bank: keep_layout(bank, replace(FIRST, title="Small of mine")))
    printery.ready(dialog)
    assert (dialog.sheet.value().id, dialog.layout_choice.value().id) == ("a4-5x16", "vial-32")
    assert dialog.first.value() == 1
    assert dialog.sheet.findText("Mine") >= 0
    choose(printery.qtbot, dialog, "Layout", "Small of mine")
    printery.ready(dialog)
    assert symbols(pictures(dialog.pdf, 300)) == printery.codes(3, 4)
    _do(printery, undo.undo)
    printery.ready(dialog)
    assert dialog.layout_choice.value().title != "Small of mine"
    assert dialog.layout_choice.findText("Small of mine") == -1


def test_a_sheet_that_is_too_small_says_so_and_nothing_can_be_let_out(printery: Printery) -> None:
    _do(printery, lambda bank: keep_sheet(bank, roll("", "Crumbs", 8.0, 4.0)))
    dialog = printery.labels(3)
    choose(printery.qtbot, dialog, "Sheet or roll", "Crumbs")
    assert dialog.message.text() == (
        "A label of 8 × 4 mm is too small for the vial layout “Vial wrap, 24 × 9.4 mm”, which takes 24 × 9.4 mm. "
        "Choose larger labels. Or set up a layout that fits these."
    )
    write(printery.qtbot, dialog, "Copies of each", "2")
    assert not dialog.save_button.isEnabled()
    assert dialog.preview.pages == 0
    choose(printery.qtbot, dialog, "Sheet or roll", "A4, 5 × 13")
    printery.ready(dialog)
    assert not dialog.message.isVisible()
    assert symbols(pictures(dialog.pdf, 300)) == printery.codes(3) * 2


def test_no_sheet_at_all_says_what_to_do(printery: Printery) -> None:
    dialog = printery.labels(3)
    dialog._restock(Stock((), (), (), {}))
    assert dialog.message.text() == "There is no sheet for vial labels. Set one up."
    assert not dialog.save_button.isEnabled()
    dialog._restock(Stock((FIRST,), (), (), {}))
    assert not dialog.save_button.isEnabled()
    dialog._restock(Stock((FIRST,), load_label_sheets(), (), {}))
    printery.ready(dialog)
    assert not dialog.message.isVisible()


def test_a_sheet_with_fewer_labels_than_before_begins_where_it_may(printery: Printery) -> None:
    wide = replace(load_label_sheets()[0], title="Mine")
    _do(printery, lambda bank: keep_sheet(bank, wide))
    dialog = printery.labels(3)
    choose(printery.qtbot, dialog, "Sheet or roll", "Mine")
    printery.qtbot.keyClick(tab_to(printery.qtbot, dialog, "First free label"), Qt.Key.Key_End)
    _do(printery, lambda bank: keep_sheet(bank, replace(wide, id="own-1", rows=2)))
    printery.ready(dialog)
    assert dialog.first.said() == "label 1 of 10"
    assert dialog.sheet.value().rows == 2
