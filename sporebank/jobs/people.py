"""The papers of people, and forgetting somebody for good."""

from __future__ import annotations

from dataclasses import replace

from sporebank.bank import forgetting, queries
from sporebank.bank.bank import Bank
from sporebank.bank.tables import Permit as PermitTable
from sporebank.core.errors import Refusal
from sporebank.core.permits import Permit

MOST_LABELS = 10_000
_STILL_READ = (
    " Another program still reads this bank, so what was there before stays beside its file until both have closed it. "
    "Close the bank there and here."
)


def save_permit(bank: Bank, permit: Permit) -> int:
    """Keep a paper that somebody holds, a new one where its id is 0, and return its id.

    Raises:
        Refusal: it has no number, or no number of labels that can be.
    """
    held = replace(permit, number=permit.number.strip(), note=permit.note.strip())
    if not held.number:
        raise Refusal("Write the number that stands on the paper, or what else tells it from others.", field="number")
    if held.labels_left is not None and not 0 <= held.labels_left <= MOST_LABELS:
        raise Refusal(f"Give a number of labels from 0 to {MOST_LABELS:,}.", field="labels_left")
    who = queries.contact(bank, held.contact_id).name
    values = {
        "kind": held.kind.value,
        "number": held.number,
        "expires": None if held.expires is None else held.expires.isoformat(),
        "labels_left": held.labels_left,
        "note": held.note,
    }
    with bank.change(f"{held.kind.value.capitalize()} of {who}") as tx:
        if held.id:
            tx.update(PermitTable, held.id, **values)
            return held.id
        return tx.insert(PermitTable, contact_id=held.contact_id, **values)


def drop_permit(bank: Bank, permit: Permit) -> None:
    """Take a paper off the record."""
    who = queries.contact(bank, permit.contact_id).name
    with bank.change(f"Remove {permit.kind.value} of {who}") as tx:
        tx.update(PermitTable, permit.id, void=1)


def forget(bank: Bank, contact_id: int) -> str:
    """Take what is personal of somebody out of the bank for ever and return what to say about it.

    Raises:
        Refusal: a request of theirs is neither sent nor closed.
    """
    if forgetting.waits(bank, contact_id):
        raise Refusal("A request of theirs is neither sent nor closed. Send it or close it first.")
    gone = forgetting.forget(bank, contact_id)
    stays = f"What they gave and got, and their country, stand under “{forgetting.forgotten_name(contact_id)}”."
    return f"They are forgotten. {stays}{'' if gone else _STILL_READ}"
