"""Contacts: their papers are kept beside them, and who asks for it is forgotten."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from sporebank.bank import queries
from sporebank.core.permits import Permit, PermitKind
from sporebank.core.records import Contact
from sporebank.jobs.sharing import save_contact
from tests.window.desk import DialogDesk
from tests.window.keys import doubled_letters, press, write


@pytest.fixture
def desk(qtbot: Any, make_context: Any, settle: Any, told: Any) -> DialogDesk:
    made = DialogDesk(qtbot, make_context(), settle, told)
    made.read(lambda bank: save_contact(bank, Contact(0, "Marit Olden", address="12 Fen Lane", country="NO")))
    return made


def chosen(desk: DialogDesk) -> Any:
    """Open the contacts on the one there is, with its papers in sight."""
    dialog = desk.open("contacts")
    dialog.table.selectRow(0)
    dialog.tabs.setCurrentWidget(dialog.papers)
    desk.settle()
    return dialog


def test_a_paper_is_added_changed_and_removed_by_the_keyboard(desk: DialogDesk) -> None:
    asked: list[dict[str, Any]] = []
    desk.context.dialog_wanted.connect(lambda key, arguments: asked.append({"key": key, **arguments}))
    contacts = chosen(desk)
    assert doubled_letters(contacts) == []
    press(desk.qtbot, contacts, "Add a paper…")
    one = asked.pop()
    paper = desk.open(one.pop("key"), **one)
    desk.enter(paper)
    assert "Write the number" in paper.form.fields["number"].error
    write(desk.qtbot, paper, "Number", "12/2026")
    write(desk.qtbot, paper, "Runs out on", "1 Dec 2026")
    write(desk.qtbot, paper, "Labels left", "six")
    desk.enter(paper)
    assert "whole number" in paper.form.fields["labels_left"].error
    write(desk.qtbot, paper, "Labels left", "6")
    desk.enter(paper)
    assert not paper.isVisible()
    permit = Permit(1, 1, PermitKind.IMPORT, "12/2026", date(2026, 12, 1), 6)
    assert desk.read(lambda bank: queries.permits_of(bank, 1)) == [permit] == contacts.papers.papers.rows
    contacts.papers.paper_table.selectRow(0)
    contacts.papers.change.click()
    assert asked.pop()["permit"] == permit
    contacts.papers.drop.click()
    desk.settle()
    assert contacts.papers.papers.rows == []


def test_somebody_new_has_no_papers_yet(desk: DialogDesk) -> None:
    dialog = desk.open("contacts")
    assert not dialog.tabs.isTabEnabled(1)
    assert not dialog.forget.isEnabled()


@pytest.mark.parametrize(("answer", "name"), [("", "Marit Olden"), ("Forget them", "Forgotten person 1")])
def test_somebody_is_forgotten_when_the_keeper_says_so(desk: DialogDesk, answer: str, name: str) -> None:
    assert desk.told is not None
    desk.told.answer = answer
    dialog = chosen(desk)
    press(desk.qtbot, dialog, "Forget…")
    desk.settle()
    assert desk.told.asked == ["Forget Marit Olden?"]
    assert desk.read(lambda bank: queries.contact(bank, 1)).name == name
    if answer:
        assert dialog.model.rows == []
        assert name in dialog.message.text()
        assert dialog.form.name.text() == ""
