"""A round or a standing list: its dates and its rules; how a taxon is given; a line of the list."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from math import isclose

from PySide6.QtWidgets import QCheckBox, QHBoxLayout, QLineEdit, QPlainTextEdit, QWidget

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import amounts, names
from sporebank.core.counted import counted
from sporebank.core.errors import Refusal
from sporebank.core.exchange import Exchange, Listed, Shape, Stage, Terms
from sporebank.core.orders import Alternatives, Method, Rules, Standing
from sporebank.core.settings import Settings
from sporebank.core.surplus import Surplus, Way
from sporebank.jobs import exchange
from sporebank.window.context import Context
from sporebank.window.dialogs.form_dialog import FormDialog
from sporebank.window.widgets.choice import Choice, Count
from sporebank.window.widgets.day import DayEdit
from sporebank.window.widgets.editors import AmountEdit, NumberEdit
from sporebank.window.widgets.simple import label

NOBODY: tuple[str, Standing | None] = ("nobody", None)
_METHODS = (("Fair shares", Method.FAIR), ("Turns", Method.TURNS))
_SHAPES = (("Round, with a last day", Shape.ROUND), ("Standing list, open all year", Shape.STANDING))
_USUAL_DAYS, _USUAL_SHIPS = 75, 90  # from the opening; our own choice


class ExchangeDialog(FormDialog):
    """The dates and the terms of an exchange, a new one where none is given.

    Args:
        context: the open bank.
        parent: the window.
        one: the exchange that is changed.
        then: called with its id when it is kept.
    """

    def __init__(
        self,
        context: Context,
        parent: QWidget | None = None,
        *,
        one: Exchange | None = None,
        then: Callable[[int], object] | None = None,
    ) -> None:
        deed = "Keep it" if one else "Begin it"
        super().__init__(context, parent, one.name if one else "Begin an exchange", deed, columns=4, width=840)
        self._one, self._then = one, then
        self.name, self.currency, self.note = QLineEdit(), QLineEdit(), QPlainTextEdit()
        self.shape: Choice[Shape] = Choice(_SHAPES)
        self.opens, self.closes, self.ships = DayEdit(), DayEdit(), DayEdit()
        self.method: Choice[Method] = Choice(_METHODS)
        self.alternatives: Choice[Alternatives] = Choice([(one.value.capitalize(), one) for one in Alternatives])
        self.classes: list[Choice[Standing | None]] = [
            Choice([NOBODY, *((standing.value, standing) for standing in Standing)]) for _ in Standing
        ]
        self.cap, self.limited_cap, self.line_cap = NumberEdit(), NumberEdit(), NumberEdit()
        self.extra, self.limited_below, self.wait_days = Count(0, 1000, 0), Count(0, 1000, 0), Count(0, 365, 0)
        self.packet_cents, self.postage_cents, self.postage_abroad_cents = NumberEdit(), NumberEdit(), NumberEdit()
        self._build()
        self.shape.edited.connect(self._follow_shape)
        self._fill(one or self._usual())
        self._follow_shape()
        self.name.setFocus()

    def _build(self) -> None:
        self.note.setTabChangesFocus(True)
        self.note.setFixedHeight(self.note.fontMetrics().lineSpacing() * 2 + 16)
        add = self.form.add
        add("name", "&Name", self.name, span=2)
        add("shape", "&Shape", self.shape, span=2)
        add("opens", "&Opens", self.opens)
        add("closes", "&Last day for wishes", self.closes)
        add("ships", "Parcels &go about", self.ships, "Spore must be alive enough on this day.")
        add("wait_days", "&Wait for far post, days", self.wait_days)
        add("method", "Shared out b&y", self.method, "Fair shares: as even as can be. Turns: picking one by one.")
        add("alternatives", "Alterna&tives", self.alternatives)
        add("limited_below", "Limited below, pac&kets", self.limited_below, "Such lines are marked as scarce.")
        add("limited_cap", "Most of limited lines", self.limited_cap, "Empty: no limit.")
        add("cap", "Most a &person", self.cap, "Packets. Empty: no limit.")
        add("extra", "More for donors and &helpers", self.extra)
        add("line_cap", "Most of one l&ine", self.line_cap, "Empty: no limit.")
        add("currency", "Money, such as EUR", self.currency)
        add("classes", "Served one after the other", self._row(), span=4)
        add("packet_cents", "&A packet costs", self.packet_cents)
        add("postage_cents", "Postage", self.postage_cents)
        add("postage_abroad_cents", "Postage abroad", self.postage_abroad_cents)
        add("note", "Note, printed on the list", self.note, span=4)

    def _row(self) -> QWidget:
        row = QWidget()
        side = QHBoxLayout(row)
        side.setContentsMargins(0, 0, 0, 0)
        for place, choice in enumerate(self.classes, start=1):
            choice.setAccessibleName(f"Served in place {place}")
            side.addWidget(choice, 1)
        row.setFocusProxy(self.classes[0])
        return row

    def _usual(self) -> Exchange:
        today = self.context.today()
        days = (today, today + timedelta(days=_USUAL_DAYS), today + timedelta(days=_USUAL_SHIPS))
        return Exchange(0, "", Shape.ROUND, Stage.GATHERING, *days, Terms(Rules(alternatives=Alternatives.LIST)))

    def _fill(self, one: Exchange) -> None:
        rules, terms = one.terms.rules, one.terms
        self.name.setText(one.name)
        self.currency.setText(terms.currency)
        self.note.setPlainText(one.note)
        self.shape.set_value(one.shape)
        self.method.set_value(rules.method)
        self.alternatives.set_value(rules.alternatives)
        for edit, day in ((self.opens, one.opens), (self.closes, one.closes), (self.ships, one.ships)):
            edit.set_value(day)
        for number in ("cap", "limited_cap", "line_cap"):
            getattr(self, number).set_value(getattr(rules, number))
        for count, value in (
            (self.extra, rules.extra), (self.wait_days, rules.wait_days), (self.limited_below, terms.limited_below),
        ):  # fmt: skip
            count.setValue(value)
        for money in ("packet_cents", "postage_cents", "postage_abroad_cents"):
            cents = getattr(terms, money)
            getattr(self, money).set_value(cents / 100 if cents else None)
        for choice, standing in zip(self.classes, rules.classes, strict=False):
            choice.set_value(standing)

    def _follow_shape(self) -> None:
        """Ask for a last day and for classes where there is a round, for neither where there is none."""
        is_round = self.shape.value() is Shape.ROUND
        for field in ("closes", "ships", "classes", "wait_days", "method"):
            self.form.fields[field].setVisible(is_round)
        self.form.fields["cap"].set_hint(f"Packets{'' if is_round else ' a year'}. Empty: no limit.")

    def submit(self) -> None:
        """Begin or keep the exchange."""
        written = self._written()
        if written.id:
            self.do(lambda bank: exchange.change(bank, written), self._kept)
        else:
            self.do(lambda bank: exchange.begin(bank, written), self._begun)

    def _written(self) -> Exchange:
        is_round = self.shape.value() is Shape.ROUND
        base = self._one or self._usual()
        rules = Rules(
            classes=tuple(one for choice in self.classes if (one := choice.value())) if is_round else (),
            alternatives=self.alternatives.value(),
            cap=_whole(self.cap, "cap"),
            extra=self.extra.value(),
            limited_cap=_whole(self.limited_cap, "limited_cap"),
            line_cap=_whole(self.line_cap, "line_cap"),
            wait_days=self.wait_days.value() if is_round else 0,
            method=self.method.value(),
        )
        terms = Terms(
            rules,
            self.limited_below.value(),
            self.currency.text().strip(),
            *(cents(getattr(self, one), one) for one in ("packet_cents", "postage_cents", "postage_abroad_cents")),
        )
        return replace(
            base,
            name=self.name.text(),
            shape=self.shape.value(),
            opens=self.opens.day("opens"),
            closes=self.closes.day("closes") if is_round else None,
            ships=self.ships.day("ships") if is_round else base.ships,
            terms=terms,
            note=self.note.toPlainText(),
        )

    def _begun(self, exchange_id: int) -> str:
        if self._then is not None:
            self._then(exchange_id)
        return f"{self.name.text().strip()} has begun. Put on its list what may go."

    def _kept(self, _: None) -> str:
        if self._then is not None and self._one is not None:
            self._then(self._one.id)
        return f"{self.name.text().strip()} is changed."


def _whole(edit: NumberEdit, field: str) -> int | None:
    """Return the whole number written, None where nothing is."""
    value = edit.value(field)
    if value is not None and not value.is_integer():
        raise Refusal("Give a whole number of packets, or leave it empty.", field=field)
    return None if value is None else int(value)


def cents(edit: NumberEdit, field: str) -> int:
    """Return money in hundredths."""
    value = edit.value(field) or 0.0
    if not isclose(value * 100, round(value * 100), abs_tol=1e-6):
        raise Refusal("Give money with two digits after the point at most.", field=field)
    return round(value * 100)


class WayDialog(FormDialog):
    """How a taxon or some clones are given: own need, the size of a packet, and how young the spore must be.

    Args:
        context: the open bank.
        parent: the window.
        found: what may go of the clones it is about, of one taxon where there are several.
    """

    def __init__(self, context: Context, parent: QWidget | None = None, *, found: tuple[Surplus, ...]) -> None:
        super().__init__(context, parent, "How it is given", "Keep it", columns=3, width=620)
        self._found, self._settings = found, Settings()
        first = found[0].stock
        alone = f"clone {first.clone}" if len(found) == 1 else f"these {len(found)} clones"
        whose: list[tuple[str, bool]] = [(f"For {alone}", False)]
        if len({one.stock.taxon_id for one in found}) == 1:
            whose.append((f"For every clone of {names.text(first.name)}", True))
        self.whose: Choice[bool] = Choice(whose)
        self.own, self.packet, self.young = AmountEdit(), AmountEdit(), NumberEdit("days", "any age")
        self.volume = NumberEdit("mm³", "such as 5")
        self.told = label(role="mute", wrap=True)
        self.form.add("whose", "&Whose", self.whose, span=3)
        self.form.add("own_ug", "&Own use, mg", self.own, "For your own sowing; of a taxon it is kept back once.")
        self.form.add("packet_ug", "A &packet holds, mg", self.packet, "Empty: as in the settings.")
        self.form.add("volume", "or in &cubic millimetres", self.volume, "Reckoned as loosely packed spore.")
        self.form.add("young_days", "No older &than, days", self.young, "Empty: green spore 48 days, other any age.")
        self.column.insertWidget(2, self.told)
        self.whose.edited.connect(self._read)
        self.packet.edited.connect(self._tell)
        self.volume.edited.connect(self._take_volume)
        self._read()

    def _read(self) -> None:
        first = self._found[0].stock
        taxon = self.whose.value()

        def found(bank: Bank) -> tuple[Way, Settings]:
            whose = {"taxon_id": first.taxon_id} if taxon else {"clone_id": first.clone_id}
            return queries.way(bank, **whose), bank.settings

        self.context.read(found, lambda got: self._show(*got))

    def _show(self, way: Way, settings: Settings) -> None:
        self._settings, self._held = settings, way.held
        self.own.set_value(way.own_ug)
        self.packet.set_value(way.packet_ug)
        self.young.set_value(way.young_days)
        self._tell()

    def _take_volume(self) -> None:
        """Write the milligrams that a volume of spore weighs; what is no volume changes nothing."""
        try:
            volume = self.volume.value()
            if volume is not None:
                self.packet.set_value(amounts.from_microlitres(volume))
        except Refusal:
            return
        self._tell()

    def _tell(self) -> None:
        """Say what a packet of this size sows, and how many there are of it."""
        try:
            size = self.packet.value() or self._settings.packet_ug
        except Refusal:
            self.told.setText("")
            return
        self.told.setText(what_a_packet_is(self._found, size, self._settings))

    def submit(self) -> None:
        """Keep it."""
        young = self.young.value("young_days")
        way = Way(
            self.own.value("own_ug"), self.packet.value("packet_ug"), None if young is None else int(young), self._held
        )
        ids = [one.stock.clone_id for one in self._found]
        if self.whose.value():
            taxon_id = self._found[0].stock.taxon_id
            self.do(lambda bank: exchange.set_way(bank, way, taxon_id=taxon_id), "It is given that way from now on.")
        else:
            self.do(lambda bank: exchange.set_way(bank, way, clone_ids=ids), "It is given that way from now on.")


def what_a_packet_is(found: tuple[Surplus, ...], size: int, settings: Settings) -> str:
    """Return how many pots a packet of a size sows and how many packets it gives, in a sentence."""
    shares = [vial.share.middle for one in found for vial in one.stock.vials if vial.share is not None]
    alive = sum(shares) / len(shares) if shares else 0.0
    pots = amounts.pots_worth(
        size,
        alive,
        spores_per_mg=amounts.spores_per_mg(settings.spore_ng),
        live_per_cm2=settings.live_per_cm2,
        pot_cm2=settings.pot_cm2,
    )
    sows = "is too little for a pot" if not pots else f"sows {'1 pot' if pots == 1 else f'{pots:,} pots'}"
    count = sum(one.spare_ug // size for one in found)
    gives = "no packet" if not count else counted(count, "packet")
    return f"A packet of {amounts.show(size)} {sows} at its viability then; what may go gives {gives} at most."


class LineDialog(FormDialog):
    """A line of the list: its packets, their size, whether it is scarce, and a note.

    Args:
        context: the open bank.
        parent: the window.
        exchange_id: the exchange.
        line: the line.
    """

    def __init__(self, context: Context, parent: QWidget | None = None, *, exchange_id: int, line: Listed) -> None:
        title = names.text(line.taxon.name) if line.number is None else f"{line.number} {names.text(line.taxon.name)}"
        super().__init__(context, parent, title, "Keep it", columns=2, width=520)
        self._exchange_id, self._line = exchange_id, line
        self.packets = Count(0, 100_000, line.packets)
        self.packet = AmountEdit()
        self.packet.set_value(line.packet_ug)
        self.limited = QCheckBox("Limited stock")
        self.limited.setChecked(line.limited)
        self.note = QLineEdit(line.note)
        self.form.add("packets", "&Packets", self.packets)
        self.form.add("packet_ug", "A packet &holds, mg", self.packet)
        self.form.add("limited", "&Mark", self.limited)
        self.form.add("note", "&Note on the list", self.note, span=2)
        if line.left < line.packets:
            self.say_about(f"{line.packets - line.left:,} of it are allotted already.")

    def submit(self) -> None:
        """Keep the line."""
        form = exchange.LineForm(
            self.packets.value(), self.packet.value("packet_ug") or 0, self.limited.isChecked(), self.note.text()
        )
        exchange_id, offering_id = self._exchange_id, self._line.id
        self.do(lambda bank: exchange.change_line(bank, exchange_id, offering_id, form), "The line is changed.")
