"""A table of 10,000 people, each with 20 first choices and 10 alternatives of 800 lines, taken in, and once more."""

from __future__ import annotations

import csv
import io
import json
import random
import sys
import tempfile
from datetime import date
from pathlib import Path
from time import perf_counter

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from sporebank.core.orders import Alternatives  # noqa: E402 - found only once the root is on the path
from sporebank.formats.order_files import read_table  # noqa: E402 - the same
from sporebank.jobs.order_import import Take, preview, take_in  # noqa: E402 - the same
from tests.bench.measure import peak_mb  # noqa: E402 - the same
from tests.builders import new_bank  # noqa: E402 - the same
from tests.exchange_builders import round_of  # noqa: E402 - the same

PEOPLE, LINES, WISHES, ALTERNATIVES = 10_000, 800, 20, 10
DAY = date(2026, 2, 1)


def main() -> None:
    """Take the table in twice, print what came of it and the JSON line; a number of people may be given."""
    people = int(sys.argv[1]) if sys.argv[1:] else PEOPLE
    with tempfile.TemporaryDirectory() as folder:
        bank = new_bank(Path(folder))
        spring = round_of(bank, LINES, alternatives=Alternatives.RANKED, cap=WISHES)
        data = made_up(people)
        began = perf_counter()
        take = Take(spring, read_table(data), DAY)
        found = preview(bank, take)
        shown = perf_counter()
        kept = take_in(bank, take)
        done = perf_counter()
        again = preview(bank, Take(spring, read_table(data), DAY))
        looked = perf_counter()
        bank.close()
    assert kept == people
    assert again.unchanged == people
    lines = sum(len(one.checked.wishes) + len(one.checked.alternatives) for one in found.orders)
    print(f"{people:,} orders of {lines:,} lines from {len(data) / 1e6:.1f} MB, {len(found.problems)} problems")
    print(f"  seen after {shown - began:.1f} s, taken in after {done - shown:.1f} s more, again {looked - done:.1f} s")
    figures = {"import_s": done - began, "preview_s": shown - began, "again_s": looked - done, "peak_mb": peak_mb()}
    print(json.dumps({key: round(value, 2) for key, value in figures.items()} | {"lines": lines}))


def made_up(people: int) -> bytes:
    """Return a table with a fixed seed, one row a person."""
    chance = random.Random(1)
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(("Name", "E-mail", "Country", "First choices", "Alternatives", "Helper"))
    for who in range(people):
        named = chance.sample(range(1, LINES + 1), WISHES + ALTERNATIVES)
        firsts, others = " ".join(map(str, named[:WISHES])), " ".join(map(str, named[WISHES:]))
        country = chance.choice(("NL", "DE", "SE", "GB", ""))
        writer.writerow((f"Person {who}", f"p{who}@example.org", country, firsts, others, chance.choice(("", "yes"))))
    return out.getvalue().encode()


if __name__ == "__main__":
    main()
