"""The Exchange page, by what an organiser does and sees: from what may go to packets held back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from threading import Event
from typing import Any

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from sporebank.bank import queries
from sporebank.core import amounts
from sporebank.core.exchange import Exchange, Shape, Stage, Terms
from sporebank.core.orders import Alternatives, Rules, Standing
from sporebank.core.records import Permission
from sporebank.jobs import allotting, exchange, figures, sharing_round
from sporebank.jobs.sharing_round import PINNED
from sporebank.window.dialogs.exchange import ExchangeDialog, LineDialog, WayDialog
from sporebank.window.exchange_fairness import compared
from sporebank.window.exchange_list import MAY, ListTab
from sporebank.window.exchange_orders import OrdersTab
from sporebank.window.exchange_sharing import FAIR, LINE_COLUMNS, LINES, LineRow, SharingTab
from sporebank.window.pages.exchange import ExchangePage
from tests.builders import clone, fridge, stored
from tests.jobs.test_sharing_round import ask
from tests.window.conftest import Told
from tests.window.desk import DialogDesk, PageDesk, Settle, Show
from tests.window.keys import at, choose, doubled_letters, press, tab_to, turn_to, write

BEGUN = date(2026, 3, 1)
ROUND = Exchange(
    0, "Spring round", Shape.ROUND, Stage.GATHERING, BEGUN, date(2026, 5, 30), date(2026, 6, 10),
    Terms(Rules((Standing.DONOR, Standing.REST), Alternatives.RANKED, cap=3), limited_below=12),
)  # fmt: skip


class Hall(PageDesk):
    """A bank with three clones, one of which may not go, and the page on it."""

    kind, size = ExchangePage, (1100, 640)

    def tab(self, kind: type[Any], title: str) -> Any:
        """Turn to a tab of the page."""
        self.page.focus_on(tab=title)
        self.settle()
        tab = self.page.tab()
        assert isinstance(tab, kind)
        return tab

    def press(self, tab: Any, text: str) -> None:
        """Press a button of a tab by its text, as far as it is enabled."""
        button = next(one for name, one in self.deeds(tab).items() if name == text)
        assert button.isEnabled(), f"“{text}” is not enabled"
        self.click(button)
        self.settle()

    def deeds(self, tab: Any) -> dict[str, Any]:
        return {**tab.on_list, **tab.may_go} if isinstance(tab, ListTab) else tab.deeds


@pytest.fixture
def hall(make_context: Any, show: Show, settle: Settle, qtbot: QtBot, told: Told) -> Hall:
    made = Hall(make_context(stock=build), show, settle, qtbot, told)
    made.read(figures.keep_fresh)
    return made


def build(bank: Any) -> None:
    figures.keep_fresh(bank)
    fridge(bank)
    stored(bank, "Polystichum setiferum", clone=clone("C-02"))
    stored(bank, "Dryopteris affinis", clone=clone("C-01"), each=20_000)
    stored(bank, "Athyrium filix-femina", clone=clone("C-03", permission=Permission.NO))


def opened(bank: Any, name: str = "Spring round") -> int:
    """Begin a round with everything that may go on its list, two packets a line, and open it."""
    number = exchange.begin(bank, replace(ROUND, name=name))
    exchange.add_lines(bank, number, [one.surplus.stock.clone_id for one in exchange.preview(bank, number)])
    for line in queries.listed(bank, number):
        exchange.change_line(bank, number, line.id, exchange.LineForm(2, line.packet_ug))
    exchange.number(bank, number)
    return number


def asked(bank: Any) -> None:
    for who in ("Ida Brekke", "Tom Arkwell", "Wen Lindqvist"):
        ask(bank, 1, who, (1,), (2,))


def share_out(hall: Hall, tab: SharingTab) -> None:
    """Press Share out and say that it is meant, though wishes may still come."""
    assert hall.told is not None
    hall.told.answer = "Share out"
    with hall.qtbot.waitSignal(hall.context.background.ended):
        hall.click(tab.deeds["Share out"])


def test_an_empty_page_leads_to_the_first_exchange(hall: Hall) -> None:
    page = hall.open()
    assert page.empty.isVisible()
    hall.click(page.empty.button)
    assert hall.dialogs[0][0] == "exchange"


def test_a_tab_is_made_when_it_comes_into_sight_and_shows_the_exchange_chosen(hall: Hall) -> None:
    hall.read(opened)
    page = hall.open()
    made = [place.tab is not None for place in page._places]
    assert made == [True, False, False, False, False]
    tab = hall.tab(OrdersTab, "Orders")
    assert tab.isVisible()
    assert tab.exchange == page.chosen()
    assert [place.tab is not None for place in page._places] == [True, False, True, False, False]


def test_alt_and_a_letter_turns_to_each_tab(hall: Hall) -> None:
    hall.read(opened)
    page = hall.open()
    for place, letter in enumerate("LDOSP"):
        hall.qtbot.keyClick(at(page.window()), getattr(Qt.Key, f"Key_{letter}"), Qt.KeyboardModifier.AltModifier)
        hall.settle()
        assert page.tabs.currentIndex() == place
        assert doubled_letters(page) == []


def test_what_may_go_is_put_on_the_list_and_numbered(hall: Hall) -> None:
    hall.read(lambda bank: exchange.begin(bank, ROUND))
    hall.open()
    tab = hall.tab(ListTab, "List")
    assert tab.empty.isVisible()
    hall.click(tab.empty.button)
    assert [(row.surplus.stock.clone, row.surplus.packets) for row in tab.may.rows] == [
        ("C-03", 0),
        ("C-01", 20),
        ("C-02", 10),
    ]
    assert tab.chips.buttons[MAY].text() == "What may go 2 of 3"
    tab.tables[MAY].choose_rows([1])
    press(hall.qtbot, tab.window(), "Put on the list")
    hall.settle()
    assert tab.chips.buttons[MAY].text() == "What may go 1 of 3"  # what is on the list can be put on it no more
    tab.tables[MAY].selectAll()
    hall.press(tab, "Put on the list")
    assert tab.chips.buttons[MAY].text() == "What may go 0 of 3"
    assert [row.line.taxon.name.genus for row in tab.list.rows] == ["Dryopteris", "Polystichum"]
    hall.click(tab.chips.buttons["on"])
    assert hall.told is not None
    hall.press(tab, "Number and open the list")
    assert tab.list.rows[0].line.number is None  # not confirmed: nothing is numbered
    hall.told.answer = "Number it"
    hall.press(tab, "Number and open the list")
    assert [row.line.number for row in tab.list.rows] == [1, 2]
    assert "round, open" in hall.page.stands.text().lower()
    assert not hall.deeds(tab)["Number and open the list"].isEnabled()


def test_holding_back_says_why_at_once(hall: Hall) -> None:
    hall.read(lambda bank: exchange.begin(bank, ROUND))
    hall.open()
    tab = hall.tab(ListTab, "List")
    hall.click(tab.chips.buttons[MAY])
    tab.tables[MAY].choose_rows([1])
    hall.press(tab, "Hold back")
    assert tab.why.text() == "Held back by hand."
    hall.press(tab, "Let the rules decide")
    assert tab.may.rows[1].surplus.packets == 20


def test_a_round_is_shared_out_held_back_and_given_up(hall: Hall) -> None:
    hall.read(opened)
    hall.read(asked)
    hall.open()
    tab = hall.tab(SharingTab, "Sharing out")
    assert tab.told.text() == "3 orders ask for 3 packets. Nothing is shared out yet."
    share_out(hall, tab)
    hall.settle()
    assert [(row.got, row.first) for row in tab.people.rows] == [(1, 1), (1, 1), (1, 0)]
    assert "1 wishes" not in tab.told.text()
    hall.click(tab.chips.buttons[LINES])
    unmet = next(place for place, row in enumerate(tab.lines.rows) if row.line.unmet)
    tab.tables[LINES].choose_rows([unmet])
    assert "2 packets, 3 people asked" in tab.why.text()
    hall.click(tab.chips.buttons[FAIR])
    assert tab.fairness.chart.isVisible()
    hall.press(tab, "Hold packets back")
    hall.settle()
    assert "3 held back in vials" in tab.told.text()
    assert not tab.deeds["Share out"].isEnabled()
    assert hall.told is not None
    hall.told.answer = "Give them up"
    hall.press(tab, "Give packets up")
    assert "0 held back in vials" in tab.told.text()
    hall.press(tab, "Take it back")
    assert tab.told.text() == "3 orders ask for 3 packets. Nothing is shared out yet."
    assert tab.fairness.chart.record is not None  # what would come of these orders is still so
    hall.told.answer = ""
    hall.click(tab.deeds["Share out"])
    assert hall.told.asked[-1] == "Share out before the last day for wishes?"
    assert "Nothing is shared out yet" in tab.told.text()


def test_a_pin_is_seen_and_outlives_the_next_sharing(hall: Hall) -> None:
    hall.read(opened)
    hall.read(asked)
    hall.open()
    tab = hall.tab(SharingTab, "Sharing out")
    hall.click(tab.chips.buttons[LINES])
    last = next(place for place, row in enumerate(tab.lines.rows) if row.who.contact.name == "Wen Lindqvist")
    tab.tables[LINES].choose_rows([last])
    hall.press(tab, "Pin")
    assert tab.lines.rows[last].hand == "pinned"
    by_hand = next(column for column in LINE_COLUMNS if column.key == "hand")
    assert by_hand.text(tab.lines.rows[last]) == "pinned"
    for_three = replace(tab.lines.rows[last].line, packets=3)
    assert by_hand.text(LineRow(for_three, tab.lines.rows[last].who, tab.lines.rows[last].name, PINNED)) == "1 pinned"
    share_out(hall, tab)
    hall.settle()
    assert tab.lines.rows[last].met == "1 of 1"


class Fair(Hall):
    """The page on a round that was shared out before the window was opened."""

    def begin(self) -> SharingTab:
        self.read(opened)
        self.read(asked)
        self.fair = self.read(_shared).fair
        self.open()
        tab: SharingTab = self.tab(SharingTab, "Sharing out")
        return tab

    def look(self, tab: SharingTab) -> None:
        """Go from the chip of people to that of fairness."""
        turn_to(self.qtbot, tab.window(), "Show: People", "Show: Fairness")
        self.qtbot.keyClick(at(tab.window()), Qt.Key.Key_Space)

    def look_away(self, tab: SharingTab) -> None:
        """Go back to the chip of people."""
        for _ in range(2):
            self.qtbot.keyClick(at(tab.window()), Qt.Key.Key_Left)
        self.qtbot.keyClick(tab_to(self.qtbot, tab.window(), "Show: People"), Qt.Key.Key_Space)
        assert not tab.fairness.isVisible()

    def compared(self, tab: SharingTab) -> None:
        self.qtbot.waitUntil(lambda: tab.fairness.chart.record is not None)


def _shared(bank: Any, number: int = 1) -> Any:
    found = sharing_round.work_out(sharing_round.gather(bank, number), lambda *_: None, lambda: False)
    sharing_round.keep(bank, found)
    return found


@pytest.fixture
def fair(make_context: Any, show: Show, settle: Settle, qtbot: QtBot, told: Told) -> Fair:
    made = Fair(make_context(stock=build), show, settle, qtbot, told)
    made.read(figures.keep_fresh)
    return made


def test_after_a_restart_both_methods_are_compared_once_fairness_is_in_sight(fair: Fair) -> None:
    tab = fair.begin()
    fair.read(lambda bank: [piece(bank) for piece in allotting.pieces(bank, 1)])
    fair.settle()
    assert tab.fairness.chart.record is None  # nothing is worked out that nobody looks at
    assert not fair.context.background.busy
    before = fair.read(lambda bank: bank.revision)
    fair.look(tab)
    fair.compared(tab)
    assert tab.fairness.chart.record[0] == fair.fair
    assert tab.fairness.chart.isVisible()
    assert not tab.fairness.none.isVisible()
    assert fair.read(lambda bank: bank.revision) == before
    drawn = tab.fairness.chart.record
    fair.look_away(tab)
    fair.look(tab)
    fair.settle()
    assert tab.fairness.chart.record is drawn
    assert not fair.context.background.busy
    fair.read(lambda bank: ask(bank, 1, "Mira Solheim", (2,)))  # an order that came late
    fair.qtbot.waitUntil(lambda: tab.fairness.chart.record not in (None, drawn))
    assert len(tab.fairness.chart.record[0].tallies) == 4


def test_a_comparison_that_was_stopped_waits_until_it_is_asked_for(fair: Fair) -> None:
    tab, gate = fair.begin(), Event()
    fair.context._slow_lane.submit(lambda: gate.wait(20))
    fair.look(tab)
    fair.qtbot.waitUntil(lambda: fair.context.background.busy)
    assert "being worked out" in tab.fairness.none.text()
    assert tab.deeds["Hold packets back"].isEnabled()
    fair.settle()  # the bank answers meanwhile
    fair.context.background.stop()
    with fair.qtbot.waitSignal(fair.context.background.ended):
        gate.set()
    fair.settle()
    assert "compare both methods" in tab.fairness.none.text()
    fair.look_away(tab)
    fair.look(tab)
    fair.settle()
    assert tab.fairness.chart.record is None
    assert not fair.context.background.busy
    press(fair.qtbot, tab.window(), "Compare both methods")
    fair.compared(tab)
    assert tab.fairness.chart.record[0] == fair.fair


def second_round(bank: Any) -> int:
    """Share another round out, which two people asked for something of."""
    number = opened(bank, "Autumn round")
    for who in ("Mira Solheim", "Jan Oakes"):
        ask(bank, number, who, (1, 2))
    _shared(bank, number)
    return number


def stop_it(fair: Fair, begin: Callable[[], object]) -> None:
    """Begin a comparison that cannot go on, and stop it as the keeper would."""
    gate = Event()
    fair.context._slow_lane.submit(lambda: gate.wait(20))
    begin()
    fair.qtbot.waitUntil(lambda: fair.context.background.busy)
    fair.context.background.stop()
    with fair.qtbot.waitSignal(fair.context.background.ended):
        gate.set()
    fair.settle()


def test_going_to_and_fro_between_rounds_works_nothing_out_twice(fair: Fair) -> None:
    tab = fair.begin()
    other = fair.read(second_round)
    fair.page.focus_on(exchange_id=1)
    fair.look(tab)
    fair.compared(tab)
    first = tab.fairness.chart.record
    fair.page.focus_on(exchange_id=other)
    fair.qtbot.waitUntil(lambda: tab.fairness.chart.record not in (None, first))
    second = tab.fairness.chart.record
    assert [len(one[0].tallies) for one in (first, second)] == [3, 2]
    for number, drawn in ((1, first), (other, second), (1, first)):
        fair.page.focus_on(exchange_id=number)
        fair.settle()
        assert tab.fairness.chart.record is drawn
        assert not tab.fairness.none.isVisible()
        assert not fair.context.background.busy
    press(fair.qtbot, tab.window(), "Compare both methods")  # asked for, it is worked out anew
    fair.compared(tab)
    assert tab.fairness.chart.record is not first
    assert tab.fairness.chart.record == first


def test_a_comparison_that_was_stopped_does_not_begin_again_when_coming_back(fair: Fair) -> None:
    tab = fair.begin()
    other = fair.read(second_round)
    fair.page.focus_on(exchange_id=1)
    fair.settle()
    stop_it(fair, lambda: fair.look(tab))
    assert "compare both methods" in tab.fairness.none.text()
    fair.page.focus_on(exchange_id=other)
    fair.compared(tab)
    fair.page.focus_on(exchange_id=1)
    fair.settle()
    assert tab.fairness.chart.record is None
    assert not fair.context.background.busy
    press(fair.qtbot, tab.window(), "Compare both methods")
    fair.compared(tab)
    assert len(tab.fairness.chart.record[0].tallies) == 3


def test_what_was_left_off_begins_again_when_coming_back(fair: Fair) -> None:
    tab, gate = fair.begin(), Event()
    other = fair.read(second_round)
    fair.page.focus_on(exchange_id=1)
    fair.settle()
    fair.context._slow_lane.submit(lambda: gate.wait(20))
    fair.look(tab)
    fair.qtbot.waitUntil(lambda: fair.context.background.busy)
    fair.page.focus_on(exchange_id=other)
    fair.settle()
    gate.set()
    fair.compared(tab)
    second = tab.fairness.chart.record
    assert len(second[0].tallies) == 2
    fair.page.focus_on(exchange_id=1)
    fair.qtbot.waitUntil(lambda: tab.fairness.chart.record not in (None, second))
    assert len(tab.fairness.chart.record[0].tallies) == 3


def test_in_a_closed_round_no_button_is_offered_that_does_nothing(fair: Fair) -> None:
    tab = fair.begin()
    stop_it(fair, lambda: fair.look(tab))
    assert "Share out, or compare both methods" in tab.fairness.none.text()
    fair.read(lambda bank: exchange.move_to(bank, 1, Stage.CLOSED))
    fair.settle()
    assert tab.fairness.none.text() == "This round is closed. Open it again to compare both methods."
    assert not tab.deeds["Share out"].isEnabled()
    assert not tab.deeds["Compare both methods"].isEnabled()
    assert not fair.context.background.busy
    fair.read(lambda bank: exchange.move_to(bank, 1, Stage.OPEN))
    fair.settle()
    press(fair.qtbot, tab.window(), "Compare both methods")
    fair.compared(tab)
    drawn = tab.fairness.chart.record
    fair.read(lambda bank: exchange.move_to(bank, 1, Stage.CLOSED))
    fair.settle()
    assert tab.fairness.chart.record is drawn  # what came of it is still so


def test_why_a_round_cannot_be_compared_is_remembered_with_what_can_be_done(fair: Fair) -> None:
    tab = fair.begin()

    def pin_too_much(bank: Any) -> None:
        for one in queries.placed(bank, 1):
            sharing_round.set_hand(bank, one.request_id, queries.listed(bank, 1)[0].id, PINNED)

    fair.read(pin_too_much)
    fair.look(tab)
    why = "More packets of line 1 are pinned than there are. Take a pin away."
    fair.qtbot.waitUntil(lambda: tab.fairness.none.text() == why)
    fair.look_away(tab)
    fair.look(tab)
    fair.settle()
    assert not fair.context.background.busy
    fair.read(lambda bank: exchange.move_to(bank, 1, Stage.CLOSED))
    fair.settle()
    assert tab.fairness.none.text().startswith(f"{why} This round is closed.")


def test_what_is_not_shared_out_is_compared_only_when_asked(fair: Fair) -> None:
    fair.read(opened)
    fair.read(asked)
    fair.open()
    tab = fair.tab(SharingTab, "Sharing out")
    fair.look(tab)
    fair.settle()
    assert not fair.context.background.busy
    assert "Share out, or compare both methods" in tab.fairness.none.text()
    fair.look_away(tab)
    press(fair.qtbot, tab.window(), "Compare both methods")
    fair.compared(tab)
    assert tab.fairness.isVisible()
    assert "Nothing is shared out yet" in tab.told.text()


def test_both_methods_are_told_apart_in_words(hall: Hall) -> None:
    hall.read(opened)
    hall.read(asked)
    shared = hall.read(
        lambda bank: sharing_round.work_out(sharing_round.gather(bank, 1), lambda *_: None, lambda: False)
    )
    assert compared(shared.fair, shared.turns)[0] == ("Packets given", "3", "3")


class TestDialogs:
    @pytest.fixture
    def desk(self, qtbot: QtBot, make_context: Any, settle: Settle, told: Told) -> DialogDesk:
        desk = DialogDesk(qtbot, make_context(), settle, told)
        desk.read(build)
        return desk

    def test_a_round_is_begun_by_keyboard_alone(self, desk: DialogDesk) -> None:
        dialog: ExchangeDialog = desk.open("exchange")
        write(desk.qtbot, dialog, "Name", "Winter round")
        write(desk.qtbot, dialog, "Most a person", "20")
        choose(desk.qtbot, dialog, "Alternatives", "One list, ranked")
        choose(desk.qtbot, dialog, "Served in place 1", "donors abroad")
        write(desk.qtbot, dialog, "A packet costs", "0,50")
        press(desk.qtbot, dialog, "Begin it")
        desk.settle()
        made = desk.read(lambda bank: queries.exchange(bank, 1))
        assert (made.name, made.shape, made.stage) == ("Winter round", Shape.ROUND, Stage.GATHERING)
        assert made.terms.rules == Rules((Standing.DONOR_ABROAD,), Alternatives.RANKED, cap=20)
        assert made.terms.packet_cents == 50

    def test_what_is_wrong_stands_beside_its_field(self, desk: DialogDesk) -> None:
        dialog: ExchangeDialog = desk.open("exchange")
        write(desk.qtbot, dialog, "Name", "Winter round")
        write(desk.qtbot, dialog, "Most a person", "2.5")
        press(desk.qtbot, dialog, "Begin it")
        desk.settle()
        assert "whole number" in dialog.form.fields["cap"].error
        assert doubled_letters(dialog) == []

    def test_a_standing_list_asks_for_no_last_day(self, desk: DialogDesk) -> None:
        dialog: ExchangeDialog = desk.open("exchange")
        choose(desk.qtbot, dialog, "Shape", "Standing list")
        assert not dialog.form.fields["closes"].isVisible()
        write(desk.qtbot, dialog, "Name", "All year")
        press(desk.qtbot, dialog, "Begin it")
        desk.settle()
        made = desk.read(lambda bank: queries.exchange(bank, 1))
        assert (made.shape, made.closes) == (Shape.STANDING, None)

    def test_the_rules_are_shown_as_they_were_kept(self, desk: DialogDesk) -> None:
        one = desk.read(lambda bank: queries.exchange(bank, exchange.begin(bank, ROUND)))
        dialog: ExchangeDialog = desk.open("exchange", one=one)
        press(desk.qtbot, dialog, "Keep it")
        desk.settle()
        assert desk.read(lambda bank: queries.exchange(bank, one.id)) == one

    def test_a_packet_of_its_own_size_says_what_it_sows(self, desk: DialogDesk) -> None:
        number = desk.read(lambda bank: exchange.begin(bank, ROUND))
        found = tuple(one.surplus for one in desk.read(lambda bank: exchange.preview(bank, number)))[1:2]
        dialog: WayDialog = desk.open("way", found=found)
        assert dialog.told.text().startswith("A packet of 2 mg sows ")
        write(desk.qtbot, dialog, "A packet holds, mg", "0.5")
        assert dialog.told.text().startswith("A packet of 0.5 mg sows ")
        assert dialog.told.text().endswith("gives 80 packets at most.")
        press(desk.qtbot, dialog, "Keep it")
        desk.settle()
        assert desk.read(lambda bank: exchange.preview(bank, number))[1].surplus.packets == 80

    def test_a_packet_may_be_given_in_cubic_millimetres(self, desk: DialogDesk) -> None:
        """A packet of 5 mm³ is common practice (no source); at 0.8 g/cm³ and 60 % packing it weighs 2.4 mg."""
        number = desk.read(lambda bank: exchange.begin(bank, ROUND))
        found = tuple(one.surplus for one in desk.read(lambda bank: exchange.preview(bank, number)))[1:2]
        dialog: WayDialog = desk.open("way", found=found)
        write(desk.qtbot, dialog, "or in cubic millimetres", "5")
        assert dialog.packet.value() == amounts.from_microlitres(5) == 2_400
        assert doubled_letters(dialog) == []

    def test_a_line_takes_no_more_than_may_go(self, desk: DialogDesk) -> None:
        number = desk.read(opened)
        line = desk.read(lambda bank: queries.listed(bank, number))[0]
        dialog: LineDialog = desk.open("list_line", exchange_id=number, line=line)
        write(desk.qtbot, dialog, "Packets", "99")
        press(desk.qtbot, dialog, "Keep it")
        desk.settle()
        assert dialog.form.fields["packets"].error == "⚠ No more than 20 packets of 2 mg may go."
        tab_to(desk.qtbot, dialog, "Note on the list")
        assert at(dialog) is dialog.note
