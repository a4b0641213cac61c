"""A keeper in a hurry, to be killed at any moment: python -m tests.bank.kept_busy BANK SEED

Opens a bank and does deeds without end; the number of each is printed once the deed is kept. `test_killed` reads
along and kills.
"""

from __future__ import annotations

import random
import sys
from pathlib import Path

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.figures import last_event
from sporebank.bank.opening import open_bank
from sporebank.core.errors import Refusal
from sporebank.core.records import Reason, RequestState, VialFilter
from sporebank.jobs import culling, figures, sharing, undo, vials
from tests.builders import TODAY, Clock, asked, clone, stored


def store(bank: Bank, chance: random.Random) -> None:
    stored(bank, clone=clone(f"K-{last_event(bank)}"), vials=chance.randint(1, 4))


def take(bank: Bank, chance: random.Random) -> None:
    vial_id = chance.choice(queries.vial_ids(bank, VialFilter(), "code", descending=False))
    vials.take(bank, vials.TakeForm(vial_id, chance.randint(1, 3_000), Reason.SOWING, TODAY))


def fill(bank: Bank, chance: random.Random) -> None:
    """Ask, fill or dispatch, whichever is next."""
    for request in queries.requests(bank, RequestState.FILLED):
        if any(line.filled for line in request.lines):
            return sharing.dispatch(bank, request.id, TODAY)
    for request in queries.requests(bank, RequestState.OPEN):
        return sharing.keep_fill(bank, request.id, sharing.propose(bank, request.id))
    asked(bank, sharing.Wish(chance.randint(1, 4), 2_000, taxon_id=queries.taxa(bank)[0].id))
    return None


def cull(bank: Bank, chance: random.Random) -> None:
    ids = queries.vial_ids(bank, VialFilter(), "code", descending=False)
    culling.cull(bank, chance.sample(ids, min(2, len(ids))), TODAY)


def take_back(bank: Bank, _: random.Random) -> None:
    undo.undo(bank)


def main(path: str, seed: str) -> None:
    chance = random.Random(seed)
    bank = open_bank(Path(path), Clock())
    figures.keep_fresh(bank)
    bank.subscribe(lambda changed: print(changed.event_id, flush=True))
    stored(bank, clone=clone(f"S-{seed}"))
    while True:
        deed = chance.choice((store, store, take, take, take, fill, fill, cull, take_back))
        try:
            deed(bank, chance)
        except (Refusal, IndexError):  # nothing left to take, or held back: the next deed then
            continue


if __name__ == "__main__":
    main(*sys.argv[1:])
