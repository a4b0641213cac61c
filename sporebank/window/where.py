"""Asking the keeper where a file goes."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QFileDialog, QWidget

from sporebank.window.context import Context


def ask_where(
    context: Context, parent: QWidget, title: str, file_name: str, kinds: str, remembered: str
) -> Path | None:
    """Return where a file goes, or None when turned away; nothing that is there is taken without asking.

    Args:
        context: the open bank.
        parent: what asks.
        title: what the dialog is called.
        file_name: proposed; the file has its ending, whatever is typed.
        kinds: what the dialog shows, as Qt writes it.
        remembered: the key under which a folder was remembered.
    """
    ending = Path(file_name).suffix
    folder = Path(context.state.get(remembered, "") or Path.home())
    chosen, _ = QFileDialog.getSaveFileName(parent, title, str(folder / file_name), kinds)
    if not chosen:
        return None
    target = Path(chosen if chosen.lower().endswith(ending) else chosen + ending)
    if str(target) != chosen and target.exists() and not _may_replace(context, target):
        return None
    return target


def remember(context: Context, remembered: str, target: Path) -> None:
    """Remember the folder of a file that was written, so that the next one is offered there."""
    context.state.put(remembered, str(target.parent))


def _may_replace(context: Context, target: Path) -> bool:
    """Ask about a file that the system's dialog did not ask about, since its ending was added here."""
    return bool(context.tell.ask(f"{target.name} is there already. Write over it?", ["Write over it"]))
