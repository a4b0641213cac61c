"""The one place that decides what a scan does: which page, which deed, or why nothing."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Protocol, cast, runtime_checkable

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QApplication, QWidget

from sporebank.core import codes, scanning
from sporebank.core.codes import Code
from sporebank.core.counted import counted
from sporebank.core.errors import Refusal
from sporebank.core.looks import LookKind
from sporebank.core.records import Changed, Request
from sporebank.core.scanning import BEEPS, MODES_OF_PAGE, Fault, Misread, Mode, Step
from sporebank.window.context import Context
from sporebank.window.find_field import PAGE_OF_KIND
from sporebank.window.later import Later
from sporebank.window.notice import say_over
from sporebank.window.page import Page
from sporebank.window.pictures import Then, Use
from sporebank.window.scan_sound import ScanSound
from sporebank.window.scan_strip import SEEN_LAST, ScanChoice, ScanStrip, Shown
from sporebank.window.tell import Offer, tell_failure

if TYPE_CHECKING:
    from sporebank.jobs import scanning as jobs
    from sporebank.jobs.scanning import Effect, Packing
else:
    jobs = Later("sporebank.jobs.scanning")


@runtime_checkable
class TakesScans(Protocol):
    """A dialog that knows what to do with a scan."""

    def take_scan(self, text: str) -> object:
        """Take the text of a label, right or wrong."""


class Requests(Protocol):
    """A page with a request to pack for."""

    def chosen(self) -> Request | None:
        """Return the request in hand."""


class Ticks(Protocol):
    """A page with a list to tick."""

    def tick(self, vial_id: int, ticked: bool = True) -> bool:
        """Tick a vial and return whether it is on the list."""


class Pots(Protocol):
    """A page with pots."""

    def show_pot(self, code: str) -> object:
        """Turn to the pot with this code; the keyboard stays where it is."""


class Scans(QObject):
    """Takes every scan of the window. `page` returns the page in sight, `beep` plays the system's sound."""

    def __init__(
        self,
        context: Context,
        page: Callable[[], Page],
        parent: QWidget,
        beep: Callable[[], object] = QApplication.beep,
    ) -> None:
        super().__init__(parent)
        self._context, self._page = context, page
        self.sound = ScanSound(context, self, beep)
        self._place: tuple[int, str] | None = None
        self._count = 0
        self._packing_for = 0
        self._turned = 0  # counts pages, modes and requests, for a scan holds for the one in which it was made
        self._then: Then | None = None
        self.choice, self.strip = ScanChoice(), ScanStrip()
        self.choice.edited.connect(self._turn)
        self.strip.seen.edited.connect(self._see)
        self.strip.stopped.connect(self._stop)
        context.changed.connect(self._hear)

    # -- the mode

    def page_opened(self, key: str) -> None:
        """Offer what a scan may do on a page; another page begins with finding."""
        self.choice.offer_modes(MODES_OF_PAGE.get(key, (Mode.FIND,)))
        self._turn()

    def mode(self) -> Mode:
        """Return what the next scan does."""
        return self.choice.value()

    def look(self) -> None:
        """Follow the page to another request: what was packed for the one before is not packed for this one."""
        if self.mode() is not Mode.PACK:
            return
        request = cast("Requests", self._page()).chosen()
        if request is not None and request.id != self._packing_for:
            self._packing_for = request.id
            self._turned += 1
            self.strip.clear()
        self._say()

    def _stop(self) -> None:
        self.choice.set_value(Mode.FIND)
        self._turn()

    def _turn(self) -> None:
        self._place, self._count = None, 0
        self._turned += 1
        self.strip.clear()
        if self.mode() is Mode.TAKE:
            self.strip.amount.set_value(self._context.state.get("scan/micrograms", 0) or None)
            self.strip.reason.set_value(self._context.state.get("scan/reason", self.strip.reason.value()))
        self.strip.seen.set_value(self._context.state.get(SEEN_LAST, LookKind.FILM))
        self._packing_for = 0
        self._say()
        self.look()

    def _see(self) -> None:
        """Record something else from the next scan on."""
        self._context.state.put(SEEN_LAST, self.strip.seen.value().value)
        self._count = 0
        self._turned += 1
        self._say()

    def _say(self) -> None:
        self.strip.show_mode(self.mode(), self._sentence())

    def _sentence(self) -> str:
        mode = self.mode()
        if mode is Mode.MOVE and self._place is None:
            return "Scan: move. Scan the place first, then the vials that go there."
        if mode is Mode.MOVE and self._place is not None:
            return f"Scan: move to {self._place[1]} · {counted(self._count, 'vial')} moved"
        if mode is Mode.PACK:
            request = cast("Requests", self._page()).chosen()
            who = "Choose a request first." if request is None else f"for {request.contact.name}"
            return f"Scan: put into the parcel · {who} {_packed_of(request)}"
        if mode is Mode.CULL:
            return "Scan: tick on this list. Nothing leaves the bank before you press Cull."
        if mode is Mode.LOOK:
            return f"Scan: record “{self.strip.seen.value().value}” today · {counted(self._count, 'pot')}"
        return f"Scan: {mode.value}"

    # -- a scan

    def take(self, text: str) -> None:
        """Take a scan, from wherever it came."""
        dialog = QApplication.activeModalWidget()
        if isinstance(dialog, TakesScans):
            dialog.take_scan(text)
        elif dialog is not None:
            self._wait_for(text, dialog)
        else:
            self._act(text)

    def unread(self, text: str) -> None:
        """Say that what a scanner typed is no label, so that its Return did nothing."""
        dialog = QApplication.activeModalWidget()
        misread = Misread(f"“{text}” is no label of this bank, or came in pieces. Scan it again.", Fault.MISTAKE)
        if isinstance(dialog, TakesScans):
            dialog.take_scan(text)
        elif dialog is not None:
            self.sound.play(BEEPS[misread.fault])
            say_over(dialog, str(misread))
        else:
            self.refuse(misread)

    def use(self) -> Use:
        """Return what is done with the labels of a picture: the same as with scans."""
        if self.mode() is Mode.FIND:
            return Use("Choose one to go to it, or show all of the vials.")
        what = self.strip.what.text().removeprefix("Scan: ")
        return Use(f"Nothing is done yet. Each label will count as a scan: {what}", self._act_for)

    def _act_for(self, text: str, then: Then) -> None:
        """Do what a scan of a label does; `then` is told what came of it, in place of a sound."""
        self._then = then
        self._act(text)

    def _answer(self, sentence: str, done: bool = True) -> bool:
        """Tell who asked for a scan what came of it, and return whether anybody did."""
        then, self._then = self._then, None
        if then is not None:
            then(sentence, done)
        return then is not None

    def _show(self, shown: Shown) -> None:
        self.strip.add(shown)
        self._answer(shown.text)

    def _wait_for(self, text: str, dialog: QWidget) -> None:
        sentence = f"A dialog is open. Close it first, then scan {text} again."
        self.sound.play(1)
        say_over(dialog, sentence)
        self._context.tell.info(sentence, Offer("Take the scan now", lambda: self.take(text)))

    def _act(self, text: str) -> None:
        try:
            code = scanning.read(text, self._context.tag)
        except Misread as misread:
            self._misread(text, misread)
            return
        found = partial(self._found, self.mode(), self._turned, code)
        self._context.read(lambda bank: jobs.met(bank, code), found, self._failed)

    def _misread(self, text: str, misread: Misread) -> None:
        """Take a label of another bank for that of the thing it became here; say what is wrong with any other."""
        if misread.fault is not Fault.FOREIGN:
            self.refuse(misread)
            return
        self._context.read(
            lambda bank: jobs.own_code(bank, text),
            lambda own: self._act(own) if own else self.refuse(misread),
            self._failed,
        )

    def refuse(self, refusal: Refusal) -> None:
        """Say why a scan does nothing, with its own sound: in the strip where there is one, else above the page."""
        finding = self.mode() is Mode.FIND
        if not finding:
            self.strip.refuse(refusal)
        if self._answer(str(refusal), done=False):
            return
        self.sound.play(BEEPS[refusal.fault] if isinstance(refusal, Misread) else 1)
        if finding:
            self._context.tell.error(refusal)

    def _holds(self, mode: Mode, turned: int, code: str) -> bool:
        """Return whether a scan still stands; where the keeper has turned to something else since, say that it fell."""
        if mode is Mode.FIND or turned == self._turned:
            return True
        self.refuse(Refusal(f"You turned to something else before {codes.grouped(code)} was looked up. Scan it again."))
        return False

    def _found(self, mode: Mode, turned: int, code: Code, carrier: tuple[int, str] | None) -> None:
        """Take a step; what is asked first is answered first, so that a place holds for the vials scanned after it."""
        if not self._holds(mode, turned, code.text):
            return
        if carrier is None:
            self.refuse(scanning.unknown(code))
            return
        try:
            step = scanning.decide(mode, code, has_place=self._place is not None)
        except Refusal as refusal:
            self.refuse(refusal)
            return
        held, path = carrier
        {
            Step.FIND: lambda: self._context.go(PAGE_OF_KIND[code.kind], code=code.text),
            Step.TURN: lambda: self._turn_to(held, path),
            Step.TAKE: lambda: self._take_out(held),
            Step.MOVE: lambda: self._move(held),
            Step.PACK: lambda: self._pack(held, code),
            Step.TICK: lambda: self._tick(held, code),
            Step.LOOK: lambda: self._record_look(held, code),
        }[step]()

    # -- what it does

    def _turn_to(self, place_id: int, path: str) -> None:
        self._place, self._count = (place_id, path), 0
        self._page().focus_on(place_id=place_id)
        self._say()
        self._answer(f"The place to move to: {path}.")

    def _take_out(self, vial_id: int) -> None:
        try:
            micrograms, reason = self.strip.taken(), self.strip.reason.value()
        except Refusal as refusal:
            self.refuse(refusal)
            return
        self._context.state.put("scan/micrograms", micrograms)
        self._context.state.put("scan/reason", reason.value)
        self._context.do(lambda bank: jobs.take(bank, vial_id, micrograms, reason), self._done, self._failed)

    def _move(self, vial_id: int) -> None:
        assert self._place is not None
        place = self._place

        def moved(effect: Effect) -> None:
            self._count += bool(effect.event) and self._place is place
            self._done(effect)
            self._say()

        self._context.do(lambda bank: jobs.move(bank, vial_id, place[0]), moved, self._failed)

    def _pack(self, held: int, code: Code) -> None:
        request = cast("Requests", self._page()).chosen()
        if request is None:
            self.refuse(Refusal("Choose the request first, then scan what goes into its parcel."))
            return
        if code.kind == "K":
            self._put_in(request.id, code)
            return
        wanted, found = request.id, partial(self._packing, request.id, self._turned, code)
        self._context.read(lambda bank: jobs.packing(bank, wanted, held), found, self._failed)

    def _packing(self, request_id: int, turned: int, code: Code, found: Packing) -> None:
        if not self._holds(Mode.PACK, turned, code.text):
            return
        if found.packets:
            self._put_in(request_id, code)
        else:
            self._not_listed(request_id, codes.grouped(code.text), found)

    def _put_in(self, request_id: int, code: Code) -> None:
        self._context.do(lambda bank: jobs.pack(bank, request_id, code), self._done, self._failed)

    def _not_listed(self, request_id: int, code: str, found: Packing) -> None:
        line_id, vial_id = found.could_fill, found.vial.id
        if line_id is None:
            self.refuse(Refusal(f"{code} is not on the packing list, and no wish of this request is for it."))
            return
        self.refuse(Refusal(f"{code} is not on the packing list."))

        def add() -> None:
            self._context.do(
                lambda bank: jobs.add_to_packing(bank, request_id, line_id, vial_id), self._done, self._failed
            )

        self._context.tell.info("A wish still lacks such a packet.", Offer("Put it on the list", add))

    def _tick(self, vial_id: int, code: Code) -> None:
        page, said = cast("Ticks", self._page()), codes.grouped(code.text)
        if not page.tick(vial_id):
            self.refuse(Refusal(f"{said} is not past viability, so it is not on this list. Find it on Vials first."))
            return

        def back() -> None:
            page.tick(vial_id, ticked=False)
            self.strip.drop_last()

        self._show(Shown(f"{said} is ticked.", back))

    def _record_look(self, pot_id: int, code: Code) -> None:
        what, turned = self.strip.seen.value(), self._turned

        def recorded(effect: Effect) -> None:
            self._count += bool(effect.event) and turned == self._turned
            self._done(effect)
            self._say()
            if self.mode() is Mode.LOOK:
                cast("Pots", self._page()).show_pot(code.text)

        self._context.do(lambda bank: jobs.look(bank, pot_id, what), recorded, self._failed)

    def _done(self, effect: Effect) -> None:
        def back() -> None:
            self._context.do(lambda bank: jobs.undo(bank, effect), self._taken_back, self._failed)

        self._show(Shown(effect.text, back if effect.event else None, effect.event))

    def _taken_back(self, title: str) -> None:
        self.strip.drop_last()
        if self.mode() in (Mode.MOVE, Mode.LOOK):
            self._count = max(0, self._count - 1)
            self._say()
        self._context.tell.info(f"Taken back: {title}")

    def _failed(self, failure: Exception) -> None:
        if isinstance(failure, Refusal):
            self.refuse(failure)
        else:
            self._answer("The program failed.", done=False)
            tell_failure(self._context.tell, failure)

    def _hear(self, changed: Changed) -> None:
        if "packet" in changed.kinds or "request" in changed.kinds:
            self._say()
        if self.strip.last() is not None:
            self._context.read(jobs.standing, self.strip.keep_standing)


def _packed_of(request: Request | None) -> str:
    """Return how many packets of a request are in its parcel."""
    if request is None:
        return ""
    return f"· {sum(packet.packed for packet in request.packets)} of {len(request.packets)} packets"
