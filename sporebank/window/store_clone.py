"""The part of the Store page about the plant: a clone the bank has, or a new one made in place."""

from __future__ import annotations

from collections.abc import Sequence

from sporebank.core.records import Clone, Permission, Source
from sporebank.jobs.store import NewClone
from sporebank.window.clone_fields import CloneFields
from sporebank.window.gather import Gather
from sporebank.window.state import WindowState
from sporebank.window.widgets.choice import Choice
from sporebank.window.widgets.field import Form
from sporebank.window.widgets.section import Section


class ClonePart(Section):
    """Which source plant; only the code of a new one is demanded."""

    def __init__(self, state: WindowState) -> None:
        super().__init__("Clone")
        self._state = state
        self._code_by_hand = self._chosen_by_hand = False
        self.which: Choice[int | None] = Choice([("New clone…", None)])
        self.fields = CloneFields()
        choose, self.new = Form(), Form(columns=2)
        choose.add("clone", "&Clone", self.which, "The plant the spore came from.")
        self.fields.add_to(self.new, "Your own; all else may stay empty.", number_span=2)
        self.add(choose, self.new)
        self.forms: tuple[Form, ...] = (choose, self.new)
        self.which.edited.connect(self._choose)
        self.fields.code.textEdited.connect(lambda text: self._write_code(bool(text)))
        self.start_over()

    def _choose(self) -> None:
        self._chosen_by_hand = True
        self._unfold()

    def _write_code(self, written: bool) -> None:
        self._code_by_hand = written

    @property
    def written(self) -> bool:
        """Whether the keeper wrote anything of a new clone."""
        return self._code_by_hand or self.fields.written

    def start_over(self) -> None:
        """Empty the part; kind of source and permission stay as used last."""
        self._code_by_hand = self._chosen_by_hand = False
        self.fields.clear()
        self.fields.source.set_value(self._state.get("store/source", Source.GARDEN))
        self.fields.permission.set_value(self._state.get("store/permission", Permission.UNKNOWN))
        self.show_clones(())

    def offer(self, codes: Sequence[str], people: Sequence[str], proposed: str) -> None:
        """Offer words to complete from, and a code until the keeper writes one."""
        self.fields.offer(codes, people)
        if not self._code_by_hand:
            self.fields.code.setText(proposed)

    def show_clones(self, clones: Sequence[Clone], wanted: int | None = None) -> None:
        """Offer the clones of the taxon; the newest is chosen until the keeper chooses."""
        before = self.which.value()
        ids = [clone.id for clone in clones]
        self.which.offer([*((_words(clone), clone.id) for clone in clones), ("New clone…", None)])
        if wanted in ids:
            self.which.set_value(wanted)
        elif self._chosen_by_hand and (before in ids or before is None):
            self.which.set_value(before)
        else:
            self._chosen_by_hand = False
            self.which.set_value(max(ids, default=None))
        self._unfold()

    def _unfold(self) -> None:
        self.new.setVisible(self.which.value() is None)

    def value(self, gather: Gather) -> int | NewClone:
        """Return the clone chosen, or the new one."""
        chosen = self.which.value()
        if chosen is not None:
            return chosen
        return self.fields.value(gather.of("acquired", self.fields.acquired.value, None))

    def remember(self) -> None:
        """Remember what is likely the same next time."""
        if self.which.value() is None:
            self._state.put("store/source", self.fields.source.value().value)
            self._state.put("store/permission", self.fields.permission.value().value)


def _words(clone: Clone) -> str:
    where = clone.origin or clone.acquired_from
    return f"{clone.code} · {where}" if where else clone.code
