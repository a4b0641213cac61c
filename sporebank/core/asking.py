"""Typed or pasted text read as an order, checked against the list and the rules, and the reply to who asked.

Numbers stand apart by spaces, commas, semicolons or lines. `7x2` is two packets of line 7; `188/201`, or `188 (201)`,
is line 188 or 201 instead. What is wrong is told with the way in which it is mended, and nothing is mended untold.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum

from sporebank.core import counted
from sporebank.core.dates import day_label
from sporebank.core.exchange import Exchange, Listed, Shape
from sporebank.core.orders import Alternatives, Order, Rules, Wish

_MARK = r"(?:(?:nos?|nr|number)\.?\s*|[#№]\s*)?"
_NUMBER = r"0*(\d{1,9})"
_ITEM = re.compile(
    rf"{_MARK}{_NUMBER}(?:\s*[x×*]\s*0*([1-9]\d{{0,2}}))?(?:\s*/\s*{_MARK}{_NUMBER}|\s*\(\s*{_MARK}{_NUMBER}\s*\))?"
    r"(?=[\s,;]|$)",
    re.IGNORECASE,
)
_BETWEEN = re.compile(r"[\s,;]+")
_WORD = re.compile(r"[^\s,;]+")
_SHOWN = 40
"""Characters of a word that a sentence quotes."""


class Fault(StrEnum):
    """What can be wrong with an order."""

    UNREAD = "cannot be read"
    UNKNOWN = "not on the list"
    TWICE = "there twice"
    SOLD_OUT = "sold out"
    OVER_LINE = "too much of one number"
    OVER_LIMITED = "too much that is limited"
    OVER_CAP = "too much"
    NO_ALTERNATIVES = "alternatives that do not count"


class Severity(StrEnum):
    """What becomes of what is wrong: it is left out, or it is kept in another way."""

    LEFT_OUT = "left out"
    CHANGED = "changed"


@dataclass(frozen=True)
class Asked:
    """A text as it was read: wishes by rank, alternatives for the whole order, and the words that mean nothing."""

    wishes: tuple[Wish, ...] = ()
    alternatives: tuple[int, ...] = ()
    unread: tuple[str, ...] = ()

    def joined(self, more: Asked) -> Asked:
        """Return this with what another text asks for after it."""
        return Asked(self.wishes + more.wishes, self.alternatives + more.alternatives, self.unread + more.unread)


@dataclass(frozen=True)
class Problem:
    """Something that is wrong, and in its sentence what becomes of it, so that keeper and asker can read it."""

    fault: Fault
    severity: Severity
    sentence: str


@dataclass(frozen=True)
class Asker:
    """What of a person the rules go by; `had` are the packets had or asked for this year from a standing list."""

    donor: bool = False
    helper: bool = False
    had: int = 0


@dataclass(frozen=True)
class Checked:
    """An order as it is kept, and what was wrong with what was asked."""

    wishes: tuple[Wish, ...]
    alternatives: tuple[int, ...]
    problems: tuple[Problem, ...]

    @property
    def packets(self) -> int:
        """How many packets are asked for as first choices."""
        return sum(wish.packets for wish in self.wishes)


def read(text: str, alternatives: str = "") -> Asked:
    """Return what a text of first choices and a text of alternatives ask for, as far as they can be read."""
    wishes, unread = _items(text)
    others, unread_too = _items(alternatives)
    lines = [line for wish in others for line in (wish.line, wish.alternate) if line is not None]
    return Asked(tuple(wishes), tuple(lines), (*unread, *unread_too))


def _items(text: str) -> tuple[list[Wish], list[str]]:
    wishes: list[Wish] = []
    unread: list[str] = []
    place = 0
    text = text.rstrip().removesuffix(".")
    while place < len(text):
        if found := _BETWEEN.match(text, place):
            place = found.end()
        elif found := _ITEM.match(text, place):
            line, packets, beside, bracketed = found.groups()
            instead = beside or bracketed
            wishes.append(Wish(int(line), int(packets or 1), None if instead is None else int(instead)))
            place = found.end()
        elif found := _WORD.match(text, place):
            unread.append(found[0])
            place = found.end()
    return wishes, unread


def written(wishes: Iterable[Wish]) -> str:
    """Return wishes as the text that is read as these wishes."""
    return " ".join(_wish_text(wish) for wish in wishes)


def _wish_text(wish: Wish) -> str:
    packets = f"x{wish.packets}" if wish.packets > 1 else ""
    instead = "" if wish.alternate is None else f"/{wish.alternate}"
    return f"{wish.line}{packets}{instead}"


def numbered(listed: Iterable[Listed]) -> dict[int, Listed]:
    """Return the lines of a list by their numbers, without those that have none yet."""
    return {one.number: one for one in listed if one.number is not None}


def check(asked: Asked, exchange: Exchange, lines: Mapping[int, Listed], asker: Asker) -> Checked:
    """Return an order as it would be kept by the rules of an exchange, and all that is wrong with it as asked.

    Too much is mended from the end: what comes first stays. What has no room among the first choices goes to the
    alternatives where the exchange has one list of them, before the others; else it is left out.
    """
    return _Checking(exchange, lines, asker).check(asked)


@dataclass
class _Checking:
    """One order on its way through the rules."""

    exchange: Exchange
    lines: Mapping[int, Listed]
    asker: Asker
    problems: list[Problem] = field(default_factory=list)

    @property
    def rules(self) -> Rules:
        return self.exchange.terms.rules

    @property
    def one_list(self) -> bool:
        """Whether there is one list of alternatives for the whole order."""
        return self.rules.alternatives in (Alternatives.LIST, Alternatives.RANKED)

    def check(self, asked: Asked) -> Checked:
        for word in asked.unread:
            shown = word if len(word) <= _SHOWN else f"{word[:_SHOWN]}…"
            self._say(Fault.UNREAD, f"“{shown}” cannot be read as a number, so it is left out.")
        wishes = self._once(asked.wishes)
        wishes, moved = self._alternates(wishes)
        others = self._others((*moved, *asked.alternatives), wishes)
        wishes = self._not_sold_out(wishes, others)
        wishes = self._within_line_cap(wishes)
        wishes, scarce = self._within_limited_cap(wishes)
        wishes, rest = self._within_cap(wishes)
        alternatives = tuple(dict.fromkeys((*rest, *scarce, *others)))
        return Checked(tuple(wishes), alternatives, tuple(self.problems))

    def _say(self, fault: Fault, sentence: str, severity: Severity = Severity.LEFT_OUT) -> None:
        self.problems.append(Problem(fault, severity, sentence))

    def _known(self, line: int) -> bool:
        if line in self.lines:
            return True
        last = max(self.lines, default=0)
        ends = f", which ends at {last}" if line > last > 0 else ""
        self._say(Fault.UNKNOWN, f"{line} is not on the list{ends}.")
        return False

    def _once(self, wishes: Iterable[Wish]) -> list[Wish]:
        """Return the wishes for lines of the list, each once."""
        kept: dict[int, Wish] = {}
        told: set[int] = set()
        for wish in wishes:
            if wish.line in kept:
                if wish.line not in told:
                    self._say(Fault.TWICE, f"{wish.line} is there more than once and counts once.", Severity.CHANGED)
                told.add(wish.line)
            elif wish.line not in told:
                if self._known(wish.line):
                    kept[wish.line] = wish
                else:
                    told.add(wish.line)
        return list(kept.values())

    def _alternates(self, wishes: list[Wish]) -> tuple[list[Wish], list[int]]:
        """Return the wishes with the alternates that count, and those that go to the one list."""
        given = [wish.alternate for wish in wishes if wish.alternate is not None]
        if not given:
            return wishes, []
        if self.rules.alternatives is Alternatives.PER_LINE:
            return [self._with_sound_alternate(wish) for wish in wishes], []
        bare = [replace(wish, alternate=None) for wish in wishes]
        if self.one_list:
            sentence = f"Alternatives count for the whole order here: {_named(given)} {_go(given)} to their list."
            self._say(Fault.NO_ALTERNATIVES, sentence, Severity.CHANGED)
            return bare, given
        self._say(
            Fault.NO_ALTERNATIVES,
            f"There are no alternatives here, so {_named(given)} {_is(len(set(given)))} left out.",
        )
        return bare, []

    def _with_sound_alternate(self, wish: Wish) -> Wish:
        if wish.alternate is None or (wish.alternate != wish.line and self._known(wish.alternate)):
            return wish
        if wish.alternate == wish.line:
            self._say(Fault.TWICE, f"{wish.line} is its own alternative, which counts for nothing.")
        return replace(wish, alternate=None)

    def _others(self, lines: Sequence[int], wishes: Sequence[Wish]) -> list[int]:
        """Return the alternatives for the whole order that count, each once."""
        if lines and not self.one_list:
            where = "stand beside a line here, as in 188/201" if self._per_line() else "do not count here"
            self._say(
                Fault.NO_ALTERNATIVES, f"Alternatives {where}, so {_named(lines)} {_is(len(set(lines)))} left out."
            )
            return []
        kept: dict[int, None] = {}
        told, wished = set[int](), {wish.line for wish in wishes}
        for line in lines:
            if line in told:
                continue
            if line in wished:
                told.add(line)
                self._say(Fault.TWICE, f"{line} is a first choice and an alternative; it counts as a first choice.")
            elif line in kept:
                told.add(line)
                self._say(Fault.TWICE, f"{line} is there more than once and counts once.", Severity.CHANGED)
            elif self._known(line):
                kept[line] = None
            else:
                told.add(line)
        return list(kept)

    def _per_line(self) -> bool:
        return self.rules.alternatives is Alternatives.PER_LINE

    def _not_sold_out(self, wishes: list[Wish], others: Sequence[int]) -> list[Wish]:
        """Return the wishes that can still be met, by themselves or by an alternative.

        Of a round nothing is gone before it is shared out, unless the keeper left no packet of a line.
        """
        standing = self.exchange.shape is Shape.STANDING
        gone = "sold out" if standing else "gone"
        kept = []
        for wish in wishes:
            line = self.lines[wish.line]
            if (line.left if standing else line.packets) > 0:
                kept.append(wish)
            elif wish.alternate is not None or others:
                kept.append(wish)
                instead = "an alternative" if wish.alternate is None else str(wish.alternate)
                self._say(Fault.SOLD_OUT, f"{wish.line} is {gone}; {instead} comes instead.", Severity.CHANGED)
            else:
                self._say(Fault.SOLD_OUT, f"{wish.line} is {gone}, so it is left out.")
        return kept

    def _within_line_cap(self, wishes: list[Wish]) -> list[Wish]:
        most = self.rules.line_cap
        if most is None:
            return wishes
        for wish in wishes:
            if wish.packets > most:
                sentence = (
                    f"{counted.packets(wish.packets)} of {wish.line} are asked for; of one number there can be {most}."
                )
                self._say(Fault.OVER_LINE, sentence, Severity.CHANGED)
        return [replace(wish, packets=min(wish.packets, most)) for wish in wishes]

    def _within_limited_cap(self, wishes: list[Wish]) -> tuple[list[Wish], list[int]]:
        most = self.rules.limited_cap
        scarce = [wish for wish in wishes if self.lines[wish.line].limited]
        asked = sum(wish.packets for wish in scarce)
        if most is None or asked <= most:
            return wishes, []
        within, rest = _cut(scarce, most)
        said = f"{counted.packets(asked)} with limited stock {_is(asked)} asked for, and there can be {most}"
        self._say(Fault.OVER_LIMITED, f"{said}; {self._rest(_fewer(scarce, within), rest)}", self._weight(rest))
        kept = {wish.line: wish for wish in within}
        whole = [kept.get(wish.line, wish) for wish in wishes if wish not in scarce or wish.line in kept]
        return whole, rest if self.one_list else []

    def _within_cap(self, wishes: list[Wish]) -> tuple[list[Wish], list[int]]:
        allowance = self.rules.allowance(Order(0, 0, (), donor=self.asker.donor, helper=self.asker.helper))
        asked = sum(wish.packets for wish in wishes)
        if not asked or allowance is None or asked + self.asker.had <= allowance:
            return wishes, []
        within, rest = _cut(wishes, max(allowance - self.asker.had, 0))
        had = f" and {self.asker.had} came before" if self.asker.had else ""
        yearly = " in a year" if self.exchange.shape is Shape.STANDING else ""
        said = f"{counted.packets(asked)} {_is(asked)} asked for{had}, and there can be {allowance}{yearly}"
        self._say(Fault.OVER_CAP, f"{said}; {self._rest(_fewer(wishes, within), rest)}", self._weight(rest))
        return within, rest if self.one_list else []

    def _weight(self, rest: Sequence[int]) -> Severity:
        return Severity.LEFT_OUT if rest and not self.one_list else Severity.CHANGED

    def _rest(self, fewer: Sequence[int], rest: Sequence[int]) -> str:
        said = [f"fewer packets are kept of {_named(fewer)}"] if fewer else []
        if rest and self.one_list:
            said.append(f"{_named(rest)} {_go(rest)} to the alternatives")
        elif rest:
            said.append(f"{_named(rest)} {_is(len(rest))} left out")
        return ", and ".join(said) + "."


def _cut(wishes: Sequence[Wish], most: int) -> tuple[list[Wish], list[int]]:
    """Return the first wishes with so many packets at most, and the lines of which nothing is left."""
    kept, rest, room = [], [], most
    for wish in wishes:
        share = min(wish.packets, room)
        room -= share
        if share:
            kept.append(replace(wish, packets=share))
        else:
            rest.append(wish.line)
    return kept, rest


def _fewer(wishes: Sequence[Wish], within: Sequence[Wish]) -> list[int]:
    """Return the lines of which something is kept, but not all packets; what is kept comes first among the wishes."""
    return [wish.line for wish, kept in zip(wishes, within, strict=False) if kept.packets < wish.packets]


def reply(name: str, exchange: Exchange, checked: Checked, today: date) -> str:
    """Return a polite answer to who asked: what is noted, a sentence for each problem, and by when to write again.

    The last day for wishes is left out once it is past.
    """
    noted = counted.packets(checked.packets) if checked.packets else "no packet yet"
    if checked.alternatives:
        count = len(checked.alternatives)
        noted += " and 1 alternative" if count == 1 else f" and {count} alternatives"
    greeting = f"Dear {name.strip()}," if name.strip() else "Good day,"
    until = "" if exchange.closes is None or exchange.closes < today else f" by {day_label(exchange.closes)}"
    told = " ".join(problem.sentence for problem in checked.problems)
    paragraphs = [greeting, f"Thank you for your order for {exchange.name}. Noted: {noted}."]
    if told:
        paragraphs += [told, f"If you would like it otherwise, please write again{until}."]
    return "\n".join(paragraphs)


def _named(lines: Sequence[int]) -> str:
    """Return numbers as they are listed in a sentence: `5, 6 and 7`."""
    *most, last = [str(line) for line in dict.fromkeys(lines)]
    return f"{', '.join(most)} and {last}" if most else last


def _is(count: int) -> str:
    return "is" if count == 1 else "are"


def _go(lines: Sequence[int]) -> str:
    return "goes" if len(set(lines)) == 1 else "go"
