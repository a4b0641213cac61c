"""The part of the Store page about the name: as typed, as understood, as received, and how its spore keeps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QCheckBox, QLineEdit

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import names
from sporebank.core.errors import Refusal
from sporebank.core.records import Clone, SporeClass
from sporebank.formats.tables import load_cautions
from sporebank.jobs.store import NewName, look_up
from sporebank.window.dialogs.cards import CLASS_WORDS
from sporebank.window.widgets.choice import Choice, WordEdit
from sporebank.window.widgets.field import Form
from sporebank.window.widgets.section import Section
from sporebank.window.widgets.simple import label


@dataclass(frozen=True)
class Look:
    """What is known of a name as typed: how it was understood, what to mind, and its clones in the bank."""

    typed: str
    found: NewName
    verified: bool
    cautions: tuple[str, ...]
    clones: tuple[Clone, ...]


def look(bank: Bank, typed: str) -> Look:
    """Read a name and tell what the bank and the tables know of it; refuses what is no name."""
    found = look_up(bank, typed)
    known = None if found.taxon_id is None else queries.taxon(bank, found.taxon_id)
    cautions = load_cautions()
    mind = (cautions.invasive(found.name), cautions.protected(found.name))
    return Look(
        typed=typed,
        found=found,
        verified=known is not None and known.verified,
        cautions=(*filter(None, mind), *cautions.handling(found.name, found.family)),
        clones=tuple(queries.clones_of(bank, known.id)) if known else (),
    )


class WhatPart(Section):
    """The name as typed and as understood. Signals: `edited` when it changed by the keeper's hand.

    That a name is checked holds for that name alone, and how its spore keeps, once chosen by hand, for its genus.
    """

    edited = Signal()

    def __init__(self) -> None:
        super().__init__("What")
        self.taxon = WordEdit("such as Dryopteris affinis 'Cristata'")
        self.received_as, self.old_name = QLineEdit(), QLineEdit()
        self.verified = QCheckBox("Name c&hecked: I am sure that it is this")
        self.keeps: Choice[SporeClass] = Choice([(CLASS_WORDS[one].capitalize(), one) for one in SporeClass])
        self.understood = label(wrap=True)
        self.understood.setTextFormat(Qt.TextFormat.RichText)
        self.remarks = label(role="mute", wrap=True)
        self.cautions = label(role="warn", wrap=True)
        self.why = label(role="small", wrap=True)
        top, below = Form(), Form(columns=2)
        top.add("taxon", "&Taxon", self.taxon)
        below.add("received_as", "Received &as", self.received_as, "Kept with a new clone, beside the accepted name.")
        below.add("old_name", "Old na&me", self.old_name, "Where the bank should find it by one.")
        below.add("spore_class", "How its spore &keeps", self.keeps, span=2)
        self.add(top, self.understood, self.remarks, self.cautions, self.verified, below, self.why)
        self.forms: tuple[Form, ...] = (top, below)
        self._received_by_hand = self._class_by_hand = self._verified_by_hand = self._name_by_hand = False
        self._genus = ""
        self.taxon.edited.connect(self._new_name)
        self.verified.clicked.connect(self._verify)
        self.received_as.textEdited.connect(lambda text: self._by_hand(bool(text)))
        self.keeps.edited.connect(self._choose_class)
        self.show_nothing()

    def _by_hand(self, received: bool) -> None:
        self._received_by_hand = received

    def _new_name(self) -> None:
        """Drop the word that the name is checked: it was about another name."""
        self._verified_by_hand = False
        self._name_by_hand = bool(self.taxon.text().strip())
        self.edited.emit()

    def _verify(self) -> None:
        self._verified_by_hand = True

    def _choose_class(self) -> None:
        self._class_by_hand = True

    @property
    def written(self) -> bool:
        """Whether the keeper wrote a name here; one that a clone brought along is not written."""
        return self._name_by_hand or self._received_by_hand or bool(self.old_name.text().strip())

    def start_over(self) -> None:
        """Empty the part."""
        self._received_by_hand = self._class_by_hand = self._verified_by_hand = self._name_by_hand = False
        for line in (self.received_as, self.old_name):
            line.clear()
        self.taxon.show_text("")
        self.verified.setChecked(False)
        self.show_nothing()

    def show_nothing(self, why_not: str = "") -> None:
        """Say that no name is understood yet, and why not."""
        self._say("", why_not, "", "")
        if not self._class_by_hand:
            self.keeps.set_value(SporeClass.UNKNOWN)

    def show_look(self, seen: Look) -> None:
        """Show how a name was understood; what the keeper wrote or chose stays."""
        found = seen.found
        family = f" · {escape(found.family)}" if found.family else ""
        mild = [remark for remark in found.remarks if remark not in seen.cautions]
        self._say(f"{names.html(found.name)}{family}", "\n".join(mild), "\n".join(seen.cautions), found.class_reason)
        if not self._received_by_hand:
            typed = " ".join(seen.typed.split())
            self.received_as.setText("" if typed == found.text else typed)
        self._class_by_hand = self._class_by_hand and found.name.genus == self._genus
        self._genus = found.name.genus
        if not self._class_by_hand:
            self.keeps.set_value(found.spore_class)
        if not self._verified_by_hand:
            self.verified.setChecked(seen.verified)

    def _say(self, understood: str, remarks: str, cautions: str, why: str) -> None:
        texts = ((self.understood, understood), (self.remarks, remarks), (self.cautions, cautions), (self.why, why))
        for target, text in texts:
            target.setText(text)
            target.setVisible(bool(text))
        self.taxon.setAccessibleDescription(" ".join((self.understood.text(), remarks, cautions)).strip())


def offered_names(bank: Bank, genera: Sequence[str]) -> list[str]:
    """Return the words the name completes from: the bank's own names, old names, then genera."""
    own = [names.text(taxon.name) for taxon in queries.taxa(bank)]
    return list(dict.fromkeys([*own, *queries.old_names(bank), *genera]))


def look_or_refusal(bank: Bank, typed: str) -> Look | Refusal:
    """Return what is known of a name, or why it is none."""
    try:
        return look(bank, typed)
    except Refusal as refusal:
        return refusal
