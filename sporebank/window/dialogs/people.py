"""The people and gardens who give or ask."""

from __future__ import annotations

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QFrame,
    QHBoxLayout,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QScrollArea,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from sporebank.bank import queries
from sporebank.core.errors import Refusal
from sporebank.core.layout import Kind
from sporebank.core.records import Contact
from sporebank.jobs.people import forget
from sporebank.jobs.sharing import save_contact
from sporebank.window import printing
from sporebank.window.columns import Column
from sporebank.window.context import Context
from sporebank.window.dialogs.room import resize_within
from sporebank.window.models import RowsModel
from sporebank.window.person_papers import PersonPapers
from sporebank.window.table import DataTable
from sporebank.window.tell import tell_failure
from sporebank.window.widgets.field import Form
from sporebank.window.widgets.simple import label

PAUSE_MS = 120
_FORGET = (
    "Their name, addresses, notes and papers go out of this bank for ever, also out of the history. This cannot be "
    "undone. What they gave and got and their country stay, without a name. Backups and copies of the bank made "
    "before, files given out and printed papers still have them: delete those yourself."
)

COLUMNS: tuple[Column[Contact], ...] = (
    Column("name", "Name", lambda one: one.name, 140, order=lambda one: one.name.casefold()),
    Column("organisation", "Organisation", lambda one: one.organisation, 130),
    Column("country", "Country", lambda one: one.country, 60),
)


class ContactForm(Form):
    """The fields of a contact."""

    def __init__(self) -> None:
        super().__init__(columns=2)
        self.name, self.organisation, self.country, self.email = (QLineEdit() for _ in range(4))
        self.address, self.note = QPlainTextEdit(), QPlainTextEdit()
        self.country.setMaxLength(2)
        for text in (self.address, self.note):
            text.setTabChangesFocus(True)
            text.setFixedHeight(text.fontMetrics().lineSpacing() * 3 + 16)
        self.add("name", "&Name", self.name, span=2)
        self.add("organisation", "&Organisation", self.organisation, span=2)
        self.add("country", "Co&untry", self.country, "Two letters, such as NL.")
        self.add("email", "&E-mail", self.email)
        self.add("address", "&Address", self.address, span=2)
        self.add("note", "No&te", self.note, span=2)

    def show_contact(self, contact: Contact) -> None:
        """Show a contact."""
        self.clear_errors()
        for line in (self.name, self.organisation, self.country, self.email):
            line.setText(getattr(contact, self._name_of(line)))
        self.address.setPlainText(contact.address)
        self.note.setPlainText(contact.note)

    def contact(self, contact_id: int) -> Contact:
        """Return what is written."""
        lines = {self._name_of(one): one.text() for one in (self.name, self.organisation, self.country, self.email)}
        return Contact(contact_id, **lines, address=self.address.toPlainText(), note=self.note.toPlainText())

    def _name_of(self, line: QLineEdit) -> str:
        return next(name for name, field in self.fields.items() if field.editor is line)


class ContactsDialog(QDialog):
    """A list that is searched, and the form of the contact chosen or of a new one."""

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.context = context
        self._contact = Contact(0, "")
        self.setWindowTitle("Contacts")
        resize_within(self, 900, 560)
        self.search = QLineEdit()
        self.search.setPlaceholderText("Look for a name, an organisation or a country")
        self.search.setAccessibleName("Look for a contact")
        self.search.setClearButtonEnabled(True)
        self.model: RowsModel[Contact] = RowsModel(COLUMNS, self)
        self.table = DataTable(self.model, context.state, "contacts")
        self.table.setAccessibleName("Contacts")
        self.table.setSelectionMode(DataTable.SelectionMode.SingleSelection)
        self.table.enable_sorting("name")
        self.title = label("New contact", "title", wrap=True)
        self.form = ContactForm()
        self.message = label(role="mute", wrap=True)
        self.papers = PersonPapers(context)
        self.new = QPushButton("Ne&w contact")
        self.address = QPushButton("Address la&bel…")
        self.address.setEnabled(False)
        self.forget = QPushButton("&Forget…")
        self.forget.setEnabled(False)
        self.keep = QPushButton("&Keep")
        self.keep.setProperty("primary", True)
        self._pause = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._build()
        self.keep.setDefault(True)
        self.search.textEdited.connect(lambda _: self._pause.start())
        self._pause.timeout.connect(self._read)
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._show_chosen())
        self.new.clicked.connect(self._begin)
        self.address.clicked.connect(self._print_address)
        self.forget.clicked.connect(self._ask_to_forget)
        self.keep.clicked.connect(self._keep)
        self._show_papers(0)
        self._read()
        self.search.setFocus()

    def _build(self) -> None:
        foot = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        foot.addButton(self.new, QDialogButtonBox.ButtonRole.ActionRole)
        foot.addButton(self.address, QDialogButtonBox.ButtonRole.ActionRole)
        foot.addButton(self.forget, QDialogButtonBox.ButtonRole.ActionRole)
        foot.addButton(self.keep, QDialogButtonBox.ButtonRole.ApplyRole)
        foot.rejected.connect(self.reject)
        left = QVBoxLayout()
        left.addWidget(self.search)
        left.addWidget(self.table, 1)
        inside = QWidget()
        inside.setObjectName("page")
        form = QVBoxLayout(inside)
        form.setContentsMargins(0, 8, 6, 0)
        for widget in (self.form, self.message):
            form.addWidget(widget)
        form.addStretch(1)
        scroll = QScrollArea(widgetResizable=True)
        scroll.setObjectName("scroll")
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setWidget(inside)
        self.tabs = QTabWidget()
        self.tabs.addTab(scroll, "&Details")
        self.tabs.addTab(self.papers, "&Papers and packets")
        right = QVBoxLayout()
        right.addWidget(self.title)
        right.addWidget(self.tabs, 1)
        row = QHBoxLayout()
        row.setSpacing(16)
        row.addLayout(left, 5)
        row.addLayout(right, 6)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(16, 16, 16, 12)
        layout.addLayout(row, 1)
        layout.addWidget(foot)

    def _read(self) -> None:
        text = self.search.text().strip()
        self.context.read(lambda bank: queries.contacts(bank, text), lambda found: self._show(found, bool(text)))

    def _show(self, found: list[Contact], looked_for: bool) -> None:
        """Show the contacts, the one in hand chosen; what was looked for is opened at once."""
        self.model.set_rows(found)
        numbers = [number for number, one in enumerate(self.model.rows) if one.id == self._contact.id]
        if not numbers and looked_for and found:
            numbers = [0]
        if numbers:
            self.table.go_to(numbers[0])

    def _show_chosen(self) -> None:
        rows = self.table.selectionModel().selectedRows()
        if rows:
            self._open(self.model.rows[rows[0].row()])

    def _open(self, contact: Contact) -> None:
        self._contact = contact
        self.address.setEnabled(bool(contact.id))
        self.forget.setEnabled(bool(contact.id))
        self._show_papers(contact.id)
        self.title.setText(contact.name or "New contact")
        self.message.clear()
        self.form.show_contact(contact)

    def _show_papers(self, contact_id: int) -> None:
        """Show what belongs to a person; somebody new has nothing yet."""
        self.papers.show_person(contact_id)
        self.tabs.setTabEnabled(1, bool(contact_id))

    def _print_address(self) -> None:
        printing.labels_for(self.context, Kind.ADDRESS, [self._contact.id])

    def _begin(self) -> None:
        self.table.clearSelection()
        self._open(Contact(0, ""))
        self.tabs.setCurrentIndex(0)
        self.form.name.setFocus(Qt.FocusReason.OtherFocusReason)

    def _keep(self) -> None:
        contact = self.form.contact(self._contact.id)
        self.form.clear_errors()
        self.message.clear()
        self.keep.setEnabled(False)
        self.context.do(lambda bank: save_contact(bank, contact), lambda new: self._kept(contact, new), self._failed)

    def _kept(self, contact: Contact, contact_id: int) -> None:
        self.keep.setEnabled(True)
        name = contact.name.strip()
        self._contact = Contact(contact_id, name)
        self.address.setEnabled(True)
        self.forget.setEnabled(True)
        self._show_papers(contact_id)
        self.title.setText(name)
        self.message.setText(f"{name} is kept.")
        self.context.done(f"{name} is kept.")
        self._read()

    def _ask_to_forget(self) -> None:
        """Ask once, then forget the person shown."""
        contact_id, name = self._contact.id, self._contact.name
        if self.context.tell.ask(f"Forget {name}?", ["Forget them"], details=_FORGET, careful=True):
            self.context.do(lambda bank: forget(bank, contact_id), self._forgotten, self._failed)

    def _forgotten(self, said: str) -> None:
        self._begin()
        self.message.setText(said)
        self._read()

    def _failed(self, failure: Exception) -> None:
        self.keep.setEnabled(True)
        if not (isinstance(failure, Refusal) and self.form.refuse(failure)):
            tell_failure(self.context.tell, failure)
