import pytest
from hypothesis import given
from hypothesis import strategies as st

from sporebank.core import slots
from sporebank.core.errors import Refusal


def test_slots_are_named_by_row_and_column():
    assert [slots.label(slot, 9) for slot in (0, 8, 9, 80)] == ["A1", "A9", "B1", "I9"]


def test_rows_go_on_after_z():
    assert slots.label(26, 1) == "AA1"
    assert slots.parse("AB1", 40, 1) == 27


@given(st.integers(1, 60), st.integers(1, 40), st.data())
def test_a_label_names_its_slot(rows, columns, data):
    slot = data.draw(st.integers(0, rows * columns - 1))
    assert slots.parse(slots.label(slot, columns), rows, columns) == slot


@pytest.mark.parametrize("text", ["", "9", "J1", "A0", "A10", "C-3", "AAA1", "Ä1"])
def test_other_cells_are_refused_with_the_range(text):
    with pytest.raises(Refusal, match="A1 to I9"):
        slots.parse(text, 9, 9)
