"""Fixtures that every part of the tests uses."""

import pytest

from tests.builders import Clock, new_bank, sound


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def bank(tmp_path, clock):
    """An empty bank; whatever a test does to it, its invariants hold at the end."""
    opened = new_bank(tmp_path, clock=clock)
    yield opened
    sound(opened)
    opened.close()
