"""A letter of thanks to a donor, as a record and as text."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sporebank.core import counted, names
from sporebank.core.donations import Donation
from sporebank.core.records import Contact


@dataclass(frozen=True)
class Thanks:
    """A letter of thanks: who gave what to which exchange, and what it earns them."""

    bank: str
    exchange: str
    to: Contact
    on: date
    given: tuple[Donation, ...]
    privileges: str


def words(thanked: Thanks) -> str:
    """Return the letter as text, to be copied into an e-mail."""
    listed = "\n".join(f"- {_gift(one)}" for one in thanked.given)
    earned = f"\n\n{thanked.privileges}" if thanked.privileges else ""
    return (
        f"Dear {thanked.to.name},\n\nthank you for what you gave to {thanked.exchange}:\n\n{listed}{earned}\n\n"
        f"With good wishes,\n{thanked.bank}"
    )


def _gift(one: Donation) -> str:
    name = names.text(one.name) if one.name is not None else one.received_as
    received = "" if name == one.received_as else f", received as {one.received_as}"
    return f"{name}{received}: {counted.packets(one.packets)}"
