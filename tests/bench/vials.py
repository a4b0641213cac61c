"""Measure the work on vials in a bank of 1,000 and in one of 1,000,000: python tests/bench/vials.py"""

from __future__ import annotations

import gc
import json
import shutil
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from time import perf_counter

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from sporebank.bank import queries  # noqa: E402 - found only once the root is on the path
from sporebank.bank.bank import Bank  # noqa: E402
from sporebank.bank.opening import open_bank  # noqa: E402
from sporebank.core import overview  # noqa: E402
from sporebank.core.advice import Lines  # noqa: E402
from sporebank.core.dates import PartDate  # noqa: E402
from sporebank.core.records import PlaceKind, Reason, SporeClass, State, VialFilter  # noqa: E402
from sporebank.jobs import cards, figures, places, store, today, vials  # noqa: E402
from tests.bench.large_bank import TODAY, clock, large_bank  # noqa: E402
from tests.bench.measure import peak_mb  # noqa: E402

SIZES = {"1k": 1_000, "1m": 1_000_000}
SORTS = ("code", "taxon", "clone", "batch", "collected", "place", "left", "alive", "state", "crosses", "note")
ROWS = 60

Figures = dict[str, float]


def timed(work: Callable[[], object], times: int = 5) -> float:
    """Return the median seconds of some runs."""
    took = []
    for _ in range(times):
        gc.collect()
        start = perf_counter()
        work()
        took.append(perf_counter() - start)
    return statistics.median(took)


def afresh(bank: Bank, work: Callable[[], object], times: int = 3) -> float:
    """Return the median milliseconds of work that cannot use a remembered order."""

    def forgetful() -> None:
        bank.remembered = None
        work()

    return 1000 * timed(forgetful, times)


def measure(vials_in_it: int) -> Figures:
    """Return the figures of a bank of so many vials, by name and unit."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "large.sporebank"
        shutil.copy(large_bank(vials_in_it), path)
        start = perf_counter()
        bank = open_bank(path, clock)
        found = {"open_s": perf_counter() - start}
        figures.keep_fresh(bank)
        try:
            found |= reading(bank, vials_in_it) | writing(bank)
        finally:
            bank.close()
    return found | {"peak_mb": peak_mb()}


def reading(bank: Bank, size: int) -> Figures:
    """Measure everything a keeper looks at."""
    whole = VialFilter()

    def page(offset: int, sort: str = "code", wanted: VialFilter = whole) -> list[object]:
        return list(queries.vials(bank, wanted, sort, False, offset, ROWS))

    found = {"first_ms": afresh(bank, lambda: page(0))}
    found["page_ms"] = 1000 * timed(lambda: page(ROWS))
    found["far_page_ms"] = 1000 * timed(lambda: page(size - ROWS))
    found |= {f"sort_{sort}_ms": afresh(bank, lambda sort=sort: page(0, sort)) for sort in SORTS}
    code = queries.vial_row(bank, size // 2).code
    for name, text in (("d", "d"), ("dr", "dr"), ("dryo", "dryo"), ("two_words", "dryo box"), ("code", code)):
        found[f"search_{name}_ms"] = afresh(bank, lambda text=text: page(0, "code", VialFilter(text=text)))
    box = queries.places(bank)[-1][0]
    filters = {
        "state": VialFilter(state=State.FADING),
        "year": VialFilter(year=2018),
        "place": VialFilter(place_id=2),
        "box": VialFilter(place_id=box.id),
        "surplus": VialFilter(surplus=True),
        "clone": VialFilter(clone_id=7),
    }
    for name, wanted in filters.items():
        found[f"filter_{name}_ms"] = afresh(bank, lambda wanted=wanted: page(0, "taxon", wanted))
    found["counts_ms"] = afresh(bank, lambda: queries.vial_counts(bank, whole))
    found["counts_search_ms"] = afresh(bank, lambda: queries.vial_counts(bank, VialFilter(text="dryo")))
    found["today_ms"] = afresh(bank, lambda: today.agenda(bank))
    found |= {f"overview_{name}_ms": 1000 * timed(work, 3) for name, work in overview_questions(bank).items()}
    found["card_ms"] = 1000 * timed(lambda: cards.vial_card(bank, size // 2))
    found["scan_ms"] = 1000 * timed(lambda: queries.vial_id_of_code(bank, code))
    return found


def overview_questions(bank: Bank) -> dict[str, Callable[[], object]]:
    """Return what the bank in one look asks."""
    day, limits = bank.today(), Lines(bank.settings.alive_line, bank.settings.cull_line)
    soon = day + timedelta(days=overview.SOON_DAYS)
    return {
        "totals": lambda: queries.totals(bank),
        "shares": lambda: queries.taxon_shares(bank),
        "renewals": lambda: queries.renewals(bank, day, soon, limits),
        "last": lambda: queries.last_vials(bank, bank.settings.packet_ug),
    }


def writing(bank: Bank) -> Figures:
    """Measure two deeds, with the figures that follow them."""
    ids = iter(range(1, 1000, 37))
    box = next(place.id for place, _, _ in reversed(queries.places(bank)) if place.kind is PlaceKind.BOX)
    number = iter(range(1_000_000))

    def take() -> None:
        vials.take(bank, vials.TakeForm(next(ids), 10, Reason.LOSS, TODAY))

    def keep() -> None:
        portions = tuple(store.Portion(10_000, *spot) for spot in store.propose_places(bank, 3, box))
        clone = store.NewClone(f"X-{next(number)}")
        form = store.StoreForm(
            taxon="Dryopteris affinis",
            clone=clone,
            collected=PartDate(2026),
            portions=portions,
            stored_on=TODAY,
            spore_class=SporeClass.NON_GREEN,
        )
        store.store_batch(bank, form)

    take()  # the first forecast loads what it needs
    extra = next(place for place, _, _ in queries.places(bank) if place.kind is PlaceKind.FRIDGE)
    box = places.add_place(bank, places.PlaceForm(PlaceKind.BOX, "New box", extra.id, rows=9, columns=9))
    return {"take_ms": 1000 * timed(take, 9), "store_ms": 1000 * timed(keep, 5)}


def main() -> None:
    """Measure each bank in a process of its own, then print a table and the JSON line."""
    if sys.argv[1:]:
        print(json.dumps(measure(int(sys.argv[1]))))
        return
    found: dict[str, Figures] = {}
    for word, size in SIZES.items():
        large_bank(size)
        command = [sys.executable, "-m", "tests.bench.vials", str(size)]
        done = subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.PIPE, text=True)
        found[word] = json.loads(done.stdout.splitlines()[-1])
    print(f"{'':24}{'1,000':>12}{'1,000,000':>12}{'ratio':>9}")
    for name, small in found["1k"].items():
        large = found["1m"][name]
        print(f"{name:24}{small:12.2f}{large:12.2f}{large / small:9.1f}")
    for one in found.values():
        one["sort_ms"] = max(value for name, value in one.items() if name.startswith("sort_"))
        one["overview_ms"] = max(value for name, value in one.items() if name.startswith("overview_"))
        one["search_ms"] = max(value for name, value in one.items() if name.startswith("search_"))
    print(json.dumps({f"{name}_{word}": round(one[name], 2) for word, one in found.items() for name in one}))


if __name__ == "__main__":
    main()
