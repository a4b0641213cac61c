"""A sitting at the packing bench: parcel after parcel by scans alone.

It lives where the bank does, so that the scans of a fast hand are heard in their order.
"""

from __future__ import annotations

from dataclasses import dataclass

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.queries import parcels as reading
from sporebank.bank.queries.orders import exchange_of
from sporebank.core import codes, scanning
from sporebank.core.codes import Code
from sporebank.core.counted import counted
from sporebank.core.errors import Refusal
from sporebank.core.packing import Parcel
from sporebank.core.records import Fate, Request
from sporebank.jobs import packing

_FIRST = "Scan the label of a parcel, then each of its packets."


@dataclass(frozen=True)
class View:
    """What the bench shows: the last sentence, the parcel in hand, and the parcels that are still to be packed."""

    said: str
    request: Request | None
    stack: tuple[Parcel, ...]

    @property
    def whole(self) -> bool:
        """Whether all packets of the parcel in hand are in it, and it is still open."""
        return self.request is not None and _whole(self.request)


class Bench:
    """Remembers the parcel in hand.

    Args:
        exchange_id: whose parcels are packed; those of requests beside exchanges where it is None.
        request_id: the parcel to begin with; its exchange then goes before the other.
    """

    def __init__(self, exchange_id: int | None = None, request_id: int | None = None) -> None:
        self._exchange_id, self._request_id = exchange_id, request_id

    def look(self, bank: Bank, said: str = "") -> View:
        """Return what there is to see, with another sentence."""
        request = None if self._request_id is None else queries.request(bank, self._request_id)
        if request is not None:
            self._exchange_id = exchange_of(bank, request.id)
        every = reading.plain_parcels(bank) if self._exchange_id is None else reading.parcels(bank, self._exchange_id)
        stack = tuple(parcel for parcel in every if parcel.to_pack)
        return View(said or (_FIRST if request is None else _next(request)), request, stack)

    def hear(self, bank: Bank, text: str) -> View:
        """Do what a scan asks for: open a parcel, close it if it is whole, or put a packet into it.

        Raises:
            Refusal: the packet belongs elsewhere, or there is no parcel in hand; nothing was done.
        """
        code = scanning.read(text, bank.tag)
        if code.kind == "R":
            return self._take_up(bank, code)
        if self._request_id is None:
            raise Refusal("No parcel is in hand. Scan the label of a parcel first, then its packets.")
        scanned = packing.scan_in(bank, self._request_id, code)
        whole = " All are in: scan the label of the parcel to close it." if scanned.complete else ""
        return self.look(bank, scanned.text + whole)

    def turn_to(self, bank: Bank, request_id: int) -> View:
        """Take another parcel in hand."""
        self._request_id = request_id
        return self.look(bank)

    def close(self, bank: Bank, gap: str = "") -> View:
        """Close the parcel in hand."""
        assert self._request_id is not None  # the button is enabled with a parcel
        packing.close(bank, self._request_id, gap)
        request = queries.request(bank, self._request_id)
        said = f"{codes.grouped(request.parcel)} for {request.contact.name} is closed."
        return self.look(bank, f"{said} Scan the next parcel.")

    def take_out(self, bank: Bank, code: str) -> View:
        """Take a packet out of the parcel in hand."""
        assert self._request_id is not None  # its packets are shown
        return self.look(bank, packing.take_out(bank, self._request_id, codes.parse(code, bank.tag)).text)

    def _take_up(self, bank: Bank, code: Code) -> View:
        request_id = queries.request_by_parcel(bank, code.text)
        if request_id is None:
            raise scanning.unknown(code)
        request = queries.request(bank, request_id)
        if request_id == self._request_id and _whole(request):
            return self.close(bank)
        _refuse_done(request)
        return self.turn_to(bank, request_id)


def _whole(request: Request) -> bool:
    """Return whether all packets of an open parcel are in it."""
    waits = request.packed_on is None and request.dispatched_on is None
    return waits and bool(request.packets) and all(packet.packed for packet in request.packets)


def _refuse_done(request: Request) -> None:
    said = codes.grouped(request.parcel)
    if request.fate is not Fate.NONE or request.dispatched_on is not None:
        raise Refusal(f"{said} for {request.contact.name} was sent already. Lay it aside and look it up on Share.")
    if request.packed_on is not None:
        raise Refusal(f"{said} for {request.contact.name} is closed already. It can go.")
    if not request.packets:
        raise Refusal(f"No packet is held back for {said}. Fill the request first.")


def _next(request: Request) -> str:
    """Return what to do with the parcel in hand."""
    who, missing = request.contact.name, sum(not packet.packed for packet in request.packets)
    if request.packed_on is not None:
        return f"The parcel for {who} is closed. Scan the next parcel."
    if not missing:
        return f"All packets for {who} are in: scan the label of the parcel to close it."
    packets = counted(missing, "packet is", "packets are")
    return f"For {who}: {packets} missing. Scan them."
