"""A round of 2,000 people, each with 20 wishes and 10 alternatives, over 800 lines, shared out by both methods."""

from __future__ import annotations

import json
import random
import sys
from itertools import pairwise
from pathlib import Path
from time import perf_counter

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from sporebank.core.orders import Alternatives, Method, Offered, Order, Round, Rules, Wish  # noqa: E402 - found only once the root is on the path
from sporebank.core.sharing_out import Outcome, share_out  # noqa: E402

PEOPLE, LINES, WISHES, ALTERNATIVES, GENERA = 2_000, 800, 20, 10, 60


def main() -> None:
    """Share out by both methods, print what came of it and the JSON line; a number of people may be given."""
    people = int(sys.argv[1]) if sys.argv[1:] else PEOPLE
    fair, solve_s, step_s = _shared(made_up(people, Method.FAIR))
    turns, turns_s, _ = _shared(made_up(people, Method.TURNS))
    found = {
        "solve_s": round(solve_s, 2),
        "step_s": round(step_s, 2),
        "turns_s": round(turns_s, 2),
        "worst_fair": _worst(fair),
        "worst_turns": _worst(turns),
        "total_fair": fair.total,
        "total_turns": turns.total,
        "first_fair": fair.first,
        "first_turns": turns.first,
    }
    print(json.dumps(found))


def made_up(people: int, method: Method) -> Round:
    """Return a round with a fixed seed: some lines are asked for far more often than others, and none is plentiful."""
    chance = random.Random(1)
    lines = range(1, LINES + 1)
    liked = [1 / place**0.7 for place in chance.sample(lines, LINES)]
    each = 5 + 55 * people // PEOPLE
    offered = tuple(Offered(line, f"genus {line * GENERA // LINES}", chance.randint(5, each)) for line in lines)
    orders = []
    for who in range(1, people + 1):
        # the largest of random powers are a sample without putting back (Efraimidis and Spirakis 2006, from memory)
        keys = {line: chance.random() ** (1 / liked[line - 1]) for line in lines}
        named = sorted(lines, key=keys.__getitem__, reverse=True)[: WISHES + ALTERNATIVES]
        orders.append(Order(who, who, tuple(Wish(line) for line in named[:WISHES]), tuple(named[WISHES:])))
    return Round(offered, tuple(orders), Rules(alternatives=Alternatives.LIST, method=method))


def _shared(sharing: Round) -> tuple[Outcome, float, float]:
    """Return the outcome, the seconds it took, and the longest that a wish to stop would have waited."""
    asked = [perf_counter()]

    def told(done: int, of: int) -> None:
        asked.append(perf_counter())

    outcome = share_out(sharing, told)
    print(
        f"{outcome.method}: {outcome.total} packets to {len(sharing.orders)} people in {asked[-1] - asked[0]:.1f} s, "
        f"{outcome.first} of them first choices"
    )
    print("  packets and people:", ", ".join(f"{packets}: {count}" for packets, count in outcome.spread))
    return outcome, asked[-1] - asked[0], max(after - before for before, after in pairwise(asked))


def _worst(outcome: Outcome) -> int:
    return min(tally.packets for tally in outcome.tallies)


if __name__ == "__main__":
    main()
