"""A copy that the keeper asks for: whole, beside the work, and never in the place of what must not be lost."""

import errno
import os
import re
import sqlite3
from pathlib import Path

import pytest

from sporebank.bank import backup
from sporebank.bank.opening import open_bank
from sporebank.bank.sql import rows
from sporebank.bank.tables import Meta
from sporebank.core.errors import Refusal, Stopped
from sporebank.jobs.vials import note
from tests.builders import Clock, fridge, sound, stored
from tests.narrow import files_up_to


@pytest.fixture
def filled(bank):
    fridge(bank)
    stored(bank)
    return bank


@pytest.fixture
def stick(tmp_path):
    place = tmp_path / "stick"
    place.mkdir()
    return place


@pytest.fixture
def closed(filled, tmp_path):
    """The file of a bank that nobody has open."""
    path = tmp_path / "closed.sporebank"
    backup.save_copy(filled.path, path)
    return path


def refused(path, target, words):
    before = sorted(target.parent.glob("*"))
    with pytest.raises(Refusal, match=words):
        backup.save_copy(path, target)
    assert sorted(target.parent.glob("*")) == before


def everything(bank):
    tables = [table for table in bank.database.get_tables() if table != "sqlite_sequence"]
    return {table: sorted(rows(bank, f"SELECT * FROM {table}"), key=repr) for table in tables}


def test_a_copy_has_every_record_and_nothing_beside_it(filled, stick):
    size = backup.save_copy(filled.path, stick / "kept.sporebank")
    (kept,) = stick.iterdir()
    assert kept.stat().st_size == size
    copy = open_bank(kept, Clock())
    sound(copy)
    assert everything(copy) == everything(filled)
    copy.close()


def test_what_is_done_meanwhile_is_not_in_the_copy_and_does_not_make_it_begin_again(filled, stick, monkeypatch):
    monkeypatch.setattr(backup, "PIECE", 10)
    told = []

    def work_on(done, of, _):
        told.append((done, of))
        note(filled, [1], f"looked at {len(told)} times")

    before = everything(filled)
    backup.save_copy(filled.path, stick / "kept.sporebank", work_on)
    assert len(told) > 3
    assert told == sorted(told)
    assert told[-1][0] == told[-1][1]
    copy = open_bank(stick / "kept.sporebank", Clock())
    assert everything(copy) == before != everything(filled)
    copy.close()


def test_stopping_leaves_nothing_and_what_was_there_before(filled, stick, monkeypatch):
    monkeypatch.setattr(backup, "PIECE", 10)
    target, told = stick / "kept.sporebank", []
    target.write_bytes(b"an older copy")
    with pytest.raises(Stopped):
        backup.save_copy(filled.path, target, lambda *step: told.append(step), lambda: bool(told))
    assert [one.name for one in stick.iterdir()] == ["kept.sporebank"]
    assert target.read_bytes() == b"an older copy"
    note(filled, [1], "the bank goes on")


def test_a_daily_copy_that_was_stopped_is_made_the_next_time(filled):
    clock = Clock()
    kept = [backup.daily(filled.path, clock.day.replace(day=day), keep=2) for day in (1, 2)]
    with pytest.raises(Stopped):
        backup.daily(filled.path, clock.day.replace(day=3), 2, cancelled=lambda: True)
    assert sorted(backup.folder(filled.path).iterdir()) == kept
    assert backup.daily(filled.path, clock.day.replace(day=3), keep=2)


def test_a_full_disk_is_named(filled, stick, monkeypatch):
    connect = sqlite3.connect

    def connected(path, *more):
        made = connect(path, *more)
        if path != filled.path:
            made.execute("PRAGMA max_page_count = 20")
        return made

    monkeypatch.setattr(sqlite3, "connect", connected)
    refused(filled.path, stick / "kept.sporebank", "not enough room")


@pytest.mark.parametrize("room", [0, 5_000, 100_000])
def test_a_large_copy_that_finds_no_room_leaves_nothing(filled, stick, room):
    Meta.insert(key="ballast", value="x" * 4_000_000).execute(filled.database)  # more than is written in one go
    with files_up_to(room):
        refused(filled.path, stick / "kept.sporebank", "could not be written")
    assert backup.save_copy(filled.path, stick / "kept.sporebank")


@pytest.mark.skipif(not Path("/proc/self").is_dir(), reason="there is no folder here that nobody may write to")
def test_a_folder_that_may_not_be_written_to_is_named(filled):
    with pytest.raises(Refusal, match="may not be written to"):
        backup.save_copy(filled.path, Path("/proc/self/kept.sporebank"))


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.EROFS, "write protection"),
        (errno.EACCES, "write protection"),
        (errno.EPERM, "write protection"),
        (errno.ENOSPC, "not enough room"),
        (errno.EIO, "could not be written"),
    ],
)
def test_what_the_system_says_is_told_by_its_number(filled, stick, monkeypatch, number, words):
    def unlink(*_, **__):
        raise OSError(number, "in the words of any system, such as full or unable to open")

    monkeypatch.setattr(Path, "unlink", unlink)
    refused(filled.path, stick / "kept.sporebank", words)


def test_words_in_a_name_do_not_make_the_disk_full(filled, stick):
    place = stick / "full of unable to open readonly"
    place.mkdir()
    refused(filled.path, place / f"{'x' * 245}.sporebank", "is too long")


def test_a_damaged_bank_is_said_to_be_damaged_and_where_its_daily_copies_lie(closed, stick):
    kept = backup.daily(closed, Clock().day, keep=3)
    _damage(closed)
    told = f"is damaged, .* daily copies of the bank lie in {re.escape(str(kept.parent))}"
    refused(closed, stick / "kept.sporebank", told)
    assert closed.read_bytes()[8192:8196] == b"UUUU"
    _damage(kept)
    with pytest.raises(Refusal, match=told):
        backup.restore(kept, stick / "again.sporebank")


def _damage(path):
    data = bytearray(path.read_bytes())
    data[8192 : 8192 + 3 * 4096] = b"U" * 3 * 4096
    path.write_bytes(data)


@pytest.mark.parametrize("where", ["header", "schema"])
def test_a_bank_whose_first_page_is_damaged_is_said_to_be_damaged(closed, stick, where):
    data = bytearray(closed.read_bytes())
    spoilt = slice(0, 16) if where == "header" else slice(100, 2000)
    data[spoilt] = b"U" * (spoilt.stop - spoilt.start)
    closed.write_bytes(data)
    refused(closed, stick / "kept.sporebank", "is damaged")


def test_a_folder_for_the_bank_that_cannot_be_made_is_no_matter_of_copies(filled, tmp_path):
    copy = backup.daily(filled.path, Clock().day, keep=3)
    (tmp_path / "gone").write_text("a file where the disk was")
    with pytest.raises(Refusal, match="There is no folder .*gone.* Look whether the disk is plugged in"):
        backup.restore(copy, tmp_path / "gone" / "ferns" / "kept.sporebank")


def test_copies_that_cannot_be_kept_beside_the_bank_say_so(filled):
    backup.folder(filled.path).write_text("in the way")
    with pytest.raises(Refusal, match="No copy can be kept in .* Move the bank"):
        backup.daily(filled.path, Clock().day, keep=3)


def test_a_stick_that_is_gone_is_named_and_not_made_anew(filled, stick):
    refused(filled.path, stick / "gone" / "kept.sporebank", "no folder")
    assert not (stick / "gone").exists()


@pytest.mark.parametrize("how", ["itself", "by a link", "by another name"])
def test_a_copy_is_never_written_over_the_bank_itself(filled, stick, how):
    target = filled.path if how == "itself" else stick / "kept.sporebank"
    if how == "by a link":
        target.symlink_to(filled.path)
    elif how == "by another name":
        os.link(filled.path, target)
    refused(filled.path, target, "is the bank itself")
    sound(filled)


def test_a_copy_is_never_written_over_a_bank_that_is_open_or_was_not_closed(filled, stick):
    target = stick / "kept.sporebank"
    backup.save_copy(filled.path, target)
    other = open_bank(target, Clock())
    note(other, [1], "worked on")
    refused(filled.path, target, "open in another window, or was not closed")
    other.close()
    assert backup.save_copy(filled.path, target)
    target.unlink()
    target.with_name("kept.sporebank-wal").write_bytes(b"what a killed program left")
    refused(filled.path, target, "kept.sporebank-wal lies there")
