"""Fixtures that every part of the tests uses."""

import pytest


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
