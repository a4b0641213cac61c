"""The numbers of how spore keeps, and the keeper's own in their place."""

import pytest

from sporebank.core.errors import Refusal
from sporebank.core.records import SporeClass
from sporebank.core.storage import INITIAL, KIN, REPLICATES, Number, changed, numbers, refuse_odd
from sporebank.formats.tables import load_storage

STORAGE = load_storage()


def test_every_number_has_its_evidence_and_lies_within_its_limits():
    found = numbers(STORAGE)
    assert len(found) == 3 + 3 * len(SporeClass)
    for number in found:
        assert number.evidence
        refuse_odd(number)


def test_changing_each_number_changes_that_one_alone():
    before = {each.what: each for each in numbers(STORAGE)}
    for what, number in before.items():
        spread = None if number.spread is None else number.spread + 0.1
        after = {each.what: each for each in numbers(changed(STORAGE, {what: (number.value * 1.1, spread)}))}
        assert after[what].value == pytest.approx(number.value * 1.1)
        assert after[what].spread == (None if spread is None else pytest.approx(spread))
        assert {key: each for key, each in after.items() if key != what} == {
            key: each for key, each in before.items() if key != what
        }


def test_a_spread_not_given_stays_and_a_name_not_known_is_let_be():
    table = changed(STORAGE, {"green.room": (20.0, None), INITIAL: (1.0, None), "mossy.room": (1.0, 1.0), "x": (1, 1)})
    assert table.rows[SporeClass.GREEN].room.days == 20.0
    assert table.rows[SporeClass.GREEN].room.spread == STORAGE.rows[SporeClass.GREEN].room.spread
    assert (table.initial, table.initial_spread) == (1.0, STORAGE.initial_spread)


@pytest.mark.parametrize(
    ("number", "field"),
    [
        (Number("green.room", 0.0, 0.5), "value"),
        (Number("green.room", 10.0, 0.0), "spread"),
        (Number("green.room", 10.0, 9.0), "spread"),
        (Number(REPLICATES, 0.9, None), "value"),
        (Number(KIN, 1.0, None), "value"),
        (Number(INITIAL, float("nan"), 0.5), "value"),
    ],
)
def test_odd_numbers_are_refused_with_their_limits(number, field):
    with pytest.raises(Refusal, match="from") as refused:
        refuse_odd(number)
    assert refused.value.field == field
