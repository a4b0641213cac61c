from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import pytest
from PySide6.QtCore import QModelIndex, Qt
from PySide6.QtGui import QFontMetrics, QGuiApplication
from PySide6.QtTest import QAbstractItemModelTester
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from sporebank.bank.bank import Bank
from sporebank.core import names, naming
from sporebank.core.records import Source, TaxonName
from sporebank.window.columns import VIAL_COLUMNS, Column, taxon_column
from sporebank.window.context import Context
from sporebank.window.models import PAGE, PAGES_KEPT, PagedModel, RowsModel
from sporebank.window.state import WindowState
from sporebank.window.table import DataTable, row_chosen, rows_chosen
from sporebank.window.theme import Theme
from sporebank.window.widgets.names import PathDelegate, shortened_runs

Make = Callable[..., Context]
NUMBERS: tuple[Column[int], ...] = (
    Column("number", "Number", lambda number: f"{number:,}", order=lambda number: number),
    Column("half", "Half", lambda number: f"{number / 2:g}", sortable=False, right=True),
)


@dataclass
class Counted:
    """A million rows, and what was asked for."""

    asked: list[int]
    size: int = 1_000_000

    def count(self, bank: Bank) -> int:
        return self.size

    def rows(self, bank: Bank, offset: int, limit: int) -> Sequence[int]:
        self.asked.append(offset)
        return range(offset, min(offset + limit, self.size))


def _shown(model: PagedModel[int], row: int) -> str:
    return str(model.data(model.index(row, 0)))


def test_a_million_rows_cost_one_query_a_page(
    qtbot: QtBot, theme: Theme, make_context: Make, state: WindowState
) -> None:
    source = Counted([])
    model = PagedModel(make_context(), NUMBERS)
    table = DataTable(model, state, "numbers")
    qtbot.addWidget(table)
    with qtbot.waitSignal(model.loaded):
        model.show_source(source)
    assert model.rowCount() == 1_000_000
    assert source.asked == [0]
    table.resize(500, 600)
    table.show()
    with qtbot.waitSignal(model.page_loaded):
        table.scrollTo(model.index(900_050, 0))
    qtbot.waitUntil(lambda: _shown(model, 900_050) == "900,050")
    assert len(source.asked) <= 4
    assert model.rowCount(model.index(0, 0)) == 0


def test_a_row_not_yet_read_shows_a_sign_and_then_itself(qtbot: QtBot, make_context: Make) -> None:
    model = PagedModel(make_context(), NUMBERS)
    with qtbot.waitSignal(model.loaded):
        model.show_source(Counted([]))
    with qtbot.waitSignal(model.page_loaded):
        assert _shown(model, 5000) == "…"
    assert _shown(model, 5000) == "5,000"
    assert model.at_hand(99_999) is None
    assert model.row_number(lambda row: row == 5001) == 5001


def test_pages_far_away_are_forgotten(qtbot: QtBot, make_context: Make) -> None:
    model = PagedModel(make_context(), NUMBERS)
    with qtbot.waitSignal(model.loaded):
        model.show_source(Counted([]))
    for page in range(1, PAGES_KEPT + 1):
        with qtbot.waitSignal(model.page_loaded):
            model.row_at(page * PAGE)
    assert model.at_hand(0) is None
    assert model.at_hand(PAGES_KEPT * PAGE) == PAGES_KEPT * PAGE


def test_the_last_source_wins(qtbot: QtBot, make_context: Make) -> None:
    model = PagedModel(make_context(), NUMBERS)
    loads: list[int] = []
    model.loaded.connect(lambda: loads.append(model.rowCount()))
    for size in (10, 20, 30):
        model.show_source(Counted([], size))
    qtbot.waitUntil(lambda: bool(loads))
    assert loads == [30]


def test_reloading_keeps_rows_and_sees_new_ones(qtbot: QtBot, make_context: Make) -> None:
    source = Counted([], 250)
    model = PagedModel(make_context(), NUMBERS)
    model.reload()
    with qtbot.waitSignal(model.loaded):
        model.show_source(source)
    with qtbot.waitSignals([model.loaded, model.dataChanged]):
        model.reload()
    source.size = 251
    with qtbot.waitSignals([model.loaded, model.modelReset]):
        model.reload()
    assert model.rowCount() == 251


def test_a_header_asks_for_an_order_only_where_there_is_one(
    qtbot: QtBot, theme: Theme, make_context: Make, state: WindowState
) -> None:
    model = PagedModel(make_context(), NUMBERS)
    table = DataTable(model, state, "numbers")
    qtbot.addWidget(table)
    wanted: list[tuple[str, bool]] = []
    model.sort_wanted.connect(lambda key, descending: wanted.append((key, descending)))
    table.enable_sorting("number", descending=True)
    table.sortByColumn(1, Qt.SortOrder.AscendingOrder)
    table.sortByColumn(0, Qt.SortOrder.AscendingOrder)
    assert list(dict.fromkeys(wanted)) == [("number", True), ("number", False)]


def test_rows_at_hand_sort_as_numbers_not_as_text(qtbot: QtBot) -> None:
    model: RowsModel[int] = RowsModel(NUMBERS)
    tester = QAbstractItemModelTester(model)
    model.set_rows([100, 9, 1000, 10])
    model.sort(0)
    assert model.rows == [9, 10, 100, 1000]
    model.sort(0, Qt.SortOrder.DescendingOrder)
    model.set_rows([1, 3, 2])
    assert model.rows == [3, 2, 1]
    assert tester.model() is model
    assert model.headerData(0, Qt.Orientation.Horizontal) == "Number"
    assert model.data(QModelIndex()) is None


def test_columns_are_remembered(qtbot: QtBot, theme: Theme, make_context: Make, state: WindowState) -> None:
    def table() -> DataTable:
        made = DataTable(PagedModel(make_context(), VIAL_COLUMNS), state, "vials")
        qtbot.addWidget(made)
        return made

    keys = [column.key for column in VIAL_COLUMNS]
    first = table()
    first.column_menu().actions()[keys.index("note")].setChecked(True)
    first.column_menu().actions()[keys.index("clone")].setChecked(False)
    first.horizontalHeader().moveSection(first.horizontalHeader().visualIndex(keys.index("place")), 0)
    first.setColumnWidth(keys.index("taxon"), 261)
    second = table()
    assert not second.isColumnHidden(keys.index("note"))
    assert second.isColumnHidden(keys.index("clone"))
    assert second.horizontalHeader().visualIndex(keys.index("place")) == 0
    assert second.columnWidth(keys.index("taxon")) == 261


def test_the_last_column_cannot_be_hidden(qtbot: QtBot, theme: Theme, state: WindowState) -> None:
    table = DataTable(RowsModel(NUMBERS), state, "two")
    qtbot.addWidget(table)
    for choice in table.column_menu().actions():
        choice.setChecked(False)
    assert [table.isColumnHidden(number) for number in (0, 1)].count(False) == 1


def test_what_cannot_be_read_counts_as_not_remembered(tmp_path, show: Callable[[QWidget], QWidget]) -> None:
    path = tmp_path / "window.ini"
    path.write_text("[tables]\nvials=nonsense{\n", encoding="utf-8")
    state = WindowState(path)
    assert state.get("tables/vials", []) == []
    state.put("bank/last", "x")
    assert state.get("bank/last", 3) == 3


@pytest.mark.parametrize(
    "left", [[[1, 2]], [["number"]], [5], [["number", 1, 90]], [["number", True, "wide"]], ["number"]], ids=str
)
def test_columns_that_make_no_sense_are_passed_over(
    qtbot: QtBot, theme: Theme, state: WindowState, left: list[object]
) -> None:
    state.put("tables/numbers", left)
    table = DataTable(RowsModel(NUMBERS), state, "numbers")
    qtbot.addWidget(table)
    assert not table.isColumnHidden(0)


def test_a_word_that_is_none_of_an_enum_counts_as_not_remembered(state: WindowState) -> None:
    state.put("store/source", Source.WILD)
    assert state.get("store/source", Source.GARDEN) is Source.WILD
    for nonsense in ("moon", 7, None, ["wild"]):
        state.put("store/source", nonsense)
        assert state.get("store/source", Source.GARDEN) is Source.GARDEN


def test_a_place_is_shortened_at_its_beginning(theme: Theme) -> None:
    path, metrics = "Store room / Fridge 1 / Box 4 / C4", QFontMetrics(QGuiApplication.font())
    delegate = PathDelegate()
    whole = metrics.horizontalAdvance(path)
    assert delegate.shortened(path, metrics, whole) == path
    assert delegate.shortened(path, metrics, whole - 1) == "… / Fridge 1 / Box 4 / C4"
    assert delegate.shortened(path, metrics, metrics.horizontalAdvance("… / C4")) == "… / C4"


@pytest.mark.parametrize(
    "name", ["Asplenium trichomanes subsp. quadrivalens", "Dryopteris × complexa 'Stablerae'", "Osmunda regalis"]
)
def test_a_name_is_whole_or_ends_in_an_ellipsis_at_any_width(theme: Theme, name: str) -> None:
    runs, font = names.runs(naming.parse(name)), QGuiApplication.font()
    for width in range(16, 400):
        said = "".join(run.text for run in shortened_runs(runs, font, width))
        assert said == names.text(naming.parse(name)) or said.endswith("…"), width
    assert said == names.text(naming.parse(name))


def test_rows_are_chosen_at_one_stroke_and_counted_without_being_walked(
    qtbot: QtBot, theme: Theme, state: WindowState
) -> None:
    model: RowsModel[int] = RowsModel(NUMBERS)
    model.set_rows(range(5_000))
    table = DataTable(model, state, "numbers")
    qtbot.addWidget(table)
    with qtbot.waitSignal(table.selectionModel().selectionChanged) as changed:
        table.choose_rows(range(0, 5_000, 2))
    assert changed.signal_triggered
    assert table.chosen_rows() == list(range(0, 5_000, 2))
    assert table.chosen_count() == 2_500
    table.selectAll()
    assert table.chosen_count() == 5_000
    assert not table.horizontalHeader().selectionModel().hasSelection()


@dataclass(frozen=True)
class Named:
    """A row that has a name."""

    name: TaxonName


def test_names_are_sorted_as_nomenclature_has_them(qtbot: QtBot, theme: Theme, state: WindowState) -> None:
    """The hybrid sign does not count when names are put in order (ICN, Shenzhen Code 2018, Art. H.3.3, from memory)."""
    wanted = [
        "Asplenium adiantum-nigrum",
        "Asplenium ×alternifolium",
        "Asplenium ceterach",
        "×Asplenoceterach barrancense",
    ]
    model: RowsModel[Named] = RowsModel((taxon_column(200),))
    table = DataTable(model, state, "names")
    qtbot.addWidget(table)
    table.enable_sorting("taxon")
    model.set_rows([Named(naming.parse(text)) for text in reversed(wanted)])
    assert [names.text(row.name) for row in model.rows] == wanted
    table.choose_rows([1, 3])
    assert [names.text(row.name) for row in rows_chosen(table, model)] == wanted[1::2]
    assert row_chosen(table, model) == model.rows[1]
    table.clearSelection()
    assert row_chosen(table, model) is None
