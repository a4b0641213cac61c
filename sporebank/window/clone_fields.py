"""What is written of a clone, the same where it is stored and where it is changed."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtWidgets import QLineEdit

from sporebank.core.dates import PartDate
from sporebank.core.records import Clone, Permission, Source
from sporebank.jobs.store import NewClone
from sporebank.window.widgets.choice import Choice, WordEdit
from sporebank.window.widgets.editors import PartDateEdit
from sporebank.window.widgets.field import Form


class CloneFields:
    """The editors of a clone's fields; only the code is demanded."""

    def __init__(self) -> None:
        self.code, self.origin, self.country, self.permit, self.number = (QLineEdit() for _ in range(5))
        self.number.setPlaceholderText("such as XX-0-ABC-1998/417")
        self.source: Choice[Source] = Choice([(one.value.capitalize(), one) for one in Source])
        self.permission: Choice[Permission] = Choice([(one.value.capitalize(), one) for one in Permission])
        self.acquired = PartDateEdit()
        self.acquired_from, self.parent_code = WordEdit(), WordEdit()

    def add_to(self, form: Form, code_hint: str = "", number_span: int = 1) -> None:
        """Add the fields to a form of two columns, by the names that refusals give them."""
        add = form.add
        add("clone_code", "C&ode", self.code, code_hint)
        add("source", "Kind of &source", self.source)
        add("origin", "&Where from", self.origin)
        add("country", "Country of origin", self.country, "Two letters (ISO 3166-1), such as NL.")
        add("acquired", "Wh&en it came", self.acquired)
        add("acquired_from", "&By whom", self.acquired_from)
        add("permission", "Ma&y be shared", self.permission)
        add("permit_note", "Pe&rmit", self.permit)
        add("parent", "Raised &from clone", self.parent_code)
        hint = "Kept to the letter, also for offspring."
        add("network_number", "&Garden's network number", self.number, hint, span=number_span)

    def offer(self, codes: Sequence[str], people: Sequence[str]) -> None:
        """Offer words to complete from."""
        self.parent_code.offer(codes)
        self.acquired_from.offer(people)

    @property
    def written(self) -> bool:
        """Whether anything is written besides the code, which may be only proposed."""
        lines = (self.origin, self.country, self.permit, self.number, self.acquired.line)
        return any(line.text().strip() for line in (*lines, self.acquired_from, self.parent_code))

    def clear(self) -> None:
        """Empty what differs from clone to clone; kind of source and permission stay."""
        for line in (self.code, self.origin, self.country, self.permit, self.number):
            line.clear()
        for words in (self.acquired_from, self.parent_code):
            words.show_text("")
        self.acquired.set_value(None)

    def show_clone(self, clone: Clone, parent: str) -> None:
        """Show a clone, and the code of the one it was raised from."""
        for line, text in (
            (self.code, clone.code),
            (self.origin, clone.origin),
            (self.country, clone.country),
            (self.permit, clone.permit_note),
            (self.number, clone.network_number),
        ):
            line.setText(text)
            line.setCursorPosition(0)  # a text longer than its field is read from its beginning
        self.acquired_from.show_text(clone.acquired_from)
        self.parent_code.show_text(parent)
        self.source.set_value(clone.source)
        self.permission.set_value(clone.permission)
        self.acquired.set_value(clone.acquired)

    def value(self, acquired: PartDate | None) -> NewClone:
        """Return what is written; the date is read by whoever shows its refusal."""
        return NewClone(
            code=self.code.text().strip(),
            source=self.source.value(),
            origin=self.origin.text().strip(),
            country=self.country.text(),
            acquired=acquired,
            acquired_from=self.acquired_from.text().strip(),
            permission=self.permission.value(),
            permit_note=self.permit.text().strip(),
            network_number=self.number.text().strip(),
            parent=self.parent_code.text().strip(),
        )
