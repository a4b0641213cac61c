"""Banks of any size, written straight into the file so that a million vials take a minute or two, not a day.

Every bank is what its own deeds would have left, as its invariants show: each vial with its movement, its stay, its
line on record and figures. Only the forecasts are drawn by lot instead of computed.
"""

from __future__ import annotations

import random
import tempfile
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

from demo import scene
from sporebank.bank import upgrades
from sporebank.bank.bank import Bank
from sporebank.bank.opening import create
from sporebank.core import codes, names, naming
from sporebank.core.sorting import natural

TODAY = date(2026, 5, 18)
PER_BATCH, PER_CLONE, PER_BOX = 4, 10, 81
MOST_TAXA = 2_000

Row = tuple[Any, ...]


def clock() -> datetime:
    """Return the moment at which all large banks stand still."""
    return datetime.combine(TODAY, datetime.min.time()) + timedelta(hours=9)


def large_bank(vials: int, per_batch: int = PER_BATCH, *, tested: bool = False) -> Path:
    """Return a bank file of so many vials, made once and kept in the system's folder for temporary files."""
    folder = Path(tempfile.gettempdir()) / "sporebank-bench"
    what = f"{vials}-{per_batch}{'-tested' * tested}"
    path = folder / f"{_schema()}-{what}.sporebank"
    if not path.exists():
        partial = path.with_name(f"partial-{what}.sporebank")
        for old in folder.glob(f"{partial.name}*"):
            old.unlink()
        build(partial, vials, per_batch, tested=tested)
        partial.rename(path)
    return path


def _schema() -> str:
    """Return a word for the tables and indexes a bank has now, so that a change of them makes new banks."""
    return codes.tag_from("\n".join(sql for upgrade in upgrades.UPGRADES for sql in upgrade.statements))


def build(path: Path, vials: int, per_batch: int = PER_BATCH, *, tested: bool = False) -> None:
    """Write a bank of so many vials to a new file, every batch with one to four tests if it is to be tested."""
    bank = create(path, "Large bank", clock)
    try:
        connection = bank.database.connection()
        connection.execute("PRAGMA synchronous = off")
        with bank.database.atomic("IMMEDIATE"):
            kept = _drop_triggers(connection)
            chance = random.Random(vials)
            for table, rows in _tables(bank, vials, per_batch, chance):
                _insert(connection, table, rows)
            for table, rows in _tests(-(-vials // per_batch), chance) if tested else ():
                _insert(connection, table, rows)
            for sql in kept:
                connection.execute(sql)
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    finally:
        bank.close()


def _drop_triggers(connection: Any) -> list[str]:
    """Take the triggers off, since the rows written already agree, and return what puts them back."""
    found = connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    for name, _ in found:
        connection.execute(f"DROP TRIGGER {name}")
    return [sql for _, sql in found]


def _insert(connection: Any, table: str, rows: Iterator[Row]) -> None:
    name, _, columns = table.partition(" ")
    marks = ", ".join("?" * len(columns.split(",")))
    connection.executemany(f"INSERT OR REPLACE INTO {name} ({columns}) VALUES ({marks})", rows)


def _tables(bank: Bank, vials: int, per_batch: int, chance: random.Random) -> Iterator[tuple[str, Iterator[Row]]]:
    """Yield each table with its columns, and its rows."""
    batches, boxes = -(-vials // per_batch), -(-vials // PER_BOX)
    clones = -(-vials // PER_CLONE)
    taxa = min(MOST_TAXA, max(10, clones // 2))
    tag = bank.tag
    yield "taxon id,name,sort_key,family,spore_class,verified,old_name", _taxa(taxa)
    yield "clone id,code,sort_key,taxon_id,source,origin,permission,received_as", _clones(clones, taxa, chance)
    yield (
        "batch id,code,clone_id,collected,cleaning,purity_basis,amount_basis,spore_class",
        _batches(tag, batches, clones, chance),
    )
    yield "place id,code,parent_id,kind,name,temperature,humidity,rows,columns,path,path_key", _places(tag, boxes)
    yield "event id,at,by,title,kind", _events(batches)
    batch_of = [(vial - 1) // per_batch + 1 for vial in range(vials + 1)]
    yield "vial id,code,batch_id,number,left,place_id,slot,note", _vials(tag, vials, per_batch, boxes)
    yield (
        "movement event_id,vial_id,on_day,micrograms,reason,basis",
        ((batch_of[one], one, "2025-08-20", _left(one), "stored", "weighed") for one in _ids(vials)),
    )
    yield (
        "stay event_id,vial_id,since,place_id,slot,temperature,humidity",
        ((batch_of[one], one, "2025-08-20", *_spot(one, boxes), 4.0, 15.0) for one in _ids(vials)),
    )
    yield "entry event_id,kind,row_id,after", ((batch_of[one], "vial", one, "{}") for one in _ids(vials))
    alive = [chance.random() for _ in _ids(batches)]
    first = [(batch - 1) * per_batch + 1 for batch in batch_of]
    yield (
        "outlook id,batch_id,on_day,state,low,middle,high,chance_below,crosses,next_test",
        _outlooks(alive, per_batch, chance),
    )
    yield (
        "figure vial_id,outlook_id,surplus",
        ((one, first[one], int(alive[batch_of[one] - 1] > 0.5)) for one in _ids(vials)),
    )
    yield "serial kind,last", iter([("V", vials), ("B", batches), ("L", boxes + 2)])


def _ids(count: int) -> range:
    return range(1, count + 1)


def _left(vial: int) -> int:
    return 5_000 + vial * 7_919 % 45_000


def _spot(vial: int, boxes: int) -> tuple[int, int]:
    """Return box and slot: a batch lies together, and the boxes were filled in no order of theirs."""
    box, slot = divmod(vial - 1, PER_BOX)
    return 3 + box * 7_919 % boxes, slot


def _taxa(count: int) -> Iterator[Row]:
    """Yield the names of the demo, then numbered selections of them."""
    for one in _ids(count):
        base, kind, _ = scene.TAXA[(one - 1) % len(scene.TAXA)]
        plain = naming.parse(base)
        text = base if one <= len(scene.TAXA) else f"{plain.genus} {plain.epithet} 'Selection {one}'".replace("  ", " ")
        name = naming.parse(text)
        old = scene.OLD_NAMES.get(text, "")
        yield one, names.text(name), names.sort_key(name), "", kind or "non-green", one % 2, old


def _clones(count: int, taxa: int, chance: random.Random) -> Iterator[Row]:
    for one in _ids(count):
        code = f"{'GWRN'[one % 4]}-{one}"
        yield one, code, natural(code), chance.randrange(taxa) + 1, "garden", "North wall", "yes", ""


def _batches(tag: str, count: int, clones: int, chance: random.Random) -> Iterator[Row]:
    for one in _ids(count):
        day = date(2010, 1, 1) + timedelta(days=chance.randrange(5_600))
        code, clone = codes.make("B", tag, one), chance.randrange(clones) + 1
        yield (
            one,
            code,
            clone,
            day.isoformat()[: chance.choice((4, 7, 10, 10))],
            "screened",
            "by eye",
            "weighed",
            "non-green",
        )


def _places(tag: str, boxes: int) -> Iterator[Row]:
    from sporebank.bank.paths import KEY_SEPARATOR, SEPARATOR

    above = (("Store room", "room"), ("Cold room", "fridge"))
    path = key = ""
    for one, (name, kind) in enumerate(above, start=1):
        path, key = path + SEPARATOR * bool(path) + name, key + KEY_SEPARATOR * bool(key) + natural(name)
        yield one, codes.make("L", tag, one), one - 1 or None, kind, name, 4.0, 15.0, 0, 0, path, key
    for number in _ids(boxes):
        one, name = number + 2, f"Box {number}"
        where = f"{path}{SEPARATOR}{name}", f"{key}{KEY_SEPARATOR}{natural(name)}"
        yield one, codes.make("L", tag, one), 2, "box", name, None, None, 9, 9, *where


def _events(count: int) -> Iterator[Row]:
    for one in _ids(count):
        yield one, "2025-08-20T09:00:00", scene.KEEPER, f"Store batch {one}", "do"


def _vials(tag: str, count: int, per_batch: int, boxes: int) -> Iterator[Row]:
    for one in _ids(count):
        note = f"smells of cellar {one}" if one % 33 == 0 else ""
        batch, number = divmod(one - 1, per_batch)
        yield one, codes.make("V", tag, one), batch + 1, number + 1, _left(one), *_spot(one, boxes), note


def _outlooks(alive: list[float], per_batch: int, chance: random.Random) -> Iterator[Row]:
    for one, middle in enumerate(alive, start=1):
        state = "alive" if middle >= 0.5 else "fading" if middle >= 0.2 else "spent"
        crosses = (TODAY + timedelta(days=round(6_000 * middle) - 1_200)).isoformat()
        test = (TODAY + timedelta(days=chance.randrange(-30, 2_000))).isoformat()
        below = 1.0 if middle < 0.01 else 1 - middle
        shares = max(0.0, middle - 0.1), middle, min(1.0, middle + 0.1)
        yield (one - 1) * per_batch + 1, one, TODAY.isoformat(), state, *shares, below, crosses, test


def _tests(batches: int, chance: random.Random) -> Iterator[tuple[str, Iterator[Row]]]:
    """Yield tests of every batch, each of one to four replicates of 50."""
    tests: list[Row] = []
    replicates: list[Row] = []
    for batch in _ids(batches):
        alive = chance.random()
        for _ in range(chance.randint(1, 4)):
            day = (TODAY - timedelta(days=chance.randrange(260))).isoformat()
            tests.append((len(tests) + 1, batch, day, day))
            counts = [sum(chance.random() < alive for _ in range(50)) for _ in range(chance.randint(1, 4))]
            replicates.extend((len(tests), number, 50, germinated) for number, germinated in enumerate(counts, 1))
    yield "test id,batch_id,sown_on,counted_on", iter(tests)
    yield "replicate test_id,number,sown,germinated", iter(replicates)
