"""What the bank knows of a clone, and of a batch."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QTextBrowser, QVBoxLayout, QWidget

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import amounts, codes, names
from sporebank.core.dates import day_label
from sporebank.core.germination import regenerate_below
from sporebank.core.records import Batch, Clone, SporeClass, Test, VialRow
from sporebank.core.results import Complaint, Sent, tally
from sporebank.core.tolerance import Agreement, agreement
from sporebank.formats import countries
from sporebank.formats.tables import load_tolerance
from sporebank.window import printing
from sporebank.window.context import Context
from sporebank.window.dialogs import dialog_class
from sporebank.window.dialogs.room import resize_within
from sporebank.window.fonts import BOLD
from sporebank.window.words import likely

Line = tuple[str, str]
Judged = tuple[Test, Agreement | None]

CLASS_WORDS = {
    SporeClass.GREEN: "green spore, short-lived",
    SporeClass.NON_GREEN: "not green",
    SporeClass.DRYING_SENSITIVE: "does not bear drying",
    SporeClass.DICKSONIA: "keeps as Dicksonia does",
    SporeClass.DRY_LAND: "of dry land, long-lived",
    SporeClass.UNKNOWN: "not known how it keeps",
}


class Card(QDialog):
    """A title in italics where they belong, and lines of what is known; nothing unknown is listed."""

    def __init__(self, context: Context, parent: QWidget | None, title: str) -> None:
        super().__init__(parent)
        self.context = context
        self.setWindowTitle(title)
        resize_within(self, 560, 520)
        self.text = QTextBrowser()
        self.text.setAccessibleName(title)
        self.text.document().setDefaultStyleSheet(BOLD)
        self.text.setOpenLinks(False)
        self.text.anchorClicked.connect(lambda url: self._go(url.toString()))
        self.foot = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        self.foot.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.addWidget(self.text, 1)
        layout.addWidget(self.foot)

    def button(self, text: str, **focus: object) -> None:
        """Add a button that closes the card and narrows the vials to this."""
        made = self.foot.addButton(text, QDialogButtonBox.ButtonRole.ActionRole)
        made.clicked.connect(lambda: self._show_vials(focus))

    def change_button(self, text: str, key: str, **arguments: int) -> None:
        """Add a button that opens a dialog of changes over the card, which then shows them."""
        made = self.foot.addButton(text, QDialogButtonBox.ButtonRole.ActionRole)
        made.clicked.connect(lambda: self._change(key, arguments))

    def _change(self, key: str, arguments: dict[str, int]) -> None:
        dialog = dialog_class(key)(self.context, self, **arguments)
        dialog.accepted.connect(self.read)
        dialog.open()

    def read(self) -> None:
        """Read and show what is known."""
        raise NotImplementedError

    def _show_vials(self, focus: dict[str, object]) -> None:
        self.accept()
        self.context.go("vials", **focus)

    def _go(self, link: str) -> None:
        kind, _, number = link.partition(":")
        if kind == "settle":
            self._change(kind, {"complaint_id": int(number)})
            return
        self.accept()
        self.context.dialog(kind, **{f"{kind}_id": int(number)})


def table(lines: Sequence[Line]) -> str:
    """Return lines of what is known as a table; values are HTML already."""
    rows = "".join(
        f"<tr><td style='padding:3px 14px 3px 0'><b>{escape(what)}</b></td><td style='padding:3px 0'>{value}</td></tr>"
        for what, value in lines
        if value
    )
    return f"<table cellspacing=0>{rows}</table>"


class CloneDialog(Card):
    """One source plant: provenance, permission, and its batches."""

    def __init__(self, context: Context, parent: QWidget | None = None, *, clone_id: int) -> None:
        super().__init__(context, parent, "Clone")
        self._id = clone_id
        self.change_button("Ch&ange…", "change_clone", clone_id=clone_id)
        self.change_button("&Name…", "change_name", clone_id=clone_id)
        self.button("Show its &vials", clone_id=clone_id)
        self.read()

    def read(self) -> None:
        """Read and show what is known of the clone."""
        clone_id = self._id
        self.context.read(lambda bank: _read_clone(bank, clone_id), lambda found: self.text.setHtml(clone_html(*found)))


def _read_clone(bank: Bank, clone_id: int) -> tuple[Clone, list[Batch], Clone | None, list[Sent], list[Complaint]]:
    clone = queries.clone(bank, clone_id)
    parent = queries.clone(bank, clone.parent_id) if clone.parent_id else None
    sent, complaints = queries.sent_of_clone(bank, clone_id), queries.complaints_of(bank, clone_id=clone_id)
    return clone, queries.batches_of(bank, clone_id), parent, sent, complaints


def clone_html(
    clone: Clone,
    batches: Sequence[Batch],
    parent: Clone | None,
    sent: Sequence[Sent] = (),
    complaints: Sequence[Complaint] = (),
) -> str:
    """Return what is known of a clone, and what was told by those who got of it."""
    taxon = clone.taxon
    lines = [
        ("Family", escape(taxon.family)),
        ("Name", "" if taxon.verified else "not verified"),
        ("Old name", f"<i>{escape(taxon.old_name)}</i>" if taxon.old_name else ""),
        ("Received as", escape(clone.received_as)),
        ("Kind of source", clone.source.value),
        ("Where from", escape(clone.origin)),
        ("Country", escape(countries.name(clone.country))),
        ("It came", clone.acquired.label() if clone.acquired else ""),
        ("By whom", escape(clone.acquired_from)),
        ("May be shared", clone.permission.value),
        ("Permit", escape(clone.permit_note)),
        ("Network number", escape(clone.network_number)),
        ("Raised from", f"<a href='clone:{parent.id}'>{escape(parent.code)}</a>" if parent else ""),
        ("Take care", escape(taxon.invasive_note)),
        ("Note", escape(clone.note)),
    ]
    return (
        f"<h2>{names.html(taxon.name)}</h2><p>clone {escape(clone.code)}</p>{table(lines)}"
        f"<h3>Batches</h3>{table([_batch_line(batch) for batch in batches])}{_told(sent)}{_complained(complaints)}"
    )


def _told(sent: Sequence[Sent]) -> str:
    """Return what was told by those who got of it; no forecast goes by it unless it is written down as a test."""
    words = tally(sent).words()
    if not words:
        return ""
    lines = [_result_line(one) for one in sent if one.told_on is not None]
    return (
        f"<h3>What came of it</h3><p>{escape(words)} The forecast does not go by this; where spores were counted, "
        f"write it down as a test.</p>{table(lines)}"
    )


def _result_line(one: Sent) -> Line:
    said = (
        {None: "", True: "germinated", False: "nothing came"}[one.germinated],
        {None: "", True: "true to name", False: "something else"}[one.true_name],
        escape(one.note),
    )
    return day_label(one.told_on or one.sent_on), f"{escape(one.contact.name)}: {', '.join(filter(None, said))}"


def _complained(complaints: Sequence[Complaint]) -> str:
    return f"<h3>Complaints</h3>{table([_complaint_line(one) for one in complaints])}" if complaints else ""


def _complaint_line(one: Complaint) -> Line:
    by = f" by {escape(one.by)}" if one.by else ""
    note = f": {escape(one.note)}" if one.note else ""
    ended = f"settled: {escape(one.settled)}" if one.settled else f"<a href='settle:{one.id}'>not settled</a>"
    return day_label(one.on), f"reported {one.kind.value}{by}{note}; {ended}"


def _batch_line(batch: Batch) -> Line:
    code = codes.grouped(batch.code)
    said = f"collected {batch.collected.label()}, {escape(batch.amount_said)}".rstrip(", ")
    return code, f"<a href='batch:{batch.id}'>{said}</a>"


class BatchDialog(Card):
    """One batch: how it was collected and cleaned, its vials and tests."""

    def __init__(self, context: Context, parent: QWidget | None = None, *, batch_id: int) -> None:
        super().__init__(context, parent, "Batch")
        self._id = batch_id
        self.change_button("Ch&ange…", "change_batch", batch_id=batch_id)
        report = self.foot.addButton("Re&port…", QDialogButtonBox.ButtonRole.ActionRole)
        report.clicked.connect(self._report)
        self.change_button("Something is &wrong…", "complaint", batch_id=batch_id)
        self.button("Show its &vials", batch_id=batch_id)
        self.read()

    def read(self) -> None:
        """Read and show what is known of the batch."""
        batch_id = self._id
        self.context.read(lambda bank: _read_batch(bank, batch_id), lambda found: self.text.setHtml(batch_html(*found)))

    def _report(self) -> None:
        self.accept()
        printing.batch_report(self.context, self._id)


def _read_batch(bank: Bank, batch_id: int) -> tuple[Batch, list[VialRow], list[Judged], list[Complaint]]:
    table, found = load_tolerance(), queries.tests_of(bank, [batch_id])[batch_id]
    tests = [(test, agreement(test.replicates, table)) for test, _ in found]
    complaints = queries.complaints_of(bank, batch_id=batch_id)
    return queries.batch(bank, batch_id), queries.batch_vials(bank, batch_id), tests, complaints


def batch_html(
    batch: Batch, vials: Sequence[VialRow], tests: Sequence[Judged], complaints: Sequence[Complaint] = ()
) -> str:
    """Return what is known of a batch."""
    clone, screen = batch.clone, f" at {batch.screen_um} µm" if batch.screen_um else ""
    lines = [
        ("Clone", f"<a href='clone:{clone.id}'>{escape(clone.code)}</a>"),
        ("Collected", batch.collected.label()),
        ("Fronds", "" if batch.fronds is None else str(batch.fronds)),
        ("Cleaned", day_label(batch.cleaned_on) if batch.cleaned_on else ""),
        ("How", f"{batch.cleaning.value}{screen}"),
        ("Took", f"{batch.minutes} minutes" if batch.minutes else ""),
        ("Clean", "" if batch.purity is None else f"{batch.purity} % spore ({batch.purity_basis.value})"),
        ("Amount", f"{escape(batch.amount_said)} ({batch.amount_basis.value})" if batch.amount_said else ""),
        ("How it keeps", CLASS_WORDS[batch.spore_class]),
        ("Note", escape(batch.note)),
    ]
    counted = [_test_line(test, found) for test, found in tests]
    return (
        f"<h2>{names.html(clone.taxon.name)}</h2><p>batch {codes.grouped(batch.code)}</p>{table(lines)}"
        f"<h3>Vials</h3>{table([_vial_line(vial) for vial in vials]) if vials else '<p>None left in the bank.</p>'}"
        f"<h3>Tests</h3>{table(counted) if counted else '<p>None yet.</p>'}{_renewal(tests)}"
        f"{_complained(complaints)}"
    )


def _renewal(tests: Sequence[Judged]) -> str:
    """Return below what share alive the batch is to be renewed, by its first test that counts."""
    first = next((test for test, _ in tests if not test.left_out), None)
    below = regenerate_below(round(100 * first.germinated / first.sown)) if first else 0
    return f"<p>Renew below {below} % (genebank rule: 85 % of the first test).</p>" if below else ""


def _test_line(test: Test, found: Agreement | None) -> Line:
    """Return a test, marked where its counts are not credible or it is left out, and the way to change that."""
    doubt = "" if found is None or found.credible else " · ⚠ its counts differ more than chance allows"
    counted = f"{test.germinated} of {test.sown} germinated"
    said = f"<s>{counted}</s> · left out: {escape(test.left_out)}" if test.left_out else f"{counted}{doubt}"
    deed = "take&nbsp;back&nbsp;in…" if test.left_out else "leave&nbsp;out…"
    return day_label(test.counted_on), f"{said} · <a href='test:{test.id}'>{deed}</a>"


def _vial_line(vial: VialRow) -> Line:
    where = escape(vial.place) or "not put away"
    return codes.grouped(vial.code), f"{amounts.show(vial.left)} · {likely(vial.share, vial.state)} · {where}"
