"""The fields of a form that say who asks: somebody known, completed as one types, or somebody new."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from PySide6.QtWidgets import QLineEdit

from sporebank.core.errors import Refusal
from sporebank.core.records import Contact
from sporebank.window.widgets.choice import WordEdit
from sporebank.window.widgets.field import Form

_NEW = ("organisation", "country", "email")
_HINT = "Somebody new is kept among the contacts."
_SEVERAL = "Several are called so. Choose one of them as you type, or fill in somebody new."


def contact_words(contact: Contact) -> str:
    """Return a contact on one line, as it is completed."""
    return ", ".join(part for part in (contact.name, contact.organisation, contact.country) if part)


def told_apart(people: Sequence[Contact]) -> dict[str, Contact]:
    """Return contacts by the words for them; those that would read the same with their e-mail, or else their town."""
    alike = Counter(contact_words(one).casefold() for one in people)
    found: dict[str, Contact] = {}
    for one in people:
        words = contact_words(one)
        if alike[words.casefold()] > 1:
            words = ", ".join(part for part in (words, one.email or _town(one)) if part)
        found.setdefault(words, one)
    return found


def _town(contact: Contact) -> str:
    """Return the last line of an address."""
    return (contact.address.strip().splitlines() or [""])[-1].strip()


class PersonFields:
    """Puts a name and, for somebody new, organisation, country and e-mail into a form of two columns."""

    def __init__(self, form: Form) -> None:
        self._form = form
        self._people: dict[str, Contact] = {}
        self._several = False
        self.who = WordEdit("name, as you know it or new")
        self.organisation, self.country, self.email = QLineEdit(), QLineEdit(), QLineEdit()
        self.country.setMaxLength(2)
        self.who.edited.connect(self.look)

    def add_name(self, title: str = "&Who asks", *, span: int = 1) -> None:
        """Add the field of the name."""
        self._form.add("name", title, self.who, _HINT, span=span)

    def add_new(self) -> None:
        """Add the fields of somebody new, which show only while the name is not known."""
        self._form.add("organisation", "&Organisation", self.organisation)
        self._form.add("country", "Co&untry", self.country, "Two letters, such as NL.")
        self._form.add("email", "&E-mail", self.email, span=2)
        self.look()

    def offer(self, people: Sequence[Contact]) -> None:
        """Offer the contacts of the bank."""
        apart = told_apart(people)
        self._people = {words.casefold(): one for words, one in apart.items()}
        self.who.offer(list(apart))
        self.look()

    def known(self) -> Contact | None:
        """Return the contact that is named, or None for somebody new."""
        same = self._so_called()
        return self._people.get(self._wanted()) or (same[0] if len(same) == 1 else None)

    def _wanted(self) -> str:
        return self.who.text().strip().casefold()

    def _so_called(self) -> list[Contact]:
        """Return whom the words typed are the name of, or the words of a line without what tells them apart."""
        wanted = self._wanted()
        return [one for one in self._people.values() if wanted in (one.name.casefold(), contact_words(one).casefold())]

    def new(self) -> Contact:
        """Return somebody new as filled in.

        Raises:
            Refusal: there is no name.
        """
        if not self.who.text().strip():
            raise Refusal("Say who asks.", field="name")
        return Contact(
            0, self.who.text(), self.organisation.text(), country=self.country.text(), email=self.email.text()
        )

    def look(self) -> None:
        """Show the fields of somebody new while the name is not known, and say where it is that of several."""
        shown = bool(self._wanted()) and self.known() is None
        several = shown and bool(self._so_called())
        if several != self._several:  # a hint takes the place of an error
            self._several = several
            self._form.fields["name"].set_hint(_SEVERAL if several else _HINT)
        for name in _NEW:
            self._form.fields[name].setVisible(shown)

    def clear(self) -> None:
        """Empty all fields."""
        for line in (self.who, self.organisation, self.country, self.email):
            line.clear()
