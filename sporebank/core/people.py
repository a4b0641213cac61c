"""Who a row of a table is: known by e-mail, else by name and country."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field, replace

from sporebank.core.matching import Question, Suggestion, plain_word
from sporebank.core.records import Contact


@dataclass(frozen=True)
class Who:
    """Whom a row means; no contact where it cannot be told, and then a question says why."""

    contact: Contact | None
    question: Question | None = None


@dataclass
class People:
    """The contacts of the bank, and after them those that a table brings, with ids below 0."""

    _by_email: dict[str, list[Contact]] = field(default_factory=lambda: defaultdict(list))
    _by_name: dict[str, list[Contact]] = field(default_factory=lambda: defaultdict(list))
    _new: int = 0

    @classmethod
    def of(cls, contacts: Iterable[Contact]) -> People:
        """Return the contacts of a bank."""
        found = cls()
        for contact in contacts:
            found._know(contact)
        return found

    def add(self, said: Contact) -> Contact:
        """Know somebody new, and return them with an id below 0."""
        self._new -= 1
        contact = replace(said, id=self._new)
        self._know(contact)
        return contact

    def _know(self, contact: Contact) -> None:
        if contact.email.strip():
            self._by_email[_email(contact)].append(contact)
        self._by_name[_name(contact)].append(contact)

    def find(self, said: Contact, accepted: Collection[str] = ()) -> Who:
        """Return whom the fields of a row mean; somebody new is returned as said, with id 0.

        Who has the same name and another e-mail, or a country where the other has none, may be the same or not, and
        so may who has the same e-mail and a name that is not even shortened the same: that is a question.
        """
        if found := self._by_email.get(_email(said)):
            return _by_email(said, found, accepted)
        if not said.name.strip():
            return Who(None, Question("There is no name in this row, and no e-mail that is known."))
        same = self._by_name.get(_name(said), ())
        here = [one for one in same if _country(one) == _country(said)]
        if found := [one for one in here if not (_email(one) and _email(said))]:
            return _only(found, f"There are several of the name {called(said)}. Write the e-mail.")
        alike = [*here, *(one for one in same if not (_country(one) and _country(said)))]
        return _ask(said, alike, accepted) if alike else Who(said)


def _by_email(said: Contact, found: Sequence[Contact], accepted: Collection[str]) -> Who:
    """Return which of the contacts that have the e-mail of a row it means."""
    if len(same := [one for one in found if _name(one) == _name(said)]) == 1:
        return Who(same[0])
    if len(found) > 1:
        sentence = f"{said.email.strip()} is the e-mail of several contacts. Take it away from all but one."
        return Who(None, Question(sentence))
    if _names_agree(said.name, found[0].name):
        return Who(found[0])
    return _ask(said, found, accepted, "Somebody else needs another e-mail, or none.")


def _names_agree(one: str, other: str) -> bool:
    """Return whether each word of the shorter name stands in the other, too, perhaps as an initial."""
    shorter, longer = sorted((plain_word(one).split(), plain_word(other).split()), key=len)
    return all(any(word.startswith(also) or also.startswith(word) for also in longer) for word in shorter)


def _ask(said: Contact, alike: Sequence[Contact], accepted: Collection[str], otherwise: str = "") -> Who:
    if len(alike) > 1:
        return Who(None, Question(f"There are several people like {called(said)}. Write country and e-mail."))
    known = alike[0]
    key = "\t".join(("person", _name(said), _country(said), _email(said)))
    if key in accepted:
        return Who(known)
    sentence = f"Is {called(said)} the same as {called(known)}? Until you accept it, the row is left out."
    sentence = f"{sentence} {otherwise}".rstrip()
    return Who(None, Question(sentence, Suggestion(key, called(said), called(known))))


def _only(found: Sequence[Contact], several: str) -> Who:
    return Who(found[0]) if len(found) == 1 else Who(None, Question(several))


def _email(contact: Contact) -> str:
    return contact.email.strip().casefold()


def _country(contact: Contact) -> str:
    return contact.country.strip().upper()


def _name(contact: Contact) -> str:
    return " ".join(contact.name.split()).casefold()


def called(contact: Contact) -> str:
    """Return how a person is called, so that they are told from others: name, country and e-mail."""
    parts = (contact.name, contact.country, contact.email)
    return ", ".join(part.strip() for part in parts if part.strip())
