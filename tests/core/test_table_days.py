from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sporebank.core.table_days import Days

DAY = date(2026, 3, 14)


@pytest.mark.parametrize(
    "text",
    [
        "14/03/2026", "14.03.2026", "14-3-2026", "03/14/2026 10:22:01", "3/14/2026 10:22:01 AM", "2026-03-14T10:00Z",
        "2026/03/14", "14 Mar 2026, 10:22", "14 March 2026", "2026-03-14 received by post",
    ],
)  # fmt: skip
def test_a_day_that_can_be_one_alone_is_read_without_its_time(text):
    assert Days().read(text) == DAY


@pytest.mark.parametrize("text", ["", "03/04/2026", "2026", "Mar 2026", "soon", "31/02/2026", "13/13/2026", "14/03/26"])
def test_what_is_no_certain_day_is_none(text):
    assert Days().read(text) is None


def test_the_rest_of_the_column_says_whether_the_day_comes_first():
    """Day first in much of Europe, month first in the United States; common practice, no source."""
    assert Days.of(["03/04/2026", "14/03/2026"]).read("03/04/2026") == date(2026, 4, 3)
    assert Days.of(["03/04/2026", "03/14/2026 9:00"]).read("03/04/2026") == date(2026, 3, 4)
    assert Days.of(["03/04/2026"]).read("03/04/2026") is None
    both = Days.of(["14/03/2026", "03/14/2026"])
    assert both.read("03/04/2026") is None
    assert both.read("14/03/2026") == both.read("03/14/2026") == DAY


@given(st.lists(st.dates(date(1990, 1, 1), date(2060, 1, 1)), min_size=1), st.sampled_from(["%d/%m/%Y", "%m/%d/%Y"]))
def test_a_column_is_read_as_it_was_written_or_not_at_all(days, pattern):
    """What writes it is the calendar of the standard library."""
    column = [day.strftime(pattern) for day in days]
    found = Days.of(column)
    told = any(day.day > 12 for day in days)
    for day, text in zip(days, column, strict=True):
        assert found.read(text) == (day if told or day.day == day.month else None)
