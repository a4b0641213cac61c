"""The packing bench by a simulated scanner, and the parcels of an exchange by keyboard."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from sporebank.bank import invariants, queries
from sporebank.bank.bank import Bank
from sporebank.bank.queries import parcels
from sporebank.core import amounts, codes
from sporebank.core.exchange import Exchange, Shape, Stage
from sporebank.core.records import Fate, Request, RequestState
from sporebank.core.scanning import BEEPS, Fault
from sporebank.jobs import cards, exchange, figures, money, packing, sharing
from sporebank.window.context import Context
from sporebank.window.dialogs.bench import BenchDialog
from sporebank.window.dialogs.parcel import LOST_HINT
from sporebank.window.exchange_parcels import (
    BENCH,
    CLOSE,
    DISPATCH,
    FATE,
    LABELS,
    PAYMENT,
    PICK,
    ParcelsTab,
)
from sporebank.window.pages.exchange import ExchangePage
from sporebank.window.vial_panel import happenings
from tests.builders import asked, clone, fridge, stored
from tests.jobs.test_money import TERMS
from tests.jobs.test_sharing_round import GENERA, ask, held_back, shared
from tests.window.conftest import Told
from tests.window.desk import DialogDesk, PageDesk, Settle, Show, WindowDesk
from tests.window.keys import at, choose, press, write
from tests.window.test_scan import Scanner, desk
from tests.window.test_share_page import Shop, build

assert desk  # the fixture of the window with its scanner

BEGUN = date(2026, 3, 1)
ROUND = Exchange(
    0, "Spring round", Shape.ROUND, Stage.GATHERING, BEGUN, date(2026, 5, 30), date(2026, 6, 10), TERMS
)  # fmt: skip


def packed_round(bank: Bank) -> int:
    """A round of which the packets of two orders are held back: three for Ida, one for Tom."""
    figures.keep_fresh(bank)
    fridge(bank)
    for place, name in enumerate(GENERA, start=1):
        stored(bank, name, clone=clone(f"C-{place:02}"))
    number = exchange.begin(bank, ROUND)
    exchange.add_lines(bank, number, [each.surplus.stock.clone_id for each in exchange.preview(bank, number)])
    exchange.number(bank, number)
    ask(bank, number, "Ida Brekke", (1, 2, 3))
    ask(bank, number, "Tom Arkwell", (1,))
    shared(bank, number)
    held_back(bank, number)
    return number


class Packer(DialogDesk):
    """The bench, and what is heard of the system's sound."""

    def begin(self, **first: object) -> Any:
        self.number = self.read(packed_round)
        self.ida, self.tom = self.requests()
        arguments = first or {"exchange_id": self.number}
        self.dialog = self.open("bench", **arguments)
        self.beeps: list[int] = []
        self.dialog.sound._beep = lambda: self.beeps.append(1)
        return self.dialog

    def requests(self) -> list[Request]:
        return self.read(
            lambda bank: [queries.request(bank, one.request_id) for one in parcels.parcels(bank, self.number)]
        )

    def scan(self, *texts: str) -> None:
        for text in texts:
            self.dialog.take_scan(text)
        self.settle()

    def heard(self, times: int) -> bool:
        self.qtbot.waitUntil(lambda: len(self.beeps) >= times)
        played, self.beeps[:] = len(self.beeps), []
        return played == times


@pytest.fixture
def packer(qtbot: QtBot, make_context: Callable[..., Context], settle: Callable[[Context], None], told: Told) -> Packer:
    return Packer(qtbot, make_context(), settle, told)


def test_parcels_are_packed_by_scans_alone_in_the_order_in_which_they_come(packer: Packer) -> None:
    dialog = packer.begin()
    assert "Scan the label of a parcel" in dialog.said.text()
    assert dialog.left.text() == "2 parcels are still to pack"
    first = [packet.code for packet in packer.ida.packets]
    packer.scan(packer.ida.parcel, *first)  # faster than anything is shown
    assert dialog.count.text() == "3 of 3"
    assert "All are in" in dialog.said.text()
    packer.scan(packer.ida.parcel)
    assert "is closed. Scan the next parcel" in dialog.said.text()
    assert dialog.left.text() == "1 parcel is still to pack"
    packer.scan(packer.tom.parcel, packer.tom.packets[0].code, packer.tom.parcel)
    assert [one.packed_on is not None for one in packer.requests()] == [True, True]
    assert dialog.loud.isHidden()
    assert packer.beeps == []
    assert packer.read(invariants.broken) == []


def test_the_space_bar_closes_a_parcel_that_is_whole(packer: Packer) -> None:
    dialog = packer.begin()
    packer.scan(packer.tom.parcel, packer.tom.packets[0].code)
    packer.qtbot.keyClick(at(dialog), Qt.Key.Key_Space)
    packer.settle()
    assert packer.requests()[1].packed_on is not None
    assert "is closed" in dialog.said.text()


def test_a_scanner_that_types_reaches_the_bench(desk: Scanner) -> None:
    (request,) = desk.read(lambda bank: queries.requests(bank, RequestState.FILLED))
    dialog = BenchDialog(desk.context, desk.window)
    dialog.open()
    desk.settle()
    for text in (request.parcel, *(packet.code for packet in request.packets), request.parcel):
        desk.now += 1
        desk.type_over(dialog, f"{text}\n", 0.005)
    desk.settle()
    assert "is closed. Scan the next parcel" in dialog.said.text()
    desk.now += 1
    desk.type_over(dialog, "4006381333931\n", 0.005)
    desk.settle()
    assert dialog.loud.isVisible()
    dialog.reject()


def test_a_wrong_packet_is_refused_loudly_until_the_next_scan(packer: Packer) -> None:
    dialog = packer.begin()
    packer.scan(packer.ida.parcel, packer.tom.packets[0].code)
    assert dialog.loud.isVisible()
    assert not dialog.said.isVisible()
    assert "Wrong parcel" in dialog.loud.text()
    assert codes.grouped(packer.tom.parcel) in dialog.loud.text()
    assert "Tom Arkwell" in dialog.loud.text()
    assert packer.heard(1)
    packer.settle()
    assert dialog.loud.isVisible()
    packer.scan(packer.ida.packets[0].code)
    assert dialog.loud.isHidden()
    assert dialog.count.text() == "1 of 3"
    assert [packet.packed for one in packer.requests() for packet in one.packets] == [True, False, False, False]


@pytest.mark.parametrize(
    ("text", "says", "times"),
    [
        ("4006381333931", "not a code|no label|code", BEEPS[Fault.MISTAKE]),
        ("unknown", "nothing here carries it", BEEPS[Fault.UNKNOWN]),
        ("early", "Scan the label of a parcel first", 1),
    ],
)
def test_what_is_no_packet_is_told_as_loudly(packer: Packer, text: str, says: str, times: int) -> None:
    dialog = packer.begin()
    texts = {"unknown": codes.make("R", packer.context.tag, 31_000), "early": packer.tom.packets[0].code}
    packer.scan(texts.get(text, text))
    assert dialog.loud.isVisible()
    assert any(part in dialog.loud.text() for part in says.split("|"))
    assert packer.heard(times)


def test_a_gap_is_accepted_with_a_reason_by_keyboard(packer: Packer) -> None:
    packer.begin()
    opened: list[tuple[str, dict[str, Any]]] = []
    packer.context.dialog_wanted.connect(lambda key, arguments: opened.append((key, arguments)))
    bench = packer.dialog
    packer.scan(packer.ida.parcel, packer.ida.packets[0].code)
    press(packer.qtbot, bench, "Close the parcel")
    ((key, arguments),) = opened
    gap = packer.open(key, **arguments)
    packer.enter(gap)
    assert gap.form.fields["gap"].error
    write(packer.qtbot, gap, "Why packets stay out", "the packets tore")
    packer.enter(gap)
    packer.settle()
    assert not gap.isVisible()
    (ida, _) = packer.requests()
    assert (ida.gap, len(ida.packets)) == ("the packets tore", 1)
    assert "is closed" in bench.said.text()


def test_a_packet_is_taken_out_again_and_another_parcel_taken_up_by_keyboard(packer: Packer) -> None:
    packer.begin(request_id=None, exchange_id=None)
    bench = packer.open("bench", request_id=packer.ida.id)
    packer.dialog = bench
    assert bench.who.text() == "Ida Brekke"
    packer.scan(packer.ida.packets[0].code)
    bench.packet_table.choose_rows([0])
    press(packer.qtbot, bench, "Take out")
    packer.settle()
    assert bench.count.text() == "0 of 3"
    bench.stack_table.setFocus()
    bench.stack_table.selectRow(1)
    packer.qtbot.keyClick(bench.stack_table, Qt.Key.Key_Return)
    packer.settle()
    assert bench.who.text() == "Tom Arkwell"


def test_what_is_closed_or_sent_is_not_taken_up(packer: Packer) -> None:
    dialog = packer.begin()
    packer.scan(packer.tom.parcel, packer.tom.packets[0].code, packer.tom.parcel)
    packer.scan(packer.tom.parcel)
    assert "is closed already" in dialog.loud.text()
    packer.scan(packer.tom.packets[0].code)
    assert "is closed. Open it again first" in dialog.loud.text()


class Room(PageDesk):
    """The Exchange page on a round whose packets are held back, its tab of parcels in sight."""

    kind, size = ExchangePage, (1100, 640)
    number: int

    def tab(self) -> Any:
        self.page.focus_on(tab="Parcels")
        self.settle()
        tab = self.page.tab()
        assert isinstance(tab, ParcelsTab)
        return tab

    def choose(self, tab: Any, who: str) -> None:
        tab.table.choose_rows([n for n, row in enumerate(tab.model.rows) if row.parcel.who == who])
        self.settle()

    def states(self, tab: Any) -> list[str]:
        return [row.parcel.state for row in tab.model.rows]


@pytest.fixture
def room(make_context: Callable[..., Context], show: Show, settle: Settle, qtbot: QtBot, told: Told) -> Room:
    made = Room(make_context(), show, settle, qtbot, told)
    made.number = made.read(packed_round)
    made.open()
    return made


def test_the_parcels_of_a_round_are_listed_with_their_state_and_what_is_owed(room: Room) -> None:
    tab = room.tab()
    assert room.states(tab) == ["to pack", "to pack"]
    assert [row.owed for row in tab.model.rows] == ["3.50 EUR", "2.50 EUR"]  # 3 × 0.50 + 2.00; 0.50 + 2.00
    assert tab.told.text() == "2 parcels: 2 to pack."
    assert not tab.deeds[DISPATCH].isEnabled()
    room.choose(tab, "Tom Arkwell")
    enabled = {text for text, button in tab.deeds.items() if button.isEnabled()}
    assert enabled == {PICK, LABELS, BENCH, DISPATCH, PAYMENT}
    for text in (PICK, LABELS, BENCH, DISPATCH, PAYMENT):
        press(room.qtbot, tab.window(), text)
        room.settle()
    assert [key for key, _ in room.dialogs] == ["paper", "labels", "bench", "dispatch", "payment"]
    room.key(tab.table, Qt.Key.Key_Return)
    assert room.went[-1][0] == "share"


def test_a_parcel_is_closed_opened_sent_and_lost(room: Room) -> None:
    tab = room.tab()
    (_, tom) = room.read(
        lambda bank: [queries.request(bank, one.request_id) for one in parcels.parcels(bank, room.number)]
    )

    def pack(bank: Bank) -> None:
        packing.scan_in(bank, tom.id, codes.parse(tom.packets[0].code, bank.tag))
        packing.close(bank, tom.id)

    room.read(pack)
    room.choose(tab, "Tom Arkwell")
    assert room.states(tab) == ["to pack", "closed"]
    room.click(tab.deeds[CLOSE])
    assert room.states(tab) == ["to pack", "packing 1 of 1"]
    room.read(lambda bank: sharing.dispatch(bank, tom.id, bank.today()))
    assert room.states(tab)[1] == "sent"
    assert not tab.deeds[DISPATCH].isEnabled()
    room.click(tab.deeds[FATE])
    assert room.dialogs[-1] == ("fate", {"request_id": tom.id})


def test_what_was_left_out_is_held_back_again_once_the_parcel_is_open(room: Room, told: Told) -> None:
    tab = room.tab()
    ida = room.read(lambda bank: queries.request(bank, parcels.parcels(bank, room.number)[0].request_id))

    def pack(bank: Bank) -> None:
        for packet in ida.packets[:2]:
            packing.scan_in(bank, ida.id, codes.parse(packet.code, bank.tag))
        packing.close(bank, ida.id, "the third packet tore")

    room.read(pack)
    room.choose(tab, "Ida Brekke")
    press(room.qtbot, tab.window(), CLOSE)
    room.settle()
    waits = "Under Sharing out on the Exchange page, 1 packet waits to be held back."
    assert told.infos[-1][0] == f"The parcel to Ida Brekke is open again. {waits}"
    room.page.focus_on(tab="Sharing out")
    room.settle()
    press(room.qtbot, tab.window(), "Hold packets back")
    room.settle()
    assert told.infos[-1][0].startswith("1 packet held back in their vials")
    again = room.read(lambda bank: queries.request(bank, ida.id))
    assert [packet.packed for packet in again.packets] == [True, True, False]
    assert room.read(invariants.broken) == []


def test_in_a_closed_exchange_it_is_said_to_open_that_first(room: Room, told: Told) -> None:
    tab = room.tab()
    ida = room.read(lambda bank: queries.request(bank, parcels.parcels(bank, room.number)[0].request_id))

    def pack(bank: Bank) -> None:
        packing.scan_in(bank, ida.id, codes.parse(ida.packets[0].code, bank.tag))
        packing.close(bank, ida.id, "two packets tore")
        exchange.move_to(bank, room.number, Stage.CLOSED)

    room.read(pack)
    room.choose(tab, "Ida Brekke")
    press(room.qtbot, tab.window(), CLOSE)
    room.settle()
    said = "Under Sharing out on the Exchange page, 2 packets wait to be held back. Spring round is closed; open it"
    assert told.infos[-1][0] == f"The parcel to Ida Brekke is open again. {said} again first."
    room.page.focus_on(tab="Sharing out")
    room.settle()
    sharing_out = room.page.tab()
    assert not sharing_out.deeds["Hold packets back"].isEnabled()
    room.page.close_exchange()
    room.settle()
    press(room.qtbot, sharing_out.window(), "Hold packets back")
    room.settle()
    assert told.infos[-1][0].startswith("2 packets held back in their vials")
    assert room.read(invariants.broken) == []


@pytest.fixture
def forms(
    qtbot: QtBot, make_context: Callable[..., Context], settle: Callable[[Context], None], told: Told
) -> DialogDesk:
    return DialogDesk(qtbot, make_context(), settle, told)


def _sent(bank: Bank) -> int:
    number = packed_round(bank)
    request_id = parcels.parcels(bank, number)[0].request_id
    sharing.dispatch(bank, request_id, bank.today())
    return request_id


@pytest.mark.parametrize("back", [True, False])
def test_a_parcel_that_came_back_is_put_on_record(forms: DialogDesk, back: bool) -> None:
    request_id = forms.read(_sent)
    before = forms.read(lambda bank: [row.left for row in queries.vials_by_id(bank, list(range(1, 10)))])
    dialog = forms.open("fate", request_id=request_id)
    if not back:
        press(forms.qtbot, dialog, "Its spore")
    forms.enter(dialog)
    request = forms.read(lambda bank: queries.request(bank, request_id))
    after = forms.read(lambda bank: [row.left for row in queries.vials_by_id(bank, list(range(1, 10)))])
    assert (request.fate, request.state) == (Fate.RETURNED, RequestState.CLOSED)
    assert sum(after) - sum(before) == (6_000 if back else 0)
    assert forms.read(invariants.broken) == []


def test_a_lost_parcel_reads_as_lost_on_the_way_in_the_ledgers(forms: DialogDesk) -> None:
    request_id = forms.read(_sent)
    dialog = forms.open("fate", request_id=request_id)
    choose(forms.qtbot, dialog, "What became of it", "It was lost")
    assert not dialog.put_back.isVisible()
    assert dialog.fate.accessibleDescription() == LOST_HINT
    forms.enter(dialog)
    request = forms.read(lambda bank: queries.request(bank, request_id))
    assert (request.fate, request.state) == (Fate.LOST, RequestState.CLOSED)
    card = forms.read(lambda bank: cards.vial_card(bank, request.packets[0].vial_id))
    amount, parcel = amounts.show(request.packets[0].micrograms), codes.grouped(request.parcel)
    told = [happening.what for happening in happenings(card)]
    assert f"{amount} in, correction: {parcel} lost on the way" in told
    assert f"{amount} out, loss: {parcel} lost on the way" in told
    assert forms.read(invariants.broken) == []


def test_what_was_paid_is_put_on_record(forms: DialogDesk) -> None:
    request_id = forms.read(_sent)
    dialog = forms.open("payment", request_id=request_id)
    assert dialog.sum.line.text() == "3.5"
    write(forms.qtbot, dialog, "Sum", "4")
    forms.enter(dialog)
    assert forms.read(lambda bank: money.account(bank, request_id)).kept == 50
    again = forms.open("payment", request_id=request_id)
    assert "credit kept 0.50 EUR" in again.about.text()
    again.reject()


def test_a_keeper_who_asks_for_no_money_sees_nothing_of_it(room: Room) -> None:
    tab = room.tab()
    one = room.read(lambda bank: queries.exchange(bank, room.number))
    free = replace(one, terms=replace(one.terms, packet_cents=0, postage_cents=0, postage_abroad_cents=0))
    room.read(lambda bank: exchange.change(bank, free))
    room.settle()
    assert not tab.deeds[PAYMENT].isVisible()


def _scan(bank: Bank) -> None:
    for packet in queries.request(bank, 1).packets:
        packing.scan_in(bank, 1, codes.parse(packet.code, bank.tag))


def _take_out(bank: Bank) -> None:
    packing.take_out(bank, 1, codes.parse(queries.request(bank, 1).packets[1].code, bank.tag))


def _fill(bank: Bank) -> None:
    sharing.keep_fill(bank, 1, sharing.propose(bank, 1))


def test_the_request_says_how_far_its_parcel_is(
    make_context: Any, show: Show, settle: Settle, qtbot: QtBot, told: Told
) -> None:
    shop = Shop(make_context(), show, settle, qtbot, told)
    shop.read(build)
    shop.read(_fill)
    page = shop.open()
    page.focus_on(code=shop.request(1).packets[0].code)  # as a scan of a packet's label does
    shop.settle()
    assert page.chosen().id == 1
    shop.click(page.view.buttons["pack_parcel"])
    assert shop.dialogs[-1] == ("bench", {"request_id": 1})
    page.print_pick_list()
    assert shop.dialogs[-1][0] == "paper"
    steps: tuple[tuple[Callable[[Bank], object], str], ...] = (
        (_scan, "Every packet is in the parcel."),
        (_take_out, "Packing: 1 of 2 packets are in the parcel."),
        (lambda bank: packing.close(bank, 1, "torn"), "closed and can go: 1 of 3 packets. Left out because: torn."),
        (lambda bank: sharing.dispatch(bank, 1, bank.today()), "Sent on 4 May 2026: 1 of 3 packets."),
        (
            lambda bank: packing.come_back(bank, 1, bank.today(), Fate.LOST),
            "The parcel was lost, on record since",
        ),
    )
    for deed, says in steps:
        shop.read(deed)
        shop.settle()
        assert says in page.view.state.text()
    page.record_fate()
    assert shop.dialogs[-1] == ("fate", {"request_id": 1})


class ShareWindow(WindowDesk):
    """The window on the Share page."""

    key = "share"


def test_an_order_of_an_exchange_is_not_filled_on_share_and_says_where(
    make_context: Any, show: Show, settle: Settle, qtbot: QtBot
) -> None:
    context = make_context()
    context.read(packed_round, lambda _: None)
    context.read(lambda bank: asked(bank, sharing.Wish(1, 1_000, taxon_id=1)), lambda _: None)
    settle(context)
    share = ShareWindow(qtbot, context, settle, show)
    share.press("State: All")
    fill, button = share.window.commands.by_id["fill_request"], share.window._buttons[-1]
    qtbot.keyClick(share.page.table, Qt.Key.Key_Home, Qt.KeyboardModifier.ControlModifier)
    share.settle()
    said = {}
    for _ in share.page.model.rows:
        row = share.page.chosen()
        said[row.contact.name] = (fill.isEnabled(), button.isEnabled(), button.toolTip(), share.page.view.about.text())
        assert (fill.toolTip(), fill.statusTip()) == (button.toolTip(), button.accessibleDescription())
        qtbot.keyClick(share.page.table, Qt.Key.Key_Down)
        share.settle()
    elsewhere = "This is an order of Spring round. Its packets are chosen on the Exchange page, under Sharing out."
    assert said["Ida Brekke"][:3] == said["Tom Arkwell"][:3] == (False, False, elsewhere)
    assert "order of Spring round" in said["Ida Brekke"][3]
    assert said["Marit Olden"][:2] == (True, True)
    assert said["Marit Olden"][2].startswith("Propose the vials to draw from")
    assert "order of" not in said["Marit Olden"][3]
    share.window.show_page("vials")
    share.settle()
    assert not fill.isEnabled()


def test_a_parcel_is_opened_again_on_the_page(
    make_context: Any, show: Show, settle: Settle, qtbot: QtBot, told: Told
) -> None:
    shop = Shop(make_context(), show, settle, qtbot, told)
    for deed in (build, _fill, _scan, lambda bank: packing.close(bank, 1)):
        shop.read(deed)
    page = shop.open()
    page.focus_on(request_id=1)
    shop.settle()
    page.open_parcel()
    shop.settle()
    assert shop.request(1).packed_on is None
    assert "Every packet is in the parcel" in page.view.state.text()
