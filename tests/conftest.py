"""Fixtures that every part of the tests uses."""

import gc

import pytest
from hypothesis import settings

# The same examples every time, so that a check that was green is green again on the next machine. To look for new
# counterexamples: pytest --hypothesis-profile=search
settings.register_profile("same", derandomize=True, database=None, deadline=None)
settings.register_profile("search", max_examples=1000, deadline=None)
settings.load_profile("same")


def pytest_collection_finish():
    """Spare the collector of garbage what stays to the end: thousands of tests are much to go through each time."""
    gc.freeze()


@pytest.fixture
def clock():
    from tests.builders import Clock

    return Clock()


@pytest.fixture
def bank(tmp_path, clock):
    """An empty bank; whatever a test does to it, its invariants hold at the end."""
    from tests.builders import new_bank, sound

    opened = new_bank(tmp_path, clock=clock)
    yield opened
    sound(opened)
    opened.close()
