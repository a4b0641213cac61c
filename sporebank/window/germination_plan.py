"""How many spores to count: by a plan that says when to stop, or for a share known as closely as wanted."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton

from sporebank.core import sampling, sequential
from sporebank.core.errors import Refusal
from sporebank.core.operating import Operating, meaning, operating
from sporebank.core.sequential import Plan
from sporebank.formats.tables import load_sequential
from sporebank.window.context import Context
from sporebank.window.theme import Tokens
from sporebank.window.widgets.choice import Choice
from sporebank.window.widgets.editors import NumberEdit
from sporebank.window.widgets.field import Form
from sporebank.window.widgets.late import Late
from sporebank.window.widgets.section import Section
from sporebank.window.widgets.simple import label

if TYPE_CHECKING:
    from sporebank.window.widgets.surety import SuretyPlot

TABLE, OWN, NONE = "table", "own", "none"
EXPECTED = 0.5
"""Where nothing is counted yet, the share that takes the most counting."""


class PlanChart(Late[Operating, "SuretyPlot"]):
    """How sure a plan is; what it says is also its accessible description."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("How sure this plan is")
        self.hide()

    def show_plan(self, plan: Plan | None) -> None:
        """Show how sure a plan is, or nothing."""
        found = operating(plan) if plan else None
        self.show_record(found, meaning(found) if found else "")

    def make(self, colours: Tokens) -> SuretyPlot:
        """Return the plots."""
        from sporebank.window.widgets.surety import SuretyPlot  # brings pyqtgraph

        return SuretyPlot(colours)

    def fill(self, plot: SuretyPlot, record: Operating) -> None:
        """Draw the plots."""
        plot.show_plan(record)


class PlanPart(Section):
    """The plan by which counting stops, and how many make a share so and so close. Signals: `edited` by the keeper."""

    edited = Signal()

    def __init__(self, context: Context) -> None:
        super().__init__("How many to count")
        self._state, self._expected, self._correlation = context.state, EXPECTED, 0.0
        self.by = Choice(
            [("The 85 % plan of genebanks", TABLE), ("A mark of my own", OWN), ("No plan: I count what I count", NONE)]
        )
        self.mark, self.closely = NumberEdit("%", "such as 50"), NumberEdit("%", "such as 5")
        self.promise, self.count = label(role="small", wrap=True), label(role="mute", wrap=True)
        self.sure = QPushButton("Show how s&ure this plan is", checkable=True)  # type: ignore[call-overload]  # absent from the stubs
        self.sure.setProperty("quiet", True)
        self.sure.toggled.connect(self._show_sure)
        self.chart, self.meaning = PlanChart(), label(role="small", wrap=True)
        self.form, self.below = Form(columns=2), Form()
        self.form.add("by", "&Stop or go on by", self.by)
        self.form.add("mark", "My mar&k (%)", self.mark)
        self.below.add("wanted", "Known how &closely, ± (%)", self.closely)
        row = QHBoxLayout()
        row.setSpacing(16)
        row.addWidget(self.below, 1)
        row.addWidget(self.count, 1, Qt.AlignmentFlag.AlignBottom)
        self.add(self.form, self.promise)
        self.inside.addWidget(self.sure, 0, Qt.AlignmentFlag.AlignLeft)
        self.add(self.chart, self.meaning)
        self.inside.addLayout(row)
        self.by.set_value(self._state.get("test/plan", TABLE))
        self.mark.set_value(self._state.get("test/mark", 50.0))
        self.closely.set_value(self._state.get("test/closely", 5.0))
        self.by.edited.connect(self._choose)
        self.mark.edited.connect(self._choose)
        self.closely.edited.connect(self._show_count)
        self._show_plan()
        self._show_count()

    def plan(self) -> Plan | None:
        """Return the plan chosen; None where there is none, or its mark cannot be read."""
        try:
            return self._chosen()
        except Refusal:
            return None

    def _chosen(self) -> Plan | None:
        if self.by.value() == TABLE:
            return load_sequential()
        return sequential.own(_share(self.mark)) if self.by.value() == OWN else None

    def expect(self, share: float | None) -> None:
        """Reckon with the share seen so far, or with none."""
        self._expected = EXPECTED if share is None else share
        self._show_count()

    def reckon(self, correlation: float) -> None:
        """Reckon with so much likeness between the spores of one dish."""
        self._correlation = correlation
        self._show_count()

    def _choose(self) -> None:
        self._show_plan()
        self._state.put("test/plan", self.by.value())
        if self.by.value() == OWN and self.plan() is not None:
            self._state.put("test/mark", self.mark.value())
        self.edited.emit()

    def _show_plan(self) -> None:
        field = self.form.fields["mark"]
        field.setVisible(self.by.value() == OWN)
        field.clear_error()
        try:
            plan = self._chosen()
        except Refusal as refusal:
            plan = None
            field.set_error(str(refusal))
        self.promise.setText(sequential.promise(plan) if plan else "")
        self.promise.setVisible(plan is not None)
        self.sure.setVisible(plan is not None)
        self._show_sure()

    def _show_sure(self) -> None:
        """Draw how sure the plan is where that is wanted, and say what it means."""
        wanted = self.sure.isChecked()
        self.sure.setText("Hide how s&ure this plan is" if wanted else "Show how s&ure this plan is")
        self.chart.show_plan(self.plan() if wanted else None)
        self.meaning.setText(self.chart.accessibleDescription())
        self.meaning.setVisible(bool(self.meaning.text()))

    def _show_count(self) -> None:
        field = self.below.fields["wanted"]
        field.clear_error()
        try:
            self.count.setText(sampling.words(_share(self.closely), self._expected, self._correlation))
            self._state.put("test/closely", self.closely.value())
        except Refusal as refusal:
            self.count.clear()
            field.set_error(str(refusal))


def _share(editor: NumberEdit) -> float:
    value = editor.value()
    if value is None:
        raise Refusal("Write a number of percent.")
    return value / 100
