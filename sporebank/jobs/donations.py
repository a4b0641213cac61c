"""Taking donations in: names are looked up, and every packet becomes a batch of a clone of its own, in one deed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from difflib import get_close_matches
from enum import StrEnum

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.change import Change
from sporebank.bank.tables import Contact as ContactTable
from sporebank.bank.tables import Donation as DonationTable
from sporebank.bank.tables import Giving
from sporebank.core import counted, names
from sporebank.core.dates import PartDate
from sporebank.core.donations import Gift
from sporebank.core.errors import Refusal
from sporebank.core.exchange import Exchange, Shape, Stage
from sporebank.core.orders import Order
from sporebank.core.own_codes import next_code
from sporebank.core.records import Basis, Cleaning, Contact, Permission, Source
from sporebank.core.surplus import RELEASED
from sporebank.core.thanks import Thanks
from sporebank.formats import countries
from sporebank.jobs.sharing import contact_values
from sporebank.jobs.store import NewClone, NewName, Portion, StoreForm, look_up, write_batch
from sporebank.jobs.vials import refuse_future

DONOR = "D-01"
_CLOSE = 0.85  # how alike two names are that are likely one, misspelt; our own choice


class Known(StrEnum):
    """How a name that was given stands in the bank."""

    LISTED = "listed before"
    KNOWN = "in the bank"
    OLD = "old name"
    NEW = "new"


@dataclass(frozen=True)
class LookedUp:
    """A gift with its name as the bank reads it; a `problem` keeps it from being taken in.

    `near` is a name of the bank that is spelt nearly so, of a name that is new.
    """

    gift: Gift
    name: NewName | None
    known: Known | None
    problem: str = ""
    near: str = ""


@dataclass(frozen=True)
class DonationForm:
    """Who gave what, and when it came; `new_contact` is kept with it where the bank has none yet.

    With `all_of_it` everything may be given on: neither a reserve nor the only vial stays.
    """

    exchange_id: int
    contact_id: int
    received_on: date
    gifts: tuple[Gift, ...]
    new_contact: Contact | None = None
    all_of_it: bool = True


def look(bank: Bank, exchange_id: int, gifts: Sequence[Gift]) -> list[LookedUp]:
    """Look up the name of every gift; nothing is written."""
    before = queries.listed_before(bank, exchange_id)
    known = [names.text(one.name) for one in queries.taxa(bank)]
    return [_look(bank, gift, before, known) for gift in gifts]


def _look(bank: Bank, gift: Gift, before: set[str], here: Sequence[str]) -> LookedUp:
    try:
        name = look_up(bank, gift.said)
    except Refusal as refusal:
        return LookedUp(gift, None, None, str(refusal))
    if not countries.fits(gift.country):
        return LookedUp(gift, name, None, countries.ASK)
    if gift.collected is None:
        return LookedUp(gift, name, None, "Give the year of collecting, such as 2025; forecast and list go by it.")
    if gift.collected.first() > bank.today():
        return LookedUp(gift, name, None, "It cannot have been collected after today.")
    typed = names.text(names.parse(gift.said))
    known = (
        Known.NEW if name.taxon_id is None
        else Known.OLD if typed != name.text
        else Known.LISTED if name.text in before
        else Known.KNOWN
    )  # fmt: skip
    near = get_close_matches(name.text, here, 1, _CLOSE) if known is Known.NEW else ()
    return LookedUp(gift, name, known, near=next(iter(near), ""))


def take_in(bank: Bank, form: DonationForm) -> tuple[int, ...]:
    """Take gifts in and return the batches that they become, each with a vial and its label waiting.

    A donor gets a code of their own with the first gift; what they give may be shared. The amount is what the packets
    are worth at the size that their taxon is given in.

    Raises:
        Refusal: nothing is given, or one of the gifts cannot be taken in; then none is.
    """
    one = queries.exchange(bank, form.exchange_id)
    refuse_future(form.received_on, bank.today(), "received_on")
    if one.stage is Stage.CLOSED:
        raise Refusal(f"{one.name} is closed. Open it again first.")
    if not form.gifts:
        raise Refusal("Write down what was given, a line for each packet.", field="gifts")
    for number, looked in enumerate(look(bank, form.exchange_id, form.gifts), start=1):
        if looked.problem:
            raise Refusal(f"Packet {number}, {looked.gift.said}: {looked.problem}", field="gifts")
    new = None if form.new_contact is None else contact_values(form.new_contact)
    who = queries.contact(bank, form.contact_id).name if new is None else new["name"]
    with bank.change(f"Donation of {who}, {counted.packets(len(form.gifts))}") as tx:
        contact_id = form.contact_id if new is None else tx.insert(ContactTable, **new)
        code = _donor(bank, tx, contact_id)
        return tuple(_take(bank, tx, form, gift, contact_id, code) for gift in form.gifts)


def _donor(bank: Bank, tx: Change, contact_id: int) -> str:
    """Return the code of a donor, a new one with the first gift."""
    code = queries.donor_code(bank, contact_id)
    if not code:
        known = queries.donor_codes(bank)
        code = next_code(known) if known else DONOR
        tx.update(ContactTable, contact_id, donor_code=code)
    return code


def _take(bank: Bank, tx: Change, form: DonationForm, gift: Gift, contact_id: int, donor: str) -> int:
    assert gift.collected is not None  # `look` asks for it
    name = look_up(bank, gift.said)
    each = queries.packet_size(bank, name.taxon_id)
    clone = NewClone(
        code=next_code(queries.clone_codes(bank)),
        source=gift.source if gift.source is not Source.UNKNOWN else Source.RECEIVED,
        origin=gift.origin,
        country=gift.country,
        acquired=PartDate.of(form.received_on),
        acquired_from=f"donor {donor}",
        permission=Permission.YES,
    )
    stored = write_batch(
        bank,
        tx,
        StoreForm(
            taxon=gift.said,
            clone=clone,
            collected=gift.collected,
            spore_class=name.spore_class,
            cleaning=Cleaning.NONE,
            portions=(Portion(gift.packets * each),),
            stored_on=form.received_on,
            received_as=gift.said,
            amount_basis=Basis.EYE,
            amount_said=counted.packets(gift.packets),
            note=gift.note,
        ),
    )
    if form.all_of_it:
        tx.insert(Giving, clone_id=queries.batch(bank, stored.batch_id).clone.id, held=RELEASED)
    tx.insert(
        DonationTable,
        exchange_id=form.exchange_id,
        contact_id=contact_id,
        batch_id=stored.batch_id,
        received_on=form.received_on.isoformat(),
        received_as=gift.said,
        packets=gift.packets,
        resealed=int(gift.resealed),
        note=gift.note,
    )
    return stored.batch_id


def thanks(bank: Bank, exchange_id: int, contact_id: int) -> Thanks:
    """Return the letter of thanks to a donor.

    Raises:
        Refusal: they gave nothing to this exchange.
    """
    one = queries.exchange(bank, exchange_id)
    given = tuple(reversed(queries.donations(bank, exchange_id, contact_id)))
    if not given:
        raise Refusal("They gave nothing to this exchange yet.")
    to = queries.contact(bank, contact_id)
    home = bank.settings.country
    earned = _earned(one, abroad=bool(home and to.country and to.country != home))
    return Thanks(bank.name, one.name, to, bank.today(), given, earned)


def _earned(one: Exchange, *, abroad: bool) -> str:
    """Return what the rules give a donor, in sentences."""
    rules, earned = one.terms.rules, []
    mine = rules.turn_of(Order(0, 0, (), donor=True, abroad=abroad))
    others = [rules.turn_of(Order(0, 0, (), abroad=away)) for away in (True, False)]
    if one.shape is Shape.ROUND and mine < min(others):
        earned.append("Your wishes are served before those of people who gave nothing.")
    if rules.extra and rules.cap is not None:
        earned.append(f"You may ask for {counted.packets(rules.extra)} more.")
    return " ".join(earned)
