"""Reading a long form: every refusal is kept for its field, so that all of them can be shown at once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import TypeVar

from sporebank.core.errors import Refusal
from sporebank.window.widgets.editors import NumberEdit
from sporebank.window.widgets.field import Form
from sporebank.window.widgets.section import bring_into_sight

T = TypeVar("T")
Problem = tuple[str, str]


class Gather:
    """Reads editors one by one; `problems` holds what was refused as `(field, sentence)`."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []

    def of(self, field: str, read: Callable[[], T], otherwise: T) -> T:
        """Return what is read, or `otherwise` when it is refused."""
        try:
            return read()
        except Refusal as refusal:
            self.problems.append((refusal.field or field, str(refusal)))
            return otherwise

    def demanded(self, field: str, read: Callable[[], T | None], otherwise: T, sentence: str) -> T:
        """Return what is read; nothing at all is refused with a sentence."""
        before = len(self.problems)
        value = self.of(field, read, None)
        if value is None and len(self.problems) == before:
            self.problems.append((field, sentence))
        return otherwise if value is None else value


def whole(editor: NumberEdit) -> int | None:
    """Return the whole number written, or None when nothing is.

    Raises:
        Refusal: it is no whole number.
    """
    value = editor.value()
    if value is None:
        return None
    if value != int(value):
        raise Refusal("This must be a whole number.")
    return int(value)


def show_problems(forms: Iterable[Form], problems: Sequence[Problem]) -> list[Problem]:
    """Show each problem beside its field, the keyboard going to the topmost; return those that have none."""
    beside = {field: form for form in reversed(list(forms)) for field in reversed(form.fields)}
    order = list(beside)
    for field, sentence in sorted((one for one in problems if one[0] in beside), key=lambda one: order.index(one[0])):
        beside[field].refuse(Refusal(sentence, field=field))
        bring_into_sight(beside[field].fields[field])
    return [one for one in problems if one[0] not in beside]
