"""The form of a germination test, and what the forecast became once it is recorded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QLineEdit, QWidget

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import amounts, codes, names, sequential
from sporebank.core.advice import Lines, state
from sporebank.core.crossing import crossing_sentence
from sporebank.core.errors import Refusal
from sporebank.core.records import Batch, Forecast, Replicate, VialRow
from sporebank.core.tolerance import Agreement, agreement
from sporebank.formats.tables import load_tolerance
from sporebank.jobs import testing
from sporebank.window.context import Context
from sporebank.window.gather import Gather, Problem, show_problems
from sporebank.window.germination_counts import ReplicateGrid
from sporebank.window.germination_plan import PlanPart
from sporebank.window.lane import Ticket
from sporebank.window.tell import tell_failure
from sporebank.window.widgets.choice import Choice, WordChoice
from sporebank.window.widgets.day import DayEdit
from sporebank.window.widgets.editors import NumberEdit
from sporebank.window.widgets.field import Form
from sporebank.window.widgets.names import NameLabel
from sporebank.window.widgets.section import Section, bring_into_sight
from sporebank.window.widgets.simple import label
from sporebank.window.words import likely

MEDIA = ("Growing mix", "Mineral agar", "Wet filter paper")
LIGHTS = ("12 hours a day", "16 hours a day", "Always", "Daylight at a window", "Dark")
COUNTS = (
    "A spore counts as germinated once its coat is open and a rhizoid or a green cell stands out of it "
    "(common practice, no source). Count all others as well: they are the “of”."
)
_REMEMBERED = 12


@dataclass(frozen=True)
class _Chosen:
    batch: Batch
    vials: list[VialRow]
    unsettled: dict[int, str]


@dataclass(frozen=True)
class _Draft:
    """What is written of a test and not recorded: its batch in words, the vial, the counts, and the other editors."""

    called: str
    vial_id: int | None
    counts: tuple[tuple[str, str], ...]
    texts: tuple[str, ...]


class TestPart(Section):
    """One test of the batch chosen. Signals: `ready_changed` when it can, or cannot, be recorded."""

    __test__ = False  # pytest must not take it for a test of ours
    ready_changed = Signal()

    def __init__(self, context: Context, plan: PlanPart) -> None:
        super().__init__("The test")
        self.context = context
        self.plan = plan
        self.batch_id = self._offered = 0
        self._drafts: dict[int, _Draft] = {}
        self._called = ""
        self._recording = False
        self._reading: Ticket | None = None
        self._comparing: Ticket | None = None
        self.name = NameLabel()
        self.about = label(role="mute", wrap=True)
        self.of: Choice[int | None] = Choice([("The batch as a whole", None)])
        self.sown_on, self.counted_on = DayEdit(), DayEdit(context.today())
        self.counts = ReplicateGrid()
        self.medium, self.light = WordChoice(self._media()), WordChoice(LIGHTS)
        self.temperature = NumberEdit("°C", "such as 20")
        self.note = QLineEdit()
        self.result, self.verdict = label(role="strong", wrap=True), label(role="strong", wrap=True)
        self.agreement, self.doubt = label(role="mute", wrap=True), label(role="warn", wrap=True)
        self.became, self.aside = label(role="strong", wrap=True), label(role="mute", wrap=True)
        self.form, self.below = Form(columns=2), Form(columns=2)
        self._build()
        self.start_over()
        self._show_ready()

    def _build(self) -> None:
        form, below = self.form, self.below
        form.add("vial", "Spore &from", self.of, span=2)
        form.add("sown_on", "So&wn on", self.sown_on)
        form.add("counted_on", "C&ounted on", self.counted_on)
        form.add("replicates", "&Germinated, of how many looked at", self.counts, COUNTS, span=2)
        below.add("medium", "On w&hat", self.medium)
        below.add("light", "&Light", self.light)
        below.add("temperature", "&Temperature (°C)", self.temperature)
        below.add("note", "&Note", self.note)
        self.add(self.name, self.about, self.became, self.aside, form)
        self.add(self.result, self.agreement, self.doubt, self.verdict, below)
        self.add(label("Ctrl+Enter records it.", "small"))
        self.inside.addStretch(1)
        self.counts.edited.connect(self._show_result)
        self.counts.finished.connect(self.medium.setFocus)
        self.plan.edited.connect(lambda: self._show_verdict(self.counts.sound()))

    @property
    def ready(self) -> bool:
        """Whether there is a batch to record a test of."""
        return bool(self.batch_id) and not self._recording

    @property
    def written(self) -> bool:
        """Whether the keeper wrote counts, the day of sowing or a note that are not recorded yet, of any batch."""
        return bool(self._drafts) or self._written_here

    @property
    def _written_here(self) -> bool:
        return self.counts.written or any(line.text().strip() for line in (self.sown_on.line, self.note))

    def first_focus(self) -> QWidget:
        """Return the first editor to write in."""
        return self.sown_on

    # -- which batch

    def show_batch(self, batch_id: int) -> None:
        """Turn to a batch; what is written for another one waits until the keeper comes back to that."""
        if batch_id != self.batch_id:
            self.became.hide()
            self._put_aside()
            self.start_over()
            self.batch_id = batch_id
            self._take_up()
        if self._reading is not None:
            self._reading.cancel()
        self._reading = self.context.read(lambda bank: _read(bank, batch_id), self._show)
        self._show_ready()

    def _show(self, chosen: _Chosen) -> None:
        batch = chosen.batch
        self.name.set_name(batch.clone.taxon.name)
        self._called = f"{names.text(batch.clone.taxon.name)}, clone {batch.clone.code}"
        self.about.setText(
            f"Batch {codes.grouped(batch.code)} · clone {batch.clone.code} · collected {batch.collected.label()}"
        )
        whole: list[tuple[str, int | None]] = [("The batch as a whole", None)]
        self.of.offer(whole + [(_vial(row, chosen.unsettled.get(row.id, "")), row.id) for row in chosen.vials])
        draft = self._drafts.pop(batch.id, None)
        if draft is not None:
            self.of.set_value(draft.vial_id)
        elif batch.id != self._offered:  # what befell a vial is settled by a test of that vial alone
            self.of.set_value(next(iter(chosen.unsettled), None))
        self._offered = batch.id

    # -- what is half written for other batches

    def _put_aside(self) -> None:
        if self.batch_id and self._written_here and self.batch_id not in self._drafts:
            texts = tuple(line.text() for line in self._lines)
            self._drafts[self.batch_id] = _Draft(self._called, self.of.value(), self.counts.texts(), texts)

    def _take_up(self) -> None:
        """Show what is written for the batch; the vial it is of follows once its vials are read."""
        if (draft := self._drafts.get(self.batch_id)) is not None:
            self.counts.show_texts(draft.counts)
            for line, text in zip(self._lines, draft.texts, strict=True):
                line.setText(text)
            self._show_result()
        self._show_aside()

    @property
    def _lines(self) -> tuple[QLineEdit, ...]:
        lines = (self.medium.lineEdit(), self.light.lineEdit())
        return (self.sown_on.line, self.counted_on.line, self.temperature.line, self.note, *filter(None, lines))

    def _show_aside(self) -> None:
        waiting = [draft.called for batch_id, draft in self._drafts.items() if batch_id != self.batch_id]
        self.aside.setText(f"Half written and kept until you come back to it: {'; '.join(waiting)}.")
        self.aside.setVisible(bool(waiting))

    def _show_ready(self) -> None:
        for widget in (self.form, self.below):
            widget.setEnabled(self.ready)
        self.name.setVisible(bool(self.batch_id))
        if not self.batch_id:
            self.about.setText("Choose a batch to write down a test of it.")
        self.ready_changed.emit()

    # -- the counts

    def start_over(self) -> None:
        """Empty the counts; how one tests stays as used last."""
        kept = self.context.state
        self.counts.start_over(kept.get("test/sizes", [100, 100, 100, 100]))
        self.sown_on.set_value(None)
        self.counted_on.set_value(self.context.today())
        self.medium.setCurrentText(kept.get("test/medium", MEDIA[0]))
        self.light.setCurrentText(kept.get("test/light", LIGHTS[0]))
        self.temperature.set_value(kept.get("test/temperature", 20.0))
        self.note.clear()
        self.of.set_value(None)
        self._show_result()

    def _media(self) -> list[str]:
        nothing: list[str] = []
        return list(dict.fromkeys([*self.context.state.get("test/media", nothing), *MEDIA]))

    def _show_result(self) -> None:
        words = self.counts.words()
        self.result.setText(f"= {words}" if words else "")
        self.result.setVisible(bool(words))
        counts = self.counts.sound()
        self._show_verdict(counts)
        self._compare(counts)

    def _show_verdict(self, counts: Sequence[Replicate]) -> None:
        tested, germinated = sum(one.sown for one in counts), sum(one.germinated for one in counts)
        plan = self.plan.plan()
        said = sequential.verdict(plan, tested, germinated)[1] if plan and counts else ""
        self.verdict.setText(said)
        self.verdict.setVisible(bool(said))
        self.plan.expect(germinated / tested if tested else None)

    def _compare(self, counts: Sequence[Replicate]) -> None:
        """Ask, beside the window's own thread, whether the counts agree: the first time brings a large library."""
        if self._comparing is not None:
            self._comparing.cancel()
        self._comparing = self.context.read(lambda _: agreement(counts, load_tolerance()), self._show_agreement)

    def _show_agreement(self, found: Agreement | None) -> None:
        for shown, credible in ((self.agreement, True), (self.doubt, False)):
            fits = found is not None and found.credible is credible
            shown.setText(_agreement_words(found) if found is not None and fits else "")
            shown.setToolTip(f"By {found.how}." if found is not None and fits else "")
            shown.setVisible(fits)

    def _remember(self) -> None:
        kept, medium = self.context.state, self.medium.text()
        kept.put("test/sizes", self.counts.sizes())
        kept.put("test/medium", medium)
        kept.put("test/light", self.light.text())
        if medium:
            media = list(dict.fromkeys([medium, *self._media()]))[:_REMEMBERED]
            kept.put("test/media", media)
            self.medium.offer(media)
        try:
            kept.put("test/temperature", self.temperature.value() or 0.0)
        except Refusal:
            return

    # -- recording

    def record(self) -> None:
        """Record the test, or say beside the fields what is wrong."""
        if not self.ready:
            return
        for one in (self.form, self.below):
            one.clear_errors()
        gather = Gather()
        form = self._gathered(gather)
        read = tuple(gather.problems)
        batch_id = self.batch_id

        def job(bank: Bank) -> tuple[Problem, ...] | str:
            unread = {field for field, _ in read}
            problems = (*read, *(one for one in testing.check(bank, form) if one[0] not in unread))
            if problems:
                return problems
            testing.record_test(bank, form)
            return became(bank, batch_id, form.vial_id)

        self._set_recording(True)
        self.context.do(job, self._answered, self._failed)

    def _gathered(self, gather: Gather) -> testing.TestForm:
        today = self.context.today()
        return testing.TestForm(
            batch_id=self.batch_id,
            vial_id=self.of.value(),
            sown_on=gather.of("sown_on", lambda: self.sown_on.day("sown_on"), today),
            counted_on=gather.of("counted_on", lambda: self.counted_on.day("counted_on"), today),
            replicates=gather.of("replicates", self.counts.value, ()),
            medium=self.medium.text(),
            temperature=gather.of("temperature", self.temperature.value, None),
            light=self.light.text(),
            note=self.note.text().strip(),
        )

    def _set_recording(self, recording: bool) -> None:
        self._recording = recording
        self.ready_changed.emit()

    def _failed(self, failure: Exception) -> None:
        self._set_recording(False)
        if not isinstance(failure, Refusal) or show_problems(self._forms, [(failure.field or "", str(failure))]):
            tell_failure(self.context.tell, failure)

    @property
    def _forms(self) -> tuple[Form, Form]:
        return self.form, self.below

    def _answered(self, answer: tuple[Problem, ...] | str) -> None:
        self._set_recording(False)
        if not isinstance(answer, str):
            show_problems(self._forms, answer)
            return
        words = self.counts.words()
        self._remember()
        self.start_over()
        self.became.setText(f"Recorded: {words}. {answer}")
        self.became.show()
        bring_into_sight(self.became)
        self.sown_on.setFocus()
        self.context.done(f"Test recorded: {words}.")


def became(bank: Bank, batch_id: int, vial_id: int | None) -> str:
    """Return what the forecast of the vial tested, or of the batch's first vial, is now."""
    from sporebank.jobs.figures import forecast_vial  # brings numpy, which the rail's counts need not wait for

    vials = queries.batch_vials(bank, batch_id)
    chosen = vial_id or next((row.id for row in vials), None)
    if chosen is None:
        return "No vial of the batch is left in the bank."
    forecast = forecast_vial(bank, chosen, bank.today())
    line = crossing_sentence(forecast.crossing, bank.settings.cull_line, bank.today())
    return f"The forecast is now {_alive(forecast, bank)}. {line}"


def _alive(forecast: Forecast, bank: Bank) -> str:
    lines = Lines(bank.settings.alive_line, bank.settings.cull_line)
    said = likely(forecast.share, state(forecast.share, lines))
    return said[0].lower() + said[1:]


def _agreement_words(found: Agreement) -> str:
    return found.sentence if found.credible else f"⚠ {found.sentence} Count again, or look for mould and thick sowing."


def _read(bank: Bank, batch_id: int) -> _Chosen:
    return _Chosen(
        queries.batch(bank, batch_id), queries.batch_vials(bank, batch_id), queries.unsettled(bank, batch_id)
    )


def _vial(row: VialRow, befell: str) -> str:
    said = f"{codes.grouped(row.code)} · {amounts.show(row.left)} · {row.place or 'not put away'}"
    return f"{said} · {befell}" if befell else said
