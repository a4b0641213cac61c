"""Every action of the window, declared once: what it is called, its keys, its icon, and what it calls."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Needs(StrEnum):
    """What must be there for an action to be enabled."""

    NOTHING = "nothing"
    UNDO = "something to undo"
    REDO = "something to do again"
    SELECTION = "something selected"
    ONE = "one thing selected"
    BY_HAND = "a request that is not yet sent, and is no order of an exchange"
    PACKETS = "a request with packets"
    PACKED = "a parcel that is not yet sent"
    UNCLOSED = "a request that is not closed"
    SENT = "a parcel that was sent"
    CAMERA = "a camera"


@dataclass(frozen=True)
class ActionSpec:
    """One action. `scope` is "window" or a page's key; `method` is the name of a method there."""

    id: str
    text: str
    method: str
    menu: str
    tip: str
    shortcut: str = ""
    icon: str = ""
    scope: str = "window"
    needs: Needs = Needs.NOTHING


_TODAY = "today"
_VIALS = "vials"
_CULL = "cull"
_SETTINGS = "settings"
_PLACES = "places"
_SHARE = "share"
_STORE = "store"
_TEST = "test"
_SOW = "sow"
_EXCHANGE = "exchange"

ACTIONS: tuple[ActionSpec, ...] = (
    ActionSpec(
        "store_batch", "Store a batch", "store_batch", "Bank",
        "Put the spore of one collecting day into vials", "Ctrl+N", "store",
    ),
    ActionSpec("find", "Find", "find_anything", "Bank", "Find anything, or scan a label", "Ctrl+F", "find"),
    ActionSpec(
        "read_picture", "Read a picture…", "read_picture", "Bank", "Read the labels in a photo or a PDF",
        "Ctrl+Shift+V",
    ),
    ActionSpec(
        "paste_picture", "Paste a picture", "paste_picture", "Edit", "Read the labels in the picture on the clipboard",
        "Ctrl+V",
    ),
    ActionSpec(
        "scan_with_camera", "Scan with the camera…", "scan_with_camera", "Bank",
        "Every label held before the camera is a scan", needs=Needs.CAMERA,
    ),
    ActionSpec(
        "another_bank", "Open another bank…", "open_another", "Bank", "Close this bank and open another",
        "Ctrl+O", "folder",
    ),
    ActionSpec(
        "save_copy", "Save a copy…", "save_copy", "Bank", "Put a copy of the whole bank on another disk or a stick",
        "Ctrl+Shift+Y",
    ),
    ActionSpec("quit", "Quit", "close", "Bank", "Close the bank and the window", "Ctrl+Q"),
    ActionSpec("undo", "Undo", "undo", "Edit", "Take the last deed back", "Ctrl+Z", "undo", needs=Needs.UNDO),
    ActionSpec(
        "redo", "Redo", "redo", "Edit", "Do again what was taken back", "Ctrl+Shift+Z", "redo",
        needs=Needs.REDO,
    ),
    ActionSpec(
        "take_spore", "Take spore", "take_spore", "Vials", "Book spore out of the vials selected",
        "Ctrl+T", "take", _VIALS, Needs.SELECTION,
    ),
    ActionSpec(
        "move_vials", "Move", "move_vials", "Vials", "Put the vials selected somewhere else",
        "Ctrl+M", "move", _VIALS, Needs.SELECTION,
    ),
    ActionSpec(
        "sow_vial", "Sow from this vial", "sow_vial", "Vials", "Go to where it is sown, this vial chosen",
        "Ctrl+Shift+W", "sow", _VIALS, Needs.ONE,
    ),
    ActionSpec(
        "test_batch", "Test its batch", "test_batch", "Vials", "Write down a germination test of its batch",
        "Ctrl+Shift+T", "test", _VIALS, Needs.ONE,
    ),
    ActionSpec(
        "store_same", "Store more of its clone", "store_same", "Vials", "Store another batch of the same plant",
        "Ctrl+Shift+B", "store", _VIALS, Needs.ONE,
    ),
    ActionSpec(
        "print_labels", "Print labels", "print_labels", "Vials", "Labels for the vials selected",
        "Ctrl+P", "print", _VIALS, Needs.SELECTION,
    ),
    ActionSpec(
        "bag_labels", "Bag labels", "bag_labels", "Vials", "Labels for the bags of their batches", "", "print",
        _VIALS, Needs.SELECTION,
    ),
    ActionSpec(
        "record_mishap", "What happened…", "record_mishap", "Vials", "Put on record that vials got wet, hot, or thawed",
        "", "", _VIALS, Needs.SELECTION,
    ),
    ActionSpec(
        "note_vials", "Note", "note_vial", "Vials", "Write a note on the vial selected",
        "Ctrl+E", "note", _VIALS, Needs.ONE,
    ),
    ActionSpec(
        "open_clone", "Open the clone", "open_clone", "Vials", "The plant this spore came from",
        "Ctrl+K", "clone", _VIALS, Needs.ONE,
    ),
    ActionSpec(
        "open_batch", "Open the batch", "open_batch", "Vials", "All that was collected and cleaned together",
        "Ctrl+B", "batch", _VIALS, Needs.ONE,
    ),
    ActionSpec(
        "open_chart", "Open the chart", "open_chart", "Vials", "How the vial selected declines, large and to be saved",
        "Ctrl+H", "chart", _VIALS, Needs.ONE,
    ),
    ActionSpec(
        "print_report", "Batch report", "print_report", "Vials", "All that is known of its batch, on paper",
        "Ctrl+Shift+H", "print", _VIALS, Needs.ONE,
    ),
    ActionSpec(
        "select_all", "Select all", "select_all", "Vials", "Select every vial the table shows",
        "Ctrl+A", "", _VIALS,
    ),
    ActionSpec(
        "columns", "Columns…", "choose_columns", "Vials", "Choose which columns the table shows",
        "Ctrl+Shift+C", "columns", _VIALS,
    ),
    ActionSpec(
        "print_waiting", "Print waiting labels", "print_waiting", "Bank", "Labels of what was stored and sown since",
        "Ctrl+Alt+L", "print", _TODAY,
    ),
    ActionSpec(
        "keep_batch", "Store this batch", "keep_batch", "Batch", "Put what is written on the page into the bank",
        "Ctrl+Return", "store", _STORE, Needs.SELECTION,
    ),
    ActionSpec(
        "fill_request", "Fill", "fill_request", "Share", "Propose the vials to draw from, to be changed and kept",
        "Ctrl+Shift+F", "share", _SHARE, Needs.BY_HAND,
    ),
    ActionSpec(
        "new_request", "New request", "new_request", "Share", "Write down who asks for what", "Ctrl+Shift+N", "note",
        _SHARE,
    ),
    ActionSpec(
        "contacts", "Contacts", "open_contacts", "Share", "Everybody who gives or asks", "Ctrl+Shift+K", "", _SHARE,
    ),
    ActionSpec(
        "receive", "Receive a parcel…", "receive_parcel", "Share", "Take in a parcel of another bank by its manifest",
        "Ctrl+Alt+I", "", _SHARE,
    ),
    ActionSpec(
        "packet_labels", "Packet labels", "print_packet_labels", "Share", "Labels for the packets of the parcel",
        "Ctrl+Shift+L", "print", _SHARE, Needs.PACKETS,
    ),
    ActionSpec(
        "parcel_label", "Parcel label", "print_parcel_label", "Share", "The label of the parcel, with its address", "",
        "print", _SHARE, Needs.PACKETS,
    ),
    ActionSpec(
        "address_label", "Address label", "print_address_label", "Share", "The address of the person who asks", "",
        "print", _SHARE, Needs.ONE,
    ),
    ActionSpec(
        "packing_list", "Packing list", "print_packing_list", "Share", "What to take from where, to be ticked",
        "Ctrl+Shift+G", "print", _SHARE, Needs.PACKETS,
    ),
    ActionSpec(
        "manifest", "Manifest", "print_manifest", "Share", "What travels with the parcel, also as a table",
        "Ctrl+Shift+M", "print", _SHARE, Needs.PACKETS,
    ),
    ActionSpec(
        "pack_parcel", "Pack…", "pack_parcel", "Share", "Scan every packet into its parcel, one parcel after the other",
        "Ctrl+Alt+K", "", _SHARE, Needs.PACKED,
    ),
    ActionSpec(
        "pick_list", "Pick list", "print_pick_list", "Share", "One walk past the vials of all requests that are filled",
        "", "print", _SHARE,
    ),
    ActionSpec(
        "dispatch", "Dispatch…", "dispatch", "Share", "Book the parcel out of the ledger", "Ctrl+Shift+D", "",
        _SHARE, Needs.PACKED,
    ),
    ActionSpec(
        "close_request", "Close the request", "close_request", "Share", "It will not be filled any further", "", "",
        _SHARE, Needs.UNCLOSED,
    ),
    ActionSpec(
        "open_parcel", "Open the parcel again", "open_parcel", "Share", "So that more can be put in or taken out",
        "", "", _SHARE, Needs.PACKED,
    ),
    ActionSpec(
        "record_fate", "Came back or lost…", "record_fate", "Share", "Put on record that a parcel never arrived",
        "", "", _SHARE, Needs.SENT,
    ),
    ActionSpec(
        "record_results", "What came of it…", "record_results", "Share",
        "Write down what somebody tells of the packets they got", "Ctrl+Alt+E", "", _SHARE, Needs.SENT,
    ),
    ActionSpec(
        "begin_exchange", "Begin an exchange", "begin_exchange", "Share", "A yearly round, or a list open all year",
        "Ctrl+Alt+N", "exchange", _EXCHANGE,
    ),
    ActionSpec(
        "change_exchange", "Dates and rules…", "change_exchange", "Share", "Change the dates and the rules",
        "Ctrl+Alt+R", "", _EXCHANGE, Needs.ONE,
    ),
    ActionSpec(
        "close_exchange", "Close or open again", "close_exchange", "Share", "Close this exchange, or open it again",
        "", "", _EXCHANGE, Needs.ONE,
    ),
    ActionSpec(
        "record_test", "Record the test", "record_test", "Batch", "Write down the germination test on the page",
        "Ctrl+R", "test", _TEST, Needs.SELECTION,
    ),
    ActionSpec(
        "open_tested", "Its tests", "open_tested", "Batch", "The batch and all its tests, to leave one out",
        "Ctrl+Shift+R", "batch", _TEST, Needs.ONE,
    ),
    ActionSpec(
        "sow_pots", "Sow", "sow_pots", "Batch", "Book the sowing on the page", "Ctrl+Shift+S", "sow", _SOW, Needs.ONE,
    ),
    ActionSpec(
        "print_pots", "Pot labels", "print_pots", "Batch", "Labels for the pots of the sowing selected",
        "Ctrl+Alt+P", "print", _SOW, Needs.SELECTION,
    ),
    ActionSpec(
        "record_look", "Record a look…", "record_look", "Batch", "Write down what is seen in the pots selected",
        "Ctrl+I", "", _SOW, Needs.SELECTION,
    ),
    ActionSpec(
        "list_looks", "Looks on record…", "list_looks", "Batch",
        "Every look at the pots selected, to take back what was a mistake", "Ctrl+J", "", _SOW, Needs.SELECTION,
    ),
    ActionSpec(
        "cull_vials", "Cull", "cull_vials", "Cull", "Take the vials selected out of the bank", "Ctrl+D", "cull",
        _CULL, Needs.SELECTION,
    ),
    ActionSpec(
        "choose_cull", "Select what may go", "choose_cull", "Cull",
        "Select every vial of which the advice is to cull, the last of a clone left out", "Ctrl+G", "", _CULL,
    ),
    ActionSpec(
        "print_cull_sheet", "Cull sheet", "print_cull_sheet", "Cull", "What goes, where it is and why, to be signed",
        "Ctrl+Shift+P", "print", _CULL, Needs.SELECTION,
    ),
    ActionSpec(
        "add_place", "Add a place", "add_place", "Places", "A room, fridge, freezer, shelf or box", "Ctrl+Shift+A",
        "places", _PLACES,
    ),
    ActionSpec(
        "move_slots", "Move vials…", "move_slots", "Places", "Put the vials selected somewhere else (Ctrl+M)", "",
        "move", _PLACES, Needs.SELECTION,
    ),
    ActionSpec(
        "place_labels", "Labels of its vials", "place_labels", "Places", "Labels for every vial in the place", "Ctrl+L",
        "print", _PLACES, Needs.ONE,
    ),
    ActionSpec(
        "place_label", "Label of the place", "place_label", "Places", "A label for the place or box itself", "",
        "print", _PLACES, Needs.ONE,
    ),
    ActionSpec(
        "inner_labels", "Labels of all places in it", "inner_labels", "Places",
        "Labels for the place and for every place in it", "", "print", _PLACES, Needs.ONE,
    ),
    ActionSpec(
        "stocktake", "Stocktake…", "take_stock", "Places", "Scan everything in the place, and set right what is not",
        "Ctrl+Shift+I", "", _PLACES, Needs.ONE,
    ),
    ActionSpec(
        "rename_place", "Rename…", "rename_place", "Places", "Give the place another name", "F2", "", _PLACES,
        Needs.ONE,
    ),
    ActionSpec(
        "set_conditions", "Conditions…", "set_conditions", "Places", "Temperature and humidity, from a day on",
        "Ctrl+Shift+E", "", _PLACES, Needs.ONE,
    ),
    ActionSpec(
        "place_mishap", "What happened here…", "place_mishap", "Places",
        "Put on record what befell all vials in a place", "", "", _PLACES, Needs.ONE,
    ),
    ActionSpec(
        "move_place", "Move the place…", "move_place", "Places", "Put a box and all in it somewhere else",
        "Ctrl+Shift+O", "", _PLACES, Needs.ONE,
    ),
    ActionSpec(
        "keep_settings", "Keep settings", "keep_settings", "Bank", "Keep what is written on the page", "Ctrl+S", "",
        _SETTINGS,
    ),
    ActionSpec(
        "reset_settings", "Write the defaults", "reset_settings", "Bank", "Write the defaults into the fields", "", "",
        _SETTINGS,
    ),
    ActionSpec(
        "spore_keeps", "How spore keeps…", "open_keeping", "Bank", "The numbers behind every forecast",
        "", "", _SETTINGS,
    ),
    ActionSpec(
        "label_stock", "Labels and printers…", "set_up_labels", "Bank",
        "Layouts, sheets and printers of your own, and what was printed", "Ctrl+Alt+S", "print",
    ),
    ActionSpec(
        "cautions", "Cautions and help", "show_help", "Help", "Keys, and what to be careful about", "F1", "help",
    ),
    ActionSpec(
        "next_area", "Next area", "next_area", "Help", "Go on to the pages, the page, or its panel", "F6",
    ),
)  # fmt: skip

MENUS = ("Bank", "Edit", "Pages", "Vials", "Batch", "Share", "Cull", "Places", "Help")


def action(action_id: str) -> ActionSpec:
    """Return an action by its id."""
    return next(spec for spec in ACTIONS if spec.id == action_id)
