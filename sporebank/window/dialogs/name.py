"""Setting right a name, and what is noted of it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from html import escape

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QCheckBox, QLineEdit, QWidget

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import names
from sporebank.core.counted import counted
from sporebank.core.errors import Refusal
from sporebank.core.records import SporeClass, Taxon, TaxonName
from sporebank.formats.tables import load_genera
from sporebank.jobs import clones
from sporebank.jobs.clones import Renamed
from sporebank.window.context import Context
from sporebank.window.dialogs.cards import CLASS_WORDS
from sporebank.window.dialogs.form_dialog import FormDialog
from sporebank.window.lane import Ticket
from sporebank.window.store_what import offered_names
from sporebank.window.widgets.choice import Choice, WordEdit
from sporebank.window.widgets.simple import label


@dataclass(frozen=True)
class Known:
    """A name as it stands in the bank: how many clones have it, and the words to complete another from."""

    taxon: Taxon
    clones: int
    words: list[str]


class NameDialog(FormDialog):
    """Change a name, that of one clone and of all that bear it, and what is noted of it; or join it to another.

    What the keeper did not write follows the name: the one it had becomes the old name, the family and how its spore
    keeps go with the genus, and that it is checked holds for one spelling alone.
    """

    def __init__(self, context: Context, parent: QWidget | None = None, *, clone_id: int) -> None:
        super().__init__(context, parent, "Change a name", "Keep", width=520)
        self._known: Known | None = None
        self._looking: Ticket | None = None
        self._waits = False
        self._checked: TaxonName | None = None  # the reading that the tick is about
        self.name, self.old_name, self.family = WordEdit(), QLineEdit(), QLineEdit()
        self.verified = QCheckBox("Name c&hecked: I am sure that it is this")
        self.keeps: Choice[SporeClass] = Choice([(CLASS_WORDS[one].capitalize(), one) for one in SporeClass])
        self.understood = label(wrap=True)
        self.understood.setTextFormat(Qt.TextFormat.RichText)
        self.outcome = label(role="mute", wrap=True)
        self.form.add("name", "&Name", self.name)
        self.form.add("old_name", "&Old name", self.old_name, "The bank finds it by this one too.")
        self.form.add("family", "&Family", self.family)
        self.form.add("spore_class", "How its spore &keeps", self.keeps, "For batches to come; each has its own.")
        for widget in (self.outcome, self.understood, self.verified):
            self.column.insertWidget(self.column.indexOf(self.form) + 1, widget)
            widget.setVisible(widget is self.verified)
        self._by_hand: set[QWidget] = set()  # what the keeper wrote or chose, and so does not follow the name
        for line in (self.old_name, self.family):
            line.textEdited.connect(lambda _, line=line: self._by_hand.add(line))
        self.keeps.edited.connect(lambda: self._by_hand.add(self.keeps))
        self.name.edited.connect(self._look)
        self.go.setEnabled(False)
        self.name.setFocus()
        context.read(lambda bank: _read(bank, clone_id), self._show)

    def _show(self, known: Known) -> None:
        self._known, taxon = known, known.taxon
        self._checked = taxon.name
        self.say_about(f"{names.text(taxon.name)} · {_clones(known.clones)}")
        self.name.offer(known.words)
        self.name.show_text(names.text(taxon.name))
        self.old_name.setText(taxon.old_name)
        self.family.setText(taxon.family)
        self.keeps.set_value(taxon.spore_class)
        self.verified.setChecked(taxon.verified)
        self.go.setEnabled(True)

    def _look(self) -> None:
        if self._looking is not None:
            self._looking.cancel()
        if self._known is not None:
            taxon_id, typed = self._known.taxon.id, self.name.text()
            self._looking = self.context.read(lambda bank: _look_ahead(bank, taxon_id, typed), self._follow)

    def _follow(self, found: Renamed | Refusal) -> None:
        """Let what the keeper did not write follow the name, and say what will become of its clones."""
        self._looking = None
        if isinstance(found, Refusal):
            self._say("", str(found))
        elif self._known is not None:
            self._propose(found, self._known.taxon)
            family = f" · {escape(found.family)}" if found.family else ""
            self._say(f"{names.html(found.name)}{family}", _outcome(found, self._known))
        if self._waits:
            self._waits = False
            self._try()

    def _propose(self, found: Renamed, taxon: Taxon) -> None:
        same = found.name == taxon.name
        settled = found.joined.old_name if found.joined is not None else ""
        if settled or self.old_name not in self._by_hand:
            self.old_name.setText(settled or (taxon.old_name if same else _old_name(found, taxon)))
        self.form.fields["old_name"].setEnabled(not settled)
        if self.family not in self._by_hand:
            self.family.setText(found.family)
        if self.keeps not in self._by_hand:
            self.keeps.set_value(found.spore_class)
        for field in ("family", "spore_class"):
            self.form.fields[field].setEnabled(found.joined is None)
        if found.name != self._checked:
            self.verified.setChecked(taxon.verified if same else found.joined is not None and found.joined.verified)
        self._checked = found.name

    def _say(self, understood: str, outcome: str) -> None:
        for target, text in ((self.understood, understood), (self.outcome, outcome)):
            target.setText(text)
            target.setVisible(bool(text))

    def submit(self) -> None:
        """Keep the name as it is written, once what follows it has been looked up."""
        if self._looking is not None:
            self._waits = True
            return
        assert self._known is not None  # the button waits for it
        form = clones.TaxonForm(
            name=self.name.text(),
            spore_class=self.keeps.value(),
            verified=self.verified.isChecked(),
            old_name=self.old_name.text(),
            family=self.family.text().strip(),
        )
        self.do(partial(clones.change_taxon, taxon_id=self._known.taxon.id, form=form), "The name is changed.")


def _read(bank: Bank, clone_id: int) -> Known:
    taxon = queries.clone(bank, clone_id).taxon
    words = offered_names(bank, [genus.name for genus in load_genera() if genus.in_2025])
    return Known(taxon, len(queries.clones_of(bank, taxon.id)), words)


def _look_ahead(bank: Bank, taxon_id: int, typed: str) -> Renamed | Refusal:
    try:
        return clones.look_ahead(bank, taxon_id, typed)
    except Refusal as refusal:
        return refusal


def _old_name(found: Renamed, taxon: Taxon) -> str:
    """Return the old name that is kept unless the keeper writes another: printed labels bear the one it had."""
    own, kept = names.text(taxon.name), taxon.old_name
    return own if kept in ("", names.text(found.name)) else kept


def _outcome(found: Renamed, known: Known) -> str:
    """Return what will become of the clones, and what is odd about the name."""
    if found.name == known.taxon.name:
        return found.remark
    if found.joined is not None:
        said = f"The bank has this name already: {_clones(known.clones)} will join it; what is noted of it stays."
    else:
        said = f"{_clones(known.clones)} will bear this name."
    return f"{said} {found.remark}".strip()


def _clones(count: int) -> str:
    return counted(count, "clone")
