"""A copy of the whole bank, put wherever the keeper wants: another disk, a stick."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QWidget

from sporebank.bank import backup
from sporebank.bank.opening import SUFFIX
from sporebank.core.errors import Stopped
from sporebank.window.background import Cancelled, Report
from sporebank.window.context import Context
from sporebank.window.opening_screen import file_name
from sporebank.window.where import ask_where, remember

_FOLDER = "copies/folder"
_KINDS = f"Banks (*{SUFFIX})"


def save_copy(context: Context, parent: QWidget) -> None:
    """Ask where, copy the bank beside the keeper's work, and say where the copy lies and how large it is."""
    proposed = f"{Path(file_name(context.name)).stem} {context.today().isoformat()}{SUFFIX}"
    target = ask_where(context, parent, "Save a copy of the bank", proposed, _KINDS, _FOLDER)
    if target is None:
        return

    def copy(report: Report, cancelled: Cancelled) -> int | None:
        try:
            return backup.save_copy(context.path, target, report, cancelled)
        except Stopped:
            return None

    def tell(size: int | None) -> None:
        if size is None:
            context.tell.info("No copy was made.")
            return
        remember(context, _FOLDER, target)
        context.tell.info(f"A copy of the bank lies at {target} ({_in_words(size)}).")

    context.work("Copying the bank", copy, tell, slow=True, at_closing="A copy of the bank is being written.")


def _in_words(size: int) -> str:
    """Return so many bytes as a keeper reads them: `640 KB`, `3.7 MB`."""
    return f"{size / 1_000:.0f} KB" if size < 1_000_000 else f"{size / 1_000_000:,.1f} MB"
