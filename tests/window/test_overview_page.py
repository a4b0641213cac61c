"""The bank in one look: read, walked through and opened by keyboard."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest
from PySide6.QtCore import QItemSelectionModel, Qt
from PySide6.QtGui import QImage, QPainter, QPaintEvent
from PySide6.QtWidgets import QStyleOptionViewItem, QWidget
from pytestqt.qtbot import QtBot

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core.advice import Lines
from sporebank.core.dates import PartDate
from sporebank.core.overview import Held
from sporebank.core.records import PlaceKind, State
from sporebank.jobs import figures, vials
from sporebank.jobs.places import PlaceForm, add_place
from sporebank.window.columns import Column
from sporebank.window.models import RowsModel
from sporebank.window.pages.overview import LAST, MOST_YEARS, RENEW, TAXA, OverviewPage
from sporebank.window.theme import Theme, tokens
from sporebank.window.widgets.shares import HeldDelegate, StateBar, how_many
from tests.builders import clone, counted, fridge, stored
from tests.window.conftest import Told
from tests.window.desk import Make, PageDesk, Settle, Show, WindowDesk
from tests.window.keys import tab_to, turn_to

LONG = "Athyrium filix-femina subsp. cyclosorum (Cruciatum Grandiceps Plumosum Group) ex 'Frizelliae Superbissima'"
DAY = date(2026, 5, 4)
LINES = Lines(0.5, 0.2)
KEEP = QItemSelectionModel.SelectionFlag.ClearAndSelect


def _fill(bank: Bank) -> None:
    """Store a taxon well and ill, a clone down to one weak vial, one that is not modelled, and one of a long name."""
    figures.keep_fresh(bank)
    fridge(bank)
    old = {"collected": PartDate(2019, 8), "stored_on": date(2019, 9, 1)}
    good = stored(bank, clone=clone("D-1"))
    counted(bank, good.batch_id, 90, 100)
    poor = stored(bank, clone=queries.batch(bank, good.batch_id).clone.id, vials=4, **old)
    counted(bank, poor.batch_id, 20, 100)
    weak = stored(bank, "Osmunda regalis", clone=clone("O-7"), vials=1, **old)
    counted(bank, weak.batch_id, 60, 200)
    cold = stored(bank, "Cystopteris bulbifera", clone=clone("C-2"), vials=2, collected=PartDate(2022))
    deep = add_place(bank, PlaceForm(PlaceKind.FREEZER, "Deep", temperature=-80.0))
    vials.move(bank, [vials.Move(one, deep) for one in cold.vial_ids], DAY)
    stored(bank, LONG, clone=clone("A-1"), vials=1, collected=PartDate(2024), stored_on=date(2024, 9, 1))


class OverviewDesk(PageDesk):
    kind = OverviewPage
    size = (1200, 640)

    def row(self, which: str, genus: str) -> int:
        rows = self.page.lists[which].lines.rows
        return next(number for number, row in enumerate(rows) if row.name.genus == genus)

    def texts(self, which: str, number: int) -> dict[str, str]:
        lines = self.page.lists[which].lines
        return {
            column.title: str(lines.data(lines.index(number, at), Qt.ItemDataRole.AccessibleTextRole))
            for at, column in enumerate(lines.columns)
        }


@pytest.fixture
def desk(
    qtbot: QtBot, make_context: Make, show: Show, settle: Settle, told: Told, theme: Theme
) -> Callable[..., OverviewDesk]:
    def make(fill: Callable[[Bank], object] | None = _fill, vials: int = 0) -> OverviewDesk:
        made = OverviewDesk(make_context(vials), show, settle, qtbot, told)
        if fill is not None:
            made.read(fill)
        made.open()
        assert told.bugs == []
        return made

    return make


def test_an_empty_bank_says_what_to_do_first(desk: Callable[..., OverviewDesk]) -> None:
    made = desk(fill=None)
    assert made.page.empty.isVisible()
    assert not made.page.chips.isVisible()
    assert made.page.first_focus() is made.page.empty.button
    made.key(made.page.first_focus(), Qt.Key.Key_Space)
    assert made.went == [("store", {})]


def test_nothing_is_said_to_be_missing_before_it_is_known(
    qtbot: QtBot, make_context: Make, show: Show, settle: Settle, theme: Theme
) -> None:
    context = make_context(20)
    page = OverviewPage(context)
    qtbot.addWidget(page)
    page.show()
    assert not page.empty.isVisible()
    settle(context)
    assert page.lists[TAXA].lines.rowCount() == 5


def test_totals_stand_in_one_line_and_one_bar(desk: Callable[..., OverviewDesk]) -> None:
    page = desk().page
    assert page.summary.text() == "11 vials with spore, of 4 clones in 4 taxa."
    assert [key.text for key in page.bar.keys.values()] == [
        "4 alive (36 %)", "1 fading (9 %)", "4 spent (36 %)", "2 not known (18 %)",
    ]  # fmt: skip
    assert page.bar.accessibleName() == "4 alive (36 %), 1 fading (9 %), 4 spent (36 %), 2 not known (18 %)"


def test_each_taxon_has_its_years_in_words(desk: Callable[..., OverviewDesk]) -> None:
    made = desk()
    fern = made.texts(TAXA, made.row(TAXA, "Dryopteris"))
    assert list(fern) == ["Taxon", "In all", "Weakest year", "Left", "2025", "2024", "2022", "2019"]
    assert fern["2022"] == "none"
    assert fern["2019"].endswith("% alive on average by weight, 4 vials, 40 mg left")
    assert fern["Weakest year"] == fern["2019"]
    assert fern["Left"] == "70 mg"
    assert (
        made.texts(TAXA, made.row(TAXA, "Cystopteris"))["2022"] == "not modelled, only tests tell, 2 vials, 20 mg left"
    )


def test_taxa_sort_by_name_by_what_is_left_and_by_the_worst(desk: Callable[..., OverviewDesk]) -> None:
    table = desk().page.lists[TAXA]

    def order(column: int, way: Qt.SortOrder = Qt.SortOrder.AscendingOrder) -> list[str]:
        table.sortByColumn(column, way)
        return [row.name.genus for row in table.lines.rows]

    assert order(0) == ["Athyrium", "Cystopteris", "Dryopteris", "Osmunda"]
    assert order(3, Qt.SortOrder.DescendingOrder)[:2] == ["Dryopteris", "Cystopteris"]
    assert order(2)[0] == "Dryopteris"
    assert order(2)[-1] == "Cystopteris"
    order(0)
    table.selectionModel().setCurrentIndex(table.lines.index(0, 0), KEEP)
    assert table.sentence().startswith("Athyrium")
    order(2)
    assert table.sentence().startswith("Dryopteris")  # what is in hand now stands there


def test_a_cell_opens_its_taxon_and_year_and_a_name_its_taxon(desk: Callable[..., OverviewDesk]) -> None:
    made = desk()
    table, taxon = made.page.lists[TAXA], made.page.lists[TAXA].lines.rows[2].taxon_id
    for _ in range(2):
        made.key(table, Qt.Key.Key_Down)
    made.key(table, Qt.Key.Key_Return)
    for _ in range(7):
        made.key(table, Qt.Key.Key_Right)
    assert made.page.told.text().startswith("Dryopteris affinis, 2019: ")
    made.key(table, Qt.Key.Key_Return)
    made.key(table, Qt.Key.Key_Left)
    assert made.page.told.text() == "Dryopteris affinis, 2022: none."
    made.key(table, Qt.Key.Key_Return)
    assert made.went == [
        ("vials", {"taxon_id": taxon}),
        ("vials", {"taxon_id": taxon, "year": 2019}),
        ("vials", {"taxon_id": taxon}),
    ]


def test_what_to_renew_comes_with_its_reason_and_opens_its_clone(
    qtbot: QtBot, desk: Callable[..., OverviewDesk]
) -> None:
    made = desk()
    made.page.chips.buttons[TAXA].setFocus()
    turn_to(qtbot, made.page, "Show: How alive, by year", "Show: To renew 1")
    made.settle()
    table = made.page.lists[RENEW]
    assert made.page.first_focus() is table
    told = made.texts(RENEW, 0)
    assert (told["Taxon"], told["Clone"], told["Left"]) == ("Osmunda regalis", "O-7", "10 mg")
    assert told["Why"].startswith("Its one vial is ")
    assert made.page.told.text() == f"Osmunda regalis, O-7: {told['Why']} {told['What to do']}."
    made.key(table, Qt.Key.Key_Return)
    assert made.went == [("vials", {"clone_id": table.lines.rows[0].clone_id})]


def test_a_last_weak_vial_opens_as_a_vial(qtbot: QtBot, desk: Callable[..., OverviewDesk]) -> None:
    made = desk()
    made.page.chips.buttons[TAXA].setFocus()
    turn_to(qtbot, made.page, "Show: How alive, by year", "Show: Last weak vials 1")
    made.settle()
    table = made.page.lists[LAST]
    assert made.page.told.text().startswith("Osmunda regalis. The last vial of O-7: ")
    made.key(table, Qt.Key.Key_Return)
    assert made.went == [("vials", {"code": table.lines.rows[0].code})]


def test_a_list_without_lines_says_so_and_the_keyboard_still_comes_on(
    qtbot: QtBot, desk: Callable[..., OverviewDesk]
) -> None:
    made = desk(fill=_one_good)
    made.page.chips.buttons[TAXA].setFocus()
    turn_to(qtbot, made.page, "Show: How alive, by year", "Show: To renew")
    assert made.page.empty.isVisible()
    assert not made.page.empty.button.isVisible()
    assert made.page.empty.text.text() == (
        "Every clone that is modelled has a vial at least 50 % alive that stays above 20 % for a year."
    )
    assert made.page.first_focus() is made.page.chips.buttons[RENEW]
    turn_to(qtbot, made.page, "Show: To renew", "Show: Last weak vials")
    assert made.page.empty.title.text() == "No last weak vial"
    made.key(made.page.chips.buttons[LAST], Qt.Key.Key_Left)
    made.key(made.page.chips.buttons[RENEW], Qt.Key.Key_Left)
    assert made.page.lists[TAXA].isVisible()


def _one_good(bank: Bank) -> None:
    figures.keep_fresh(bank)
    fridge(bank)
    counted(bank, stored(bank).batch_id, 95, 100)


def test_a_deed_refreshes_and_the_keeper_stays_where_he_was(desk: Callable[..., OverviewDesk]) -> None:
    made = desk()
    table = made.page.lists[TAXA]
    table.setFocus()
    for _ in range(3):
        made.key(table, Qt.Key.Key_Down)
    assert made.page.told.text().startswith("Osmunda regalis")
    made.read(lambda bank: counted(bank, queries.batches(bank, "O-7")[0].id, 10, 100))
    assert made.page.told.text().startswith("Osmunda regalis")
    made.read(lambda bank: stored(bank, "Adiantum pedatum", clone=clone("P-1"), collected=PartDate(2011)))
    fresh = made.page.lists[TAXA]
    assert fresh is not table
    assert [column.title for column in fresh.lines.columns][4:] == ["2025", "2024", "2022", "2019", "2011"]
    assert made.page.told.text().startswith("Osmunda regalis")
    assert fresh.hasFocus()


def test_the_oldest_years_stand_together_and_open_all_of_a_taxon(desk: Callable[..., OverviewDesk]) -> None:
    made = desk(fill=None, vials=400)  # collected from 2008 to 2024
    table = made.page.lists[TAXA]
    titles = [column.title for column in table.lines.columns][4:]
    assert titles == [*map(str, range(2024, 2015, -1)), "before 2016"]
    assert len(titles) == MOST_YEARS
    at = table.lines.index(0, 3 + MOST_YEARS)
    table.selectionModel().setCurrentIndex(at, KEEP)
    assert ", before 2016: " in made.page.told.text()
    made.key(table, Qt.Key.Key_Return)
    assert made.went == [("vials", {"taxon_id": table.lines.rows[0].taxon_id})]


def test_a_long_list_says_that_it_is_cut(
    qtbot: QtBot, desk: Callable[..., OverviewDesk], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sporebank.bank.queries.overview.MOST", 5)
    made = desk(fill=_many_fading, vials=40)
    made.page.chips.buttons[TAXA].setFocus()
    turn_to(qtbot, made.page, "Show: How alive, by year", "Show: To renew 10")
    assert made.page.lists[RENEW].lines.rowCount() == 5
    assert made.page.note.isVisible()
    assert made.page.note.text() == "The 5 most urgent of 10."


def _many_fading(bank: Bank) -> None:
    bank.database.execute_sql("UPDATE outlook SET state = 'fading', middle = 0.3, low = 0.1, high = 0.5")


@pytest.mark.parametrize("mode", ["light", "dark"])
def test_a_small_window_is_enough_whatever_the_names(
    desk: Callable[..., OverviewDesk], theme: Theme, mode: str
) -> None:
    theme.choose(mode)
    made = desk()
    least = made.page.minimumSizeHint()
    assert (least.width() <= 500, least.height() <= 400) == (True, True)
    made.page.resize(500, 400)
    for which, table in made.page.lists.items():
        made.page.chips.buttons[which].click()
        made.settle()
        assert table.isVisible()
        assert not table.grab().isNull()
    theme.choose("light")


class BankDesk(WindowDesk):
    key = "overview"


def test_vials_shows_just_what_stood_in_the_cell(
    qtbot: QtBot, make_context: Make, show: Show, settle: Settle, theme: Theme
) -> None:
    context = make_context()
    context.do(_fill)
    settle(context)
    made = BankDesk(qtbot, context, settle, show)
    tab_to(qtbot, made.window, "How alive, by taxon and year")
    table = made.page.lists[TAXA]
    for key in (Qt.Key.Key_Down, Qt.Key.Key_Down, *[Qt.Key.Key_Right] * 7, Qt.Key.Key_Return):
        qtbot.keyClick(table, key)
    made.settle()
    shown = made.window.page()
    assert shown.model.rowCount() == 4
    assert shown.filters.years.currentText() == "2019"
    assert {shown.model.row_at(number).name.genus for number in range(4)} == {"Dryopteris"}


def _width(image: QImage, token: str) -> int:
    colour = tokens().colour(token)
    return sum(
        any(image.pixelColor(x, y) == colour for y in range(image.height())) for x in range(image.width())
    )  # fmt: skip


class TestDrawing:
    def test_the_bar_is_as_long_as_the_share_and_unknown_is_hatched(self, theme: Theme, show: Show) -> None:
        bar = StateBar()
        show(bar)
        bar.resize(402, 60)
        bar.show_counts({State.ALIVE: 300, State.FADING: 100, State.SPENT: 0, State.UNKNOWN: 0})
        image = bar._bar.grab().toImage()
        assert _width(image, "alive") == pytest.approx(300, abs=4)
        assert _width(image, "fading") == pytest.approx(100, abs=4)
        bar.show_counts({State.SPENT: 300, State.UNKNOWN: 1})
        assert _width(bar._bar.grab().toImage(), "fading") == 0
        assert bar.accessibleName() == "300 spent (over 99 %), 1 not known (under 1 %)"
        bar.show_counts({})
        assert bar.accessibleName() == ""

    @pytest.mark.parametrize(("share", "token"), [(0.9, "alive"), (0.4, "fading"), (0.1, "spent"), (None, "")])
    def test_a_cell_has_a_bar_as_long_as_its_share_and_none_where_it_is_not_modelled(
        self, qtbot: QtBot, theme: Theme, share: float | None, token: str
    ) -> None:
        cell = _Cell(Held(2019, 3, 1_000, 0 if share is None else 1_000, 1_000 * (share or 0), 0))
        qtbot.addWidget(cell)
        cell.resize(78, 34)
        image = cell.grab().toImage()
        for one in ("alive", "fading", "spent"):
            wanted = 64 * share if share is not None and one == token else 0
            assert _width(image, one) == pytest.approx(wanted, abs=4)


class _Cell(QWidget):
    """One cell as a table draws it."""

    def __init__(self, held: Held) -> None:
        super().__init__()
        self._model: RowsModel[Held] = RowsModel((Column("held", "Held", how_many),), self)
        self._model.set_rows([held])
        self._delegate = HeldDelegate(lambda row: row, how_many, lambda: LINES, self)

    def paintEvent(self, event: QPaintEvent) -> None:
        option = QStyleOptionViewItem()
        option.initFrom(self)
        with QPainter(self) as painter:
            self._delegate.paint(painter, option, self._model.index(0, 0))
