"""The fields of a form that say who asks: somebody known, completed as one types, or somebody new."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtWidgets import QLineEdit

from sporebank.core.errors import Refusal
from sporebank.core.records import Contact
from sporebank.window.widgets.choice import WordEdit
from sporebank.window.widgets.field import Form

_NEW = ("organisation", "country", "email")


def contact_words(contact: Contact) -> str:
    """Return a contact on one line, as it is completed."""
    return ", ".join(part for part in (contact.name, contact.organisation, contact.country) if part)


class PersonFields:
    """Puts a name and, for somebody new, organisation, country and e-mail into a form of two columns."""

    def __init__(self, form: Form) -> None:
        self._form = form
        self._people: dict[str, Contact] = {}
        self.who = WordEdit("name, as you know it or new")
        self.organisation, self.country, self.email = QLineEdit(), QLineEdit(), QLineEdit()
        self.country.setMaxLength(2)
        self.who.edited.connect(self.look)

    def add_name(self, title: str = "&Who asks", *, span: int = 1) -> None:
        """Add the field of the name."""
        self._form.add("name", title, self.who, "Somebody new is kept among the contacts.", span=span)

    def add_new(self) -> None:
        """Add the fields of somebody new, which show only while the name is not known."""
        self._form.add("organisation", "&Organisation", self.organisation)
        self._form.add("country", "Co&untry", self.country, "Two letters, such as NL.")
        self._form.add("email", "&E-mail", self.email, span=2)
        self.look()

    def offer(self, people: Sequence[Contact]) -> None:
        """Offer the contacts of the bank."""
        self._people = {contact_words(one).casefold(): one for one in people}
        self.who.offer([contact_words(one) for one in people])
        self.look()

    def known(self) -> Contact | None:
        """Return the contact that is named, or None for somebody new."""
        wanted = self.who.text().strip().casefold()
        same = [one for one in self._people.values() if one.name.casefold() == wanted]
        return self._people.get(wanted) or (same[0] if len(same) == 1 else None)

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
        """Show the fields of somebody new while the name is not known."""
        shown = bool(self.who.text().strip()) and self.known() is None
        for name in _NEW:
            self._form.fields[name].setVisible(shown)

    def clear(self) -> None:
        """Empty all fields."""
        for line in (self.who, self.organisation, self.country, self.email):
            line.clear()
