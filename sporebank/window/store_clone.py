"""The part of the Store page about the plant: a clone the bank has, or a new one made in place."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtWidgets import QLineEdit

from sporebank.core.records import Clone, Permission, Source
from sporebank.jobs.store import NewClone
from sporebank.window.gather import Gather
from sporebank.window.state import WindowState
from sporebank.window.widgets.choice import Choice, WordEdit
from sporebank.window.widgets.editors import PartDateEdit
from sporebank.window.widgets.field import Form
from sporebank.window.widgets.section import Section


class ClonePart(Section):
    """Which source plant; only the code of a new one is demanded."""

    def __init__(self, state: WindowState) -> None:
        super().__init__("Clone")
        self._state = state
        self._code_by_hand = self._chosen_by_hand = False
        self.which: Choice[int | None] = Choice([("New clone…", None)])
        self.code, self.origin = QLineEdit(), QLineEdit()
        self.source: Choice[Source] = Choice([(one.value.capitalize(), one) for one in Source])
        self.acquired = PartDateEdit()
        self.acquired_from, self.parent_code = WordEdit(), WordEdit()
        self.permission: Choice[Permission] = Choice([(one.value.capitalize(), one) for one in Permission])
        self.permit, self.number = QLineEdit(), QLineEdit()
        self.number.setPlaceholderText("such as XX-0-ABC-1998/417")
        choose, self.new = Form(), Form(columns=2)
        choose.add("clone", "&Clone", self.which, "The plant the spore came from.")
        self._add_new()
        self.add(choose, self.new)
        self.forms: tuple[Form, ...] = (choose, self.new)
        self.which.edited.connect(self._choose)
        self.code.textEdited.connect(lambda text: self._write_code(bool(text)))
        self.start_over()

    def _add_new(self) -> None:
        add = self.new.add
        add("clone_code", "C&ode", self.code, "Your own; all else may stay empty.")
        add("source", "Kind of &source", self.source)
        add("origin", "&Where from", self.origin)
        add("acquired", "Wh&en it came", self.acquired)
        add("acquired_from", "&By whom", self.acquired_from)
        add("permission", "Ma&y be shared", self.permission)
        add("permit_note", "Pe&rmit", self.permit)
        add("parent", "Raised &from clone", self.parent_code)
        add(
            "network_number", "&Garden's network number", self.number, "Kept to the letter, also for offspring.", span=2
        )

    def _choose(self) -> None:
        self._chosen_by_hand = True
        self._unfold()

    def _write_code(self, written: bool) -> None:
        self._code_by_hand = written

    def start_over(self) -> None:
        """Empty the part; kind of source and permission stay as used last."""
        self._code_by_hand = self._chosen_by_hand = False
        for line in (self.code, self.origin, self.permit, self.number):
            line.clear()
        for words in (self.acquired_from, self.parent_code):
            words.show_text("")
        self.acquired.set_value(None)
        self.source.set_value(self._state.get("store/source", Source.GARDEN))
        self.permission.set_value(self._state.get("store/permission", Permission.UNKNOWN))
        self.show_clones(())

    def offer(self, codes: Sequence[str], people: Sequence[str], proposed: str) -> None:
        """Offer words to complete from, and a code until the keeper writes one."""
        self.parent_code.offer(codes)
        self.acquired_from.offer(people)
        if not self._code_by_hand:
            self.code.setText(proposed)

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
        return NewClone(
            code=self.code.text().strip(),
            source=self.source.value(),
            origin=self.origin.text().strip(),
            acquired=gather.of("acquired", self.acquired.value, None),
            acquired_from=self.acquired_from.text().strip(),
            permission=self.permission.value(),
            permit_note=self.permit.text().strip(),
            network_number=self.number.text().strip(),
            parent=self.parent_code.text().strip(),
        )

    def remember(self) -> None:
        """Remember what is likely the same next time."""
        if self.which.value() is None:
            self._state.put("store/source", self.source.value().value)
            self._state.put("store/permission", self.permission.value().value)


def _words(clone: Clone) -> str:
    where = clone.origin or clone.acquired_from
    return f"{clone.code} · {where}" if where else clone.code
