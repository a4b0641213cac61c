"""Undo and redo by name."""

from __future__ import annotations

from dataclasses import dataclass

from sporebank.bank import undo as bank_undo
from sporebank.bank.bank import Bank


@dataclass(frozen=True)
class NextSteps:
    """The titles of the deeds that undo and redo would act on; empty where there is none."""

    undo: str
    redo: str


def next_steps(bank: Bank) -> NextSteps:
    """Return what undo and redo would act on."""
    undoable, redoable = bank_undo.stacks(bank)
    return NextSteps(undoable[-1][1] if undoable else "", redoable[-1][1] if redoable else "")


def undo(bank: Bank) -> str:
    """Take the last deed back and return its title."""
    return bank_undo.undo(bank)


def redo(bank: Bank) -> str:
    """Do again what was last taken back and return its title."""
    return bank_undo.redo(bank)
