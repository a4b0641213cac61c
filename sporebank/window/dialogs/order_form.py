"""The empty order form of an exchange: to print, and as a sheet to fill in; with the address it is sent to."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QPlainTextEdit, QVBoxLayout, QWidget

from sporebank.core.exchange import Exchange
from sporebank.core.order_paper import EmptyForm
from sporebank.jobs.order_paper import empty_form
from sporebank.window.context import Context
from sporebank.window.dialogs.paper import PaperDialog
from sporebank.window.widgets.field import Form

_SEND_TO = "orders/send_to"
_PAUSE_MS = 250
_SIDE_WIDTH = 250


class OrderFormDialog(PaperDialog):
    """The form with a field beside it for where it is sent, which is remembered.

    Args:
        context: the open bank.
        parent: the window.
        exchange: whose form it is.
    """

    def __init__(self, context: Context, parent: QWidget | None = None, *, exchange: Exchange) -> None:
        self.send_to = QPlainTextEdit()
        exchange_id = exchange.id
        super().__init__(
            context,
            parent,
            title="Order form",
            file_name="order-form.pdf",
            gather=lambda bank: empty_form(bank, exchange_id),
            render=_render,
            also=(("Save XLSX…", "order-form.xlsx", _sheet),),
        )
        self.send_to.setTabChangesFocus(True)
        self.send_to.setFixedHeight(self.send_to.fontMetrics().lineSpacing() * 5 + 16)
        self.send_to.setPlainText(context.state.get(_SEND_TO, ""))
        form = Form()
        form.setFixedWidth(_SIDE_WIDTH)
        form.add("send_to", "Sen&d it to", self.send_to, "Your address, as it stands on the form.")
        side = QVBoxLayout()
        side.addWidget(form)
        side.addStretch(1)
        self.middle.insertLayout(0, side)
        self._pause = QTimer(self, singleShot=True, interval=_PAUSE_MS)
        self._pause.timeout.connect(self.make)
        self.send_to.textChanged.connect(self._change)

    def _change(self) -> None:
        self.await_wish()
        self._pause.start()

    def make(self) -> None:
        """Render the form with the address as it is written now."""
        if isinstance(self.records, EmptyForm):
            self.context.state.put(_SEND_TO, self.send_to.toPlainText())
            self.records = replace(self.records, send_to=self.send_to.toPlainText())
            super().make()


def _render(form: EmptyForm) -> bytes:
    from sporebank.documents import order_form  # brings ReportLab

    return order_form.render(form)


def _sheet(form: EmptyForm) -> bytes:
    from sporebank.formats.order_form_xlsx import write_form  # brings openpyxl

    return write_form(form)
