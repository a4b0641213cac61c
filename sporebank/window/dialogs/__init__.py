"""Dialogs by key, as `module:Class`; `context.dialog(key, **arguments)` opens `Class(context, parent, **arguments)`."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from PySide6.QtWidgets import QDialog

DIALOGS: dict[str, str] = {
    "help": "sporebank.window.dialogs.help:HelpDialog",
    "take_spore": "sporebank.window.dialogs.vials:TakeDialog",
    "move_vials": "sporebank.window.dialogs.vials:MoveDialog",
    "note_vial": "sporebank.window.dialogs.vials:NoteDialog",
    "look": "sporebank.window.dialogs.looks:LookDialog",
    "looks": "sporebank.window.dialogs.looks:LooksDialog",
    "mishap": "sporebank.window.dialogs.mishaps:MishapDialog",
    "keeping": "sporebank.window.dialogs.keeping:KeepingDialog",
    "clone": "sporebank.window.dialogs.cards:CloneDialog",
    "batch": "sporebank.window.dialogs.cards:BatchDialog",
    "chart": "sporebank.window.dialogs.chart:ChartDialog",
    "report": "sporebank.window.dialogs.report:ReportDialog",
    "test": "sporebank.window.dialogs.tests:TestDialog",
    "change_clone": "sporebank.window.dialogs.clones:ChangeCloneDialog",
    "change_batch": "sporebank.window.dialogs.clones:ChangeBatchDialog",
    "change_name": "sporebank.window.dialogs.name:NameDialog",
    "labels": "sporebank.window.dialogs.labels:LabelsDialog",
    "label_stock": "sporebank.window.dialogs.label_stock:LabelStockDialog",
    "picture": "sporebank.window.dialogs.picture:PictureDialog",
    "printer": "sporebank.window.dialogs.printers:PrinterDialog",
    "measured": "sporebank.window.dialogs.printers:MeasuredDialog",
    "test_page": "sporebank.window.dialogs.printers:RulerDialog",
    "paper": "sporebank.window.dialogs.paper:PaperDialog",
    "contacts": "sporebank.window.dialogs.people:ContactsDialog",
    "new_request": "sporebank.window.dialogs.request:RequestDialog",
    "bench": "sporebank.window.dialogs.bench:BenchDialog",
    "close_parcel": "sporebank.window.dialogs.parcel:CloseDialog",
    "fate": "sporebank.window.dialogs.parcel:FateDialog",
    "payment": "sporebank.window.dialogs.parcel:PaymentDialog",
    "dispatch": "sporebank.window.dialogs.request:DispatchDialog",
    "order": "sporebank.window.dialogs.order:OrderDialog",
    "take_in_orders": "sporebank.window.dialogs.order_import:TakeInDialog",
    "order_form": "sporebank.window.dialogs.order_form:OrderFormDialog",
    "exchange": "sporebank.window.dialogs.exchange:ExchangeDialog",
    "way": "sporebank.window.dialogs.exchange:WayDialog",
    "donation": "sporebank.window.dialogs.donation:DonationDialog",
    "heed": "sporebank.window.dialogs.heed:HeedDialog",
    "permit": "sporebank.window.dialogs.permit:PermitDialog",
    "receive": "sporebank.window.dialogs.receive:ReceiveDialog",
    "results": "sporebank.window.dialogs.results:ResultsDialog",
    "complaint": "sporebank.window.dialogs.results:ComplaintDialog",
    "settle": "sporebank.window.dialogs.results:SettleDialog",
    "list_line": "sporebank.window.dialogs.exchange:LineDialog",
    "add_place": "sporebank.window.dialogs.places:AddPlaceDialog",
    "rename_place": "sporebank.window.dialogs.places:RenameDialog",
    "set_conditions": "sporebank.window.dialogs.places:ConditionsDialog",
    "stocktake": "sporebank.window.dialogs.stocktake:StocktakeDialog",
    "move_place": "sporebank.window.dialogs.places:MovePlaceDialog",
}


def dialog_class(key: str) -> Callable[..., QDialog]:
    """Import and return the class of a dialog."""
    module, _, name = DIALOGS[key].partition(":")
    found: Callable[..., QDialog] = getattr(import_module(module), name)
    return found
