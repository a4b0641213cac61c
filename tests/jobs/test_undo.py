"""The next undo and redo are offered by name."""

import pytest

from sporebank.core.errors import Refusal
from sporebank.core.records import Reason
from sporebank.jobs import undo
from sporebank.jobs.undo import NextSteps
from sporebank.jobs.vials import TakeForm, note, take
from tests.builders import TODAY, fridge, stored


def test_an_untouched_bank_offers_neither(bank):
    assert undo.next_steps(bank) == NextSteps("", "")


def test_the_names_move_with_every_step(bank):
    fridge(bank)
    first = stored(bank).vial_ids[0]
    store = "Store batch of Dryopteris affinis, 30 mg in 3 vials"
    take(bank, TakeForm(first, 2_000, Reason.GIFT, TODAY))
    taken = undo.next_steps(bank).undo
    assert taken.startswith("Take 2 mg for gift from V-")
    assert undo.undo(bank) == taken
    assert undo.next_steps(bank) == NextSteps(store, taken)
    assert undo.undo(bank) == store
    assert undo.next_steps(bank).redo == store
    assert (undo.redo(bank), undo.redo(bank)) == (store, taken)
    assert undo.next_steps(bank) == NextSteps(taken, "")


def test_a_refused_deed_leaves_undo_and_redo_as_they_were(bank):
    fridge(bank)
    first = stored(bank).vial_ids[0]
    note(bank, [first], "clumped")
    undo.undo(bank)
    before = undo.next_steps(bank)
    with pytest.raises(Refusal):
        take(bank, TakeForm(first, 99_000, Reason.LOSS, TODAY))
    assert undo.next_steps(bank) == before
    assert undo.redo(bank).endswith("clumped")
