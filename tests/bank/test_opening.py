"""Opening: lock, quick check, version, copy before an upgrade; every kind of bad file gets its sentence."""

import errno
import os
import re
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from sporebank.bank import backup, opening, upgrades
from sporebank.bank.opening import Trouble, Unopenable, create, open_bank
from sporebank.bank.upgrades import Upgrade
from sporebank.core.errors import Refusal
from tests.builders import Clock
from tests.narrow import files_up_to


@pytest.fixture
def path(tmp_path):
    bank = create(tmp_path / "fernery.sporebank", "Fernery", Clock())
    bank.close()
    return tmp_path / "fernery.sporebank"


def trouble_with(path: Path) -> Unopenable:
    with pytest.raises(Unopenable) as caught:
        open_bank(path, Clock())
    assert str(caught.value)[-1] in ".?"
    return caught.value


def test_a_new_bank_has_its_name_and_a_tag_of_three(path):
    bank = open_bank(path, Clock())
    assert (bank.name, len(bank.tag), bank.path) == ("Fernery", 3, path)
    bank.close()


def test_a_bank_needs_a_name_and_a_free_path(path, tmp_path):
    with pytest.raises(Refusal, match="name") as caught:
        create(tmp_path / "other.sporebank", "   ", Clock())
    assert caught.value.field == "name"
    with pytest.raises(Refusal, match="already") as caught:
        create(path, "Fernery", Clock())
    assert caught.value.field == "path"


def test_nothing_is_left_behind_where_no_bank_can_be_made(tmp_path):
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(Refusal, match="No bank can be made"):
        create(tmp_path / "file" / "fernery.sporebank", "Fernery", Clock())


def test_a_name_that_is_too_long_is_refused(tmp_path):
    path = tmp_path / f"{'n' * 300}.sporebank"
    with pytest.raises(Refusal, match="shorter name") as caught:
        create(path, "n" * 300, Clock())
    assert caught.value.field == "path"
    assert trouble_with(path).trouble is Trouble.MISSING


def test_no_bank_is_begun_where_there_is_no_room_for_it(tmp_path):
    for room in (10_000, 100_000):  # one stops before the first table, the other within them
        with files_up_to(room), pytest.raises(Refusal, match=r"room, or choose another folder\."):
            create(tmp_path / "fernery.sporebank", "Fernery", Clock())
        assert not list(tmp_path.glob("fernery*"))


def test_a_bank_on_a_disk_without_room_is_not_called_damaged(path):
    with files_up_to(8_000):
        found = trouble_with(path)
    assert found.trouble is Trouble.UNREACHABLE
    assert re.search(r"cannot be opened now\. .*room, then try again\.$", str(found))
    open_bank(path, Clock()).close()


def test_a_bank_whose_disk_fails_is_not_called_damaged(path, monkeypatch):
    def failing(self, *_):
        raise OSError(errno.EIO, "input/output error")

    monkeypatch.setattr(Path, "open", failing)
    found = trouble_with(path)
    assert found.trouble is Trouble.UNREACHABLE
    assert "plugged in" in str(found)


def test_a_missing_file_says_so(tmp_path):
    assert trouble_with(tmp_path / "gone.sporebank").trouble is Trouble.MISSING


def test_a_bank_in_use_is_not_opened_again(path):
    bank = open_bank(path, Clock())
    assert trouble_with(path).trouble is Trouble.LOCKED
    bank.close()
    open_bank(path, Clock()).close()


def test_a_bank_in_use_by_another_process_is_not_opened(path):
    held = "import sys; from pathlib import Path; from sporebank.bank.opening import open_bank;"
    held += "bank = open_bank(Path(sys.argv[1])); print('open', flush=True); sys.stdin.read(); bank.close()"
    command = [sys.executable, "-c", held, str(path)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as other:
        assert other.stdout.readline() == "open\n"
        assert trouble_with(path).trouble is Trouble.LOCKED
        other.communicate("")
    open_bank(path, Clock()).close()


def test_a_lock_left_by_a_killed_process_does_not_lock_out(path):
    held = "import os, sys; from pathlib import Path; from sporebank.bank.opening import open_bank;"
    held += "open_bank(Path(sys.argv[1])); os.kill(os.getpid(), 9)"
    subprocess.run([sys.executable, "-c", held, str(path)], check=False)
    open_bank(path, Clock()).close()


@pytest.mark.parametrize("content", [b"", b"name;age\nDryopteris;3\n", b"PK\x03\x04" + bytes(500)])
def test_something_else_is_not_a_bank(tmp_path, content):
    (tmp_path / "sheet.sporebank").write_bytes(content)
    found = trouble_with(tmp_path / "sheet.sporebank")
    assert found.trouble is Trouble.FOREIGN
    assert found.details


def test_a_database_of_another_program_is_not_a_bank(tmp_path):
    with closing(sqlite3.connect(tmp_path / "other.sporebank")) as connection:
        connection.execute("CREATE TABLE stamp (id INTEGER)")
    assert trouble_with(tmp_path / "other.sporebank").trouble is Trouble.FOREIGN


def test_a_damaged_bank_is_left_as_it_is(path):
    data = bytearray(path.read_bytes())
    data[5000:9000] = b"\xff" * 4000
    path.write_bytes(data)
    assert trouble_with(path).trouble is Trouble.DAMAGED
    assert path.read_bytes() == data


def test_half_a_bank_is_damaged(path):
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    assert trouble_with(path).trouble is Trouble.DAMAGED


@pytest.mark.parametrize(
    "statement",
    [
        "DROP TABLE meta",
        "DROP TABLE figure",
        "DROP TABLE outlook",
        "DELETE FROM setting",
        "UPDATE setting SET value = '{'",
        "UPDATE setting SET value = '7'",
        """UPDATE setting SET value = '{"cull_line": null}'""",
        """UPDATE setting SET value = '{"keeper": 7}'""",
        "INSERT INTO meta VALUES ('lives_on', 'soon')",
    ],
)
def test_a_bank_that_sqlite_finds_whole_but_lacks_what_every_bank_has_is_damaged(path, statement):
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(statement)
        connection.commit()
    found = trouble_with(path)
    assert found.trouble is Trouble.DAMAGED
    assert found.details
    assert trouble_with(path).trouble is Trouble.DAMAGED  # the lock was let go


def test_a_bank_that_another_program_writes_to_is_not_called_damaged(path, monkeypatch):
    monkeypatch.setattr(opening, "PATIENCE", 0.0)  # it would still be locked after the five seconds
    with closing(sqlite3.connect(path)) as other:
        other.execute("PRAGMA journal_mode = delete")
        other.execute("BEGIN EXCLUSIVE")
        assert trouble_with(path).trouble is Trouble.LOCKED


@pytest.mark.parametrize("where", ["file", "folder"])
def test_a_bank_that_may_only_be_read_is_not_opened(path, monkeypatch, where):
    kept = path if where == "file" else path.parent
    monkeypatch.setattr(os, "access", lambda file, mode: not (file == kept and mode == os.W_OK))  # root may write all
    assert trouble_with(path).trouble is Trouble.UNWRITABLE


def test_a_bank_of_a_newer_program_is_refused_and_not_touched(path):
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(f"PRAGMA user_version = {upgrades.CURRENT + 1}")
    found = trouble_with(path)
    assert found.trouble is Trouble.TOO_NEW
    assert "newer" in str(found)
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (upgrades.CURRENT + 1,)


def test_an_upgrade_comes_after_a_copy_and_all_at_once(path, monkeypatch):
    step = Upgrade(upgrades.CURRENT + 1, "a new column", ("ALTER TABLE contact ADD COLUMN phone TEXT",))
    monkeypatch.setattr(upgrades, "UPGRADES", (*upgrades.UPGRADES, step))
    monkeypatch.setattr(upgrades, "CURRENT", step.number)
    open_bank(path, Clock()).close()
    (copy,) = backup.folder(path).iterdir()
    with closing(sqlite3.connect(copy)) as old, closing(sqlite3.connect(path)) as new:
        assert old.execute("PRAGMA user_version").fetchone() == (step.number - 1,)
        assert new.execute("PRAGMA user_version").fetchone() == (step.number,)
        assert "phone" in [row[1] for row in new.execute("PRAGMA table_info(contact)")]


def test_a_failing_upgrade_leaves_the_file_as_it_was(path, monkeypatch):
    statements = ("ALTER TABLE contact ADD COLUMN phone TEXT", "ALTER TABLE nothing ADD COLUMN phone TEXT")
    monkeypatch.setattr(upgrades, "UPGRADES", (*upgrades.UPGRADES, Upgrade(upgrades.CURRENT + 1, "wrong", statements)))
    monkeypatch.setattr(upgrades, "CURRENT", upgrades.CURRENT + 1)
    assert "as it was" in str(trouble_with(path))
    with closing(sqlite3.connect(path)) as connection:
        assert "phone" not in [row[1] for row in connection.execute("PRAGMA table_info(contact)")]


def test_a_copy_of_an_open_bank_is_whole(path, tmp_path):
    bank = open_bank(path, Clock())
    with bank.change("Rename nothing") as tx:
        tx.new_code("V")
    backup.save_copy(path, tmp_path / "copy.sporebank")
    bank.close()
    copy = open_bank(tmp_path / "copy.sporebank", Clock())
    assert copy.database.execute_sql("SELECT title FROM event").fetchall() == [("Rename nothing",)]
    copy.close()


def test_daily_copies_are_made_once_and_kept_for_so_many_days(path):
    clock = Clock()
    for day in range(1, 6):
        clock.day = clock.day.replace(day=day)
        assert backup.daily(path, clock.day, keep=3) is not None
        assert backup.daily(path, clock.day, keep=3) is None
    kept = sorted(one.name for one in backup.folder(path).iterdir())
    assert kept == [f"fernery 2026-03-0{day}.sporebank-copy" for day in (3, 4, 5)]


@pytest.mark.parametrize("year", [2016, 2036])
def test_todays_copy_is_kept_on_a_clock_that_was_wrong(path, year):
    """A clock falls back to an old year when its battery is empty (common practice, no source)."""
    for wrong in (year, 2026, year):
        for day in (1, 2, 3, 4):
            today = Clock().day.replace(year=wrong, month=5 if wrong == 2026 else 3, day=day)
            backup.daily(path, today, keep=3)
            kept = {one.name for one in backup.folder(path).iterdir()}
            assert f"fernery {today.isoformat()}.sporebank-copy" in kept
            assert len(kept) <= 3


def test_a_bank_is_locked_by_whatever_link_it_is_opened(path, tmp_path):
    (tmp_path / "link.sporebank").symlink_to(path)
    bank = open_bank(path, Clock())
    assert trouble_with(tmp_path / "link.sporebank").trouble is Trouble.LOCKED
    bank.close()
    open_bank(tmp_path / "link.sporebank", Clock()).close()


def test_a_copy_becomes_the_bank_and_what_stood_there_is_put_aside(path):
    copy = backup.daily(path, Clock().day, keep=3)
    path.write_bytes(b"ruined")
    backup.restore(copy, path)
    backup.restore(copy, path)
    open_bank(path, Clock()).close()
    aside = path.with_name("fernery put aside.sporebank")
    assert aside.read_bytes() == b"ruined"
    assert path.with_name("fernery put aside 2.sporebank").exists()


@pytest.mark.parametrize("content", [None, b"no copy at all", b"", b"SQLite format 3\x00"])
def test_a_copy_that_is_none_leaves_the_bank_where_it_is(path, tmp_path, content):
    copy = tmp_path / "kept.sporebank-copy"
    if content is not None:
        copy.write_bytes(content)
    before = path.read_bytes()
    if content == b"SQLite format 3\x00":
        backup.save_copy(path, copy)
        copy.write_bytes(copy.read_bytes()[:5000])
    with pytest.raises(Refusal, match="cop"):
        backup.restore(copy, path)
    assert path.read_bytes() == before
    assert sorted(one.name for one in tmp_path.glob("*fernery*") if "lock" not in one.name) == ["fernery.sporebank"]


def test_a_bank_in_use_is_not_put_aside(path):
    copy = backup.daily(path, Clock().day, keep=3)
    bank = open_bank(path, Clock())
    with pytest.raises(Refusal, match="Close it there first"):
        backup.restore(copy, path)
    bank.close()
    assert sorted(one.suffix for one in path.parent.glob("fernery*") if one.is_file()) == [".sporebank"]


def test_copies_of_a_bank_with_brackets_in_its_name_are_thinned_out_too(path):
    odd = path.rename(path.with_name("ferns [old].sporebank"))
    for day in range(1, 5):
        backup.daily(odd, Clock().day.replace(day=day), keep=2)
    assert len(list(backup.folder(odd).iterdir())) == 2


def test_a_copy_that_cannot_be_written_leaves_no_piece(path, tmp_path):
    target = tmp_path / "taken"
    target.mkdir()
    (target / "something").write_text("in the way")
    with pytest.raises(Refusal, match="No copy"):
        backup.save_copy(path, target)
    assert not list(tmp_path.glob("*.partial"))


def test_every_bank_file_ever_released_still_opens(tmp_path):
    museum = sorted((Path(__file__).parent.parent / "museum").glob("*.sporebank"))
    assert [int(one.stem.split("_")[1]) for one in museum] == [upgrade.number for upgrade in upgrades.UPGRADES]
    for old in museum:
        shutil.copy(old, tmp_path / old.name)
        bank = open_bank(tmp_path / old.name, Clock())
        counts = bank.database.execute_sql("SELECT COUNT(*) FROM vial").fetchone()
        assert counts[0] > 0
        bank.close()
