"""The rows of a table of orders, read: who asks in each, when, and for what; what is wrong goes with its row."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from sporebank.bank.bank import Bank
from sporebank.core import asking
from sporebank.core.asking import Asked
from sporebank.core.dates import day_label
from sporebank.core.errors import Refusal
from sporebank.core.exchange import Exchange, Shape
from sporebank.core.matching import FilledForm, Head, Meaning, Names, Question, Row, Suggestion, letter
from sporebank.core.orders import Alternatives, Wish
from sporebank.core.people import People
from sporebank.core.records import Contact
from sporebank.core.table_days import Days
from sporebank.formats import countries
from sporebank.jobs.asking import refuse_untimely
from sporebank.jobs.sharing import contact_values

_YES, _NO = ("yes", "y", "x", "true", "1", "✓", "✔"), ("", "no", "n", "false", "0")
_TICKS = {**dict.fromkeys(_YES, True), **dict.fromkeys(_NO, False)}
_MOST_PACKETS = 999
_SHOWN = 60
"""Characters of a cell that a sentence quotes."""


@dataclass(frozen=True)
class RowProblem:
    """What is wrong or doubtful in a row, the column by its letters, and what may be accepted to settle it."""

    row: int
    column: str
    sentence: str
    suggestion: Suggestion | None = None


@dataclass
class RowsOrder:
    """One order as it is gathered from its rows; a contact with an id below 0 is new, `dated` if a row had its day."""

    row: int
    contact: Contact
    received_on: date
    dated: bool
    helper: bool
    note: str
    asked: Asked


@dataclass
class RowReader:
    """Reads rows into orders; `problems` is all that was wrong or doubtful.

    Where there is a column of first choices a row is an order, else each is one wish of an order. Of a filled form
    the names beside the numbers count, too, since it may be that of another list.
    """

    bank: Bank
    exchange: Exchange
    head: Head
    people: People
    names: Names
    received_on: date
    late: bool
    accepted: Collection[str]
    form: FilledForm | None = None
    problems: list[RowProblem] = field(default_factory=list)
    _days: Days = field(default_factory=Days)

    def read(self, rows: Iterable[Row]) -> list[RowsOrder]:
        """Return the orders of all rows.

        Everybody is met before anything is read, so that it does not matter which of their rows comes first.
        """
        for question in self.head.questions:
            self._note(self.head.row, question)
        if self._foreign:
            sentence = (
                f"This form is that of “{self._foreign[:_SHOWN]}”, not of {self.exchange.name}. A number counts "
                "only where the name beside it is the same in both lists."
            )
            self.problems.append(RowProblem(self.head.row.number, "B", sentence))
        rows = list(rows)
        self._days = Days.of(self.head.cell(row, Meaning.RECEIVED) for row in rows)
        sound = [(row, said) for row in rows if (said := self._said(row)) is not None]
        for _, said in sound:
            who = self.people.find(said, self.accepted)
            if who.contact is not None and not who.contact.id:
                self.people.add(Contact(0, **contact_values(said)))
        found: dict[tuple[object, ...], RowsOrder] = {}
        for row, said in sound:
            self._gather(row, said, found)
        return list(found.values())

    @property
    def _foreign(self) -> str:
        """The other exchange of which the table is the form, or nothing."""
        named = "" if self.form is None else self.form.exchange.strip()
        return "" if named.casefold() == self.exchange.name.strip().casefold() else named

    def _say(self, row: Row, meaning: Meaning, sentence: str, suggestion: Suggestion | None = None) -> None:
        places = self.head.columns.get(meaning, ())
        self.problems.append(RowProblem(row.number, letter(places[0]) if places else "", sentence, suggestion))

    def _note(self, row: Row, question: Question) -> None:
        column = "" if question.column is None else letter(question.column)
        self.problems.append(RowProblem(row.number, column, question.sentence, question.suggestion))

    def _said(self, row: Row) -> Contact | None:
        """Return the person as a row says, or None where that cannot be."""
        country = self.head.cell(row, Meaning.COUNTRY)
        code = countries.code(country)
        if country and not code:
            sentence = f"“{country[:_SHOWN]}” is no country that is known, so it is left open. Two letters would do."
            self._say(row, Meaning.COUNTRY, sentence)
        said = Contact(
            0,
            self.head.cell(row, Meaning.NAME),
            self.head.cell(row, Meaning.ORGANISATION),
            self.head.cell(row, Meaning.ADDRESS, "\n"),
            code,
            self.head.cell(row, Meaning.EMAIL),
        )
        if said.email and "@" not in said.email:
            self._say(row, Meaning.EMAIL, f"“{said.email[:_SHOWN]}” is no e-mail address. The row is left out.")
            return None
        return said

    def _gather(self, row: Row, said: Contact, found: dict[tuple[object, ...], RowsOrder]) -> None:
        """Read a row into an order of its own, or into that of which it is one wish."""
        who = self.people.find(said, self.accepted)
        if who.question is not None:
            self._say(row, Meaning.NAME, who.question.sentence, who.question.suggestion)
        received = None if who.contact is None else self._received(row)
        if who.contact is None or received is None:
            return
        received_on, dated = received
        if Meaning.FIRST in self.head.columns:
            key: tuple[object, ...] = (row.number,)
            asked = self._order(row)
        else:
            key = (who.contact.id, received_on if self.exchange.shape is Shape.STANDING else None)
            asked = self._wish(row)
        note = self.head.cell(row, Meaning.NOTE)
        order = found.setdefault(key, RowsOrder(row.number, who.contact, received_on, dated, False, note, Asked()))
        order.helper = self._helper(row) or order.helper
        order.asked = order.asked.joined(asked)

    def _received(self, row: Row) -> tuple[date, bool] | None:
        """Return the day on which a row came, and whether it says so itself; None where it came too early or late."""
        said = self.head.cell(row, Meaning.RECEIVED)
        read = self._days.read(said)
        day = self.received_on if read is None else read
        try:
            refuse_untimely(self.bank, self.exchange, day, late=self.late)
        except Refusal as refusal:
            self._say(row, Meaning.RECEIVED, f"{refusal} The row is left out.")
            return None
        if said and read is None:
            sentence = f"“{said[:_SHOWN]}” is no certain day, such as 2026-01-14; {day_label(day)} counts instead."
            self._say(row, Meaning.RECEIVED, sentence)
        return day, read is not None

    def _helper(self, row: Row) -> bool:
        said = self.head.cell(row, Meaning.HELPER).casefold()
        if said not in _TICKS:
            self._say(row, Meaning.HELPER, f"“{said[:_SHOWN]}” is neither yes nor no; it counts as no.")
        return _TICKS.get(said, False)

    def _order(self, row: Row) -> Asked:
        asked = asking.read(self.head.cell(row, Meaning.FIRST, "\n"), self.head.cell(row, Meaning.ALTERNATIVES, "\n"))
        return asked if self.form is None else self._agreeing(row, asked, self.form.taxa)

    def _agreeing(self, row: Row, asked: Asked, taxa: Mapping[int, str]) -> Asked:
        """Return what a form asks for without the numbers that stood beside the name of another line."""
        lines = {line for wish in asked.wishes for line in (wish.line, wish.alternate)} | {*asked.alternatives}
        wrong = {
            line
            for line, name in sorted(taxa.items())
            if line in lines and not self._agrees(row, Meaning.FIRST, line, name)
        }
        wishes = (
            replace(wish, alternate=None if wish.alternate in wrong else wish.alternate)
            for wish in asked.wishes
            if wish.line not in wrong
        )
        return replace(
            asked, wishes=tuple(wishes), alternatives=tuple(line for line in asked.alternatives if line not in wrong)
        )

    # -- one wish a row

    def _wish(self, row: Row) -> Asked:
        """Return what a row asks for that holds one wish: a first choice, or, where it is ticked, an alternative."""
        line, packets = self._line(row), self._packets(row)
        if line is None or packets is None:
            return Asked()
        instead = self.head.cell(row, Meaning.ALTERNATIVES).casefold()
        if instead != "1" and instead in _TICKS:
            return Asked((), (line,)) if _TICKS[instead] else Asked((Wish(line, packets),))
        others = asking.read(instead)
        lines = tuple(wish.line for wish in others.wishes)
        if self.exchange.terms.rules.alternatives is Alternatives.PER_LINE and len(lines) == 1:
            return Asked((Wish(line, packets, lines[0]),), (), others.unread)
        return Asked((Wish(line, packets),), lines, others.unread)

    def _line(self, row: Row) -> int | None:
        """Return the line of the list that a row names, by its number, its name or both."""
        number, name = self.head.cell(row, Meaning.NUMBER), self.head.cell(row, Meaning.TAXON)
        if not number and not name:
            self._say(row, Meaning.NUMBER, "Nothing is asked for in this row.")
            return None
        if number:
            return self._numbered(row, number, name)
        named = self.names.find(name, self.accepted)
        if named.question is not None:
            self._say(row, Meaning.TAXON, named.question.sentence, named.question.suggestion)
        return named.line

    def _numbered(self, row: Row, number: str, name: str) -> int | None:
        """Return the line that a number means, unless the name beside it is that of another."""
        read = asking.read(number)
        if read.unread or len(read.wishes) != 1 or read.wishes[0] != Wish(read.wishes[0].line):
            sentence = f"“{number[:_SHOWN]}” is not one number of the list. The wish is left out."
            self._say(row, Meaning.NUMBER, sentence)
            return None
        line = read.wishes[0].line
        return line if not name or self._agrees(row, Meaning.TAXON, line, name) else None

    def _agrees(self, row: Row, column: Meaning, line: int, name: str) -> bool:
        """Return whether a number may count with the name beside it, which is not that of another line."""
        named = self.names.find(name, self.accepted).line
        if named == line:
            return True
        beside = f"“{name[:_SHOWN]}” beside {line} is no name of the list"
        if named is not None:
            self._say(row, column, f"The number is {line}, the name is that of {named}. The wish is left out.")
        elif self._foreign:
            self._say(row, column, f"{beside}. The wish is left out.")
        else:
            self._say(row, column, f"{beside}; the number counts.")
        return named is None and not self._foreign

    def _packets(self, row: Row) -> int | None:
        said = self.head.cell(row, Meaning.PACKETS) or "1"
        if said.isascii() and said.isdigit() and len(said) < 5 and 1 <= int(said) <= _MOST_PACKETS:
            return int(said)
        sentence = f"“{said[:_SHOWN]}” is no number of packets from 1 to {_MOST_PACKETS}. The wish is left out."
        self._say(row, Meaning.PACKETS, sentence)
        return None
