"""Small deeds on places: add, rename, set conditions, move."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from PySide6.QtWidgets import QLineEdit, QWidget

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core.errors import Refusal
from sporebank.core.records import Place, PlaceKind
from sporebank.jobs import places
from sporebank.window.context import Context
from sporebank.window.dialogs.form_dialog import FormDialog
from sporebank.window.place_tree import Listed, cold_caution
from sporebank.window.widgets.choice import Choice, Count
from sporebank.window.widgets.day import DayEdit
from sporebank.window.widgets.editors import NumberEdit
from sporebank.window.widgets.simple import label

TOP: tuple[str, int | None] = ("at the top", None)
SIZES = ((9, 9), (10, 10), (5, 5))
AS_PARENT = "Left empty, it is that of the place it is in."


class _Conditions(FormDialog):
    """What the forms with a temperature share: what the forecast makes of the cold is said as one types."""

    def add_conditions(self) -> None:
        """Add the two fields and the caution below the form."""
        self.temperature = NumberEdit("°C", "such as 4")
        self.humidity = NumberEdit("% RH", "such as 15")
        self.form.add("temperature", "&Temperature, °C", self.temperature, AS_PARENT)
        self.form.add("humidity", "&Humidity, % RH", self.humidity, AS_PARENT)
        self.caution = label(role="warn", wrap=True)
        self.caution.hide()
        self.column.insertWidget(self.column.indexOf(self.message), self.caution)
        self.temperature.edited.connect(self.look_at_cold)

    def look_at_cold(self) -> None:
        """Say what the forecast makes of the temperature written."""
        try:
            said = cold_caution(self.temperature.value())
        except Refusal:
            said = ""
        self.caution.setText(said)
        self.caution.setVisible(bool(said))


class AddPlaceDialog(_Conditions):
    """A new room, fridge, freezer, shelf or box.

    Args:
        context: the open bank.
        parent: the window.
        parent_id: the place it is likely in.
        then: called with the id of the place when it is made.
    """

    def __init__(
        self,
        context: Context,
        parent: QWidget | None = None,
        *,
        parent_id: int | None = None,
        then: Callable[[int], object] | None = None,
    ) -> None:
        super().__init__(context, parent, "Add a place", "Add", columns=2, width=560)
        self._then, self._wanted = then, parent_id
        self._listed: list[Listed] = []
        self._typed = False
        self.kind: Choice[PlaceKind] = Choice([(kind.value.capitalize(), kind) for kind in PlaceKind])
        self.name = QLineEdit()
        self.inside: Choice[int | None] = Choice([TOP])
        self.usual: Choice[tuple[int, int] | None] = Choice(
            [*((f"{rows} × {columns}", (rows, columns)) for rows, columns in SIZES), ("other", None)]
        )
        self.rows, self.columns = Count(1, 100, 9), Count(1, 100, 9)
        self.form.add("kind", "&Kind", self.kind)
        self.form.add("parent_id", "&In", self.inside)
        self.form.add("name", "&Name", self.name, span=2)
        self.form.add("size", "Usual si&ze", self.usual, span=2)
        self.form.add("rows", "&Rows", self.rows, "Lettered from A.")
        self.form.add("columns", "&Columns", self.columns, "Numbered from 1.")
        self.add_conditions()
        self.kind.edited.connect(self._propose)
        self.inside.edited.connect(self._propose)
        self.usual.edited.connect(self._take_size)
        self.name.textEdited.connect(self._note_typed)
        for count in (self.rows, self.columns):
            count.valueChanged.connect(lambda _: self.usual.set_value(self._as_usual()))
        context.read(queries.places, self._offer)
        self.name.setFocus()

    def _offer(self, listed: list[Listed]) -> None:
        self._listed = listed
        by_id = {place.id: place for place, _, _ in listed}
        self.inside.offer([TOP, *_parents(listed, set())])
        wanted = by_id.get(self._wanted or 0)
        if wanted is not None and wanted.kind is PlaceKind.BOX:
            wanted = by_id.get(wanted.parent_id or 0)
        self.inside.set_value(None if wanted is None else wanted.id)
        self.kind.set_value(_likely_kind(wanted))
        self._propose()

    def _propose(self) -> None:
        """Show what a box asks for, and propose the next name of its kind."""
        boxed = self.kind.value() is PlaceKind.BOX
        for field in ("size", "rows", "columns"):
            self.form.fields[field].setVisible(boxed)
        if not self._typed:
            self.name.setText(next_name(self._listed, self.inside.value(), self.kind.value()))
            self.name.selectAll()

    def _note_typed(self, text: str) -> None:
        self._typed = bool(text)

    def _take_size(self) -> None:
        size = self.usual.value()
        if size is not None:
            self.rows.setValue(size[0])
            self.columns.setValue(size[1])

    def _as_usual(self) -> tuple[int, int] | None:
        size = (self.rows.value(), self.columns.value())
        return size if size in SIZES else None

    def submit(self) -> None:
        """Make the place."""
        boxed = self.kind.value() is PlaceKind.BOX
        form = places.PlaceForm(
            kind=self.kind.value(),
            name=self.name.text().strip(),
            parent_id=self.inside.value(),
            temperature=self.temperature.value("temperature"),
            humidity=self.humidity.value("humidity"),
            rows=self.rows.value() if boxed else 0,
            columns=self.columns.value() if boxed else 0,
        )

        def made(place_id: int) -> str:
            if self._then is not None:
                self._then(place_id)
            return f"{form.name} is added."

        self.do(lambda bank: places.add_place(bank, form), made)


def _likely_kind(parent: Place | None) -> PlaceKind:
    if parent is None:
        return PlaceKind.ROOM
    return PlaceKind.FRIDGE if parent.kind is PlaceKind.ROOM else PlaceKind.BOX


def next_name(listed: list[Listed], parent_id: int | None, kind: PlaceKind) -> str:
    """Return the next free name of a kind in a place: `Box 3`."""
    taken = {place.name.casefold() for place, _, _ in listed if place.parent_id == parent_id}
    number = 1
    while f"{kind.value} {number}" in taken:
        number += 1
    return f"{kind.value.capitalize()} {number}"


def _parents(listed: list[Listed], without: set[int]) -> list[tuple[str, int | None]]:
    return [
        (path, place.id) for place, path, _ in listed if place.kind is not PlaceKind.BOX and place.id not in without
    ]


class RenameDialog(FormDialog):
    """Another name for a place."""

    def __init__(self, context: Context, parent: QWidget | None = None, *, place_id: int) -> None:
        super().__init__(context, parent, "Rename", "Rename")
        self._id = place_id
        self.name = QLineEdit()
        self.form.add("name", "&Name", self.name, "Labels printed before still carry its code, which stays.")
        context.read(lambda bank: queries.place(bank, place_id), self._show)

    def _show(self, found: tuple[Place, str]) -> None:
        self.say_about(found[1])
        self.name.setText(found[0].name)
        self.name.selectAll()

    def submit(self) -> None:
        """Rename the place."""
        name = self.name.text().strip()
        self.do(partial(places.rename, place_id=self._id, name=name), f"It is now called {name}.")


class ConditionsDialog(_Conditions):
    """What is met in a place from a day on."""

    def __init__(self, context: Context, parent: QWidget | None = None, *, place_id: int) -> None:
        super().__init__(context, parent, "Conditions", "Set", columns=2, width=520)
        self._id = place_id
        self.add_conditions()
        self.on = DayEdit(context.today())
        self.form.add(
            "since", "&From which day", self.on,
            "Vials inside begin a new stay that day, so the forecast follows.", span=2,
        )  # fmt: skip
        context.read(lambda bank: queries.place(bank, place_id), self._show)

    def _show(self, found: tuple[Place, str]) -> None:
        self.say_about(found[1])
        self.temperature.set_value(found[0].temperature)
        self.humidity.set_value(found[0].humidity)
        self.look_at_cold()
        self.temperature.setFocus()

    def submit(self) -> None:
        """Set the conditions."""
        job = partial(
            places.set_conditions,
            place_id=self._id,
            temperature=self.temperature.value("temperature"),
            humidity=self.humidity.value("humidity"),
            since=self.on.day("since"),
        )
        self.do(job, "The conditions are set; the forecast follows.")


class MovePlaceDialog(FormDialog):
    """Put a box, or any place with all in it, into another."""

    def __init__(self, context: Context, parent: QWidget | None = None, *, place_id: int) -> None:
        super().__init__(context, parent, "Move a place", "Move", width=480)
        self._id = place_id
        self.inside: Choice[int | None] = Choice([TOP])
        self.on = DayEdit(context.today())
        self.form.add("parent_id", "&To", self.inside, "Its vials begin a new stay there, so the forecast follows.")
        self.form.add("on", "&Day", self.on)
        context.read(self._read, self._offer)

    def _read(self, bank: Bank) -> tuple[list[Listed], set[int]]:
        return queries.places(bank), set(queries.subtree(bank, self._id))

    def _offer(self, found: tuple[list[Listed], set[int]]) -> None:
        listed, own = found
        place, path = next((place, path) for place, path, _ in listed if place.id == self._id)
        self.say_about(f"{path}, with everything in it")
        self.inside.offer([TOP, *_parents(listed, own)])
        self.inside.set_value(place.parent_id)
        self.inside.setFocus()

    def submit(self) -> None:
        """Move the place."""
        job = partial(places.move_place, place_id=self._id, parent_id=self.inside.value(), on=self.on.day())
        self.do(job, "Moved, with everything in it.")
