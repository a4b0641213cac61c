"""Whom the words of a form mean, where several people are called the same."""

from __future__ import annotations

import pytest
from pytestqt.qtbot import QtBot

from sporebank.core.records import Contact
from sporebank.window.person_fields import PersonFields, told_apart
from sporebank.window.widgets.field import Form

IDA = Contact(1, "Ida Falk", country="SE", email="ida@example.org")
OTHER = Contact(2, "Ida Falk", address="Lane 1\nNordby", country="SE")
JON = Contact(3, "Jon Brandt", country="DE", email="jon@example.org")


@pytest.fixture
def fields(qtbot: QtBot) -> PersonFields:
    form = Form()
    qtbot.addWidget(form)
    found = PersonFields(form)
    found.add_name()
    found.add_new()
    form.show()
    found.offer([IDA, OTHER, JON])
    return found


def test_people_who_would_read_the_same_are_told_apart() -> None:
    assert told_apart([IDA, OTHER, JON]) == {
        "Ida Falk, SE, ida@example.org": IDA, "Ida Falk, SE, Nordby": OTHER, "Jon Brandt, DE": JON,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("typed", "known"),
    [
        ("ida falk, se, ida@example.org", IDA),
        ("Ida Falk, SE, Nordby", OTHER),
        ("Jon Brandt", JON),
        ("jon brandt, de", JON),
        ("Ida Falk", None),
        ("Ida Falk, SE", None),
        ("Pia Lund", None),
    ],
)
def test_each_of_them_can_be_chosen(fields: PersonFields, qtbot: QtBot, typed: str, known: Contact | None) -> None:
    qtbot.keyClicks(fields.who, typed)
    assert fields.known() == known
    assert fields.email.isVisible() == (known is None)


def test_a_name_of_several_says_so(fields: PersonFields, qtbot: QtBot) -> None:
    name = fields._form.fields["name"]
    assert "Somebody new is kept" in name._below.text()
    qtbot.keyClicks(fields.who, "Ida Falk")
    assert "Several are called so. Choose one" in name._below.text()
    qtbot.keyClicks(fields.who, "a")
    assert "Somebody new is kept" in name._below.text()
