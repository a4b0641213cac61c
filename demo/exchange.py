"""A spring round of the demo fernery with 45 orders, ready to be shared out, and a list that is open all year."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from datetime import date, timedelta

from demo import scene
from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import asking as typed
from sporebank.core.dates import PartDate
from sporebank.core.donations import Gift
from sporebank.core.exchange import Exchange, Shape, Stage, Terms
from sporebank.core.orders import Alternatives, Rules, Standing
from sporebank.core.records import Contact, Source
from sporebank.jobs import asking, donations, exchange, sharing_round

ORDERS = 45
_OPENS, _CLOSES, _SHIPS = date(2026, 4, 13), date(2026, 5, 16), date(2026, 6, 1)
_FIRST = (
    "Ida", "Tom", "Wen", "Ola", "Pia", "Jon", "Eva", "Rui", "Lin", "Sven", "Ada", "Kai", "Uma", "Noa", "Bo",
)  # fmt: skip
_LAST = (
    "Brekkedal", "Arkwell", "Lindgard", "Ostravane", "Pellimoor", "Quistrand", "Hazelow", "Marenka", "Dunswith",
)  # fmt: skip
_COUNTRIES = ("GB", "GB", "GB", "NL", "DE", "GB", "SE", "GB", "US", "GB", "FR", "GB", "NO", "GB", "IT")

ROUND = Exchange(
    0,
    "Spring round 2026",
    Shape.ROUND,
    Stage.GATHERING,
    _OPENS,
    _CLOSES,
    _SHIPS,
    Terms(
        Rules(
            (Standing.DONOR_ABROAD, Standing.DONOR, Standing.ABROAD, Standing.REST),
            Alternatives.RANKED,
            cap=12,
            extra=3,
            limited_cap=3,
            wait_days=14,
        ),
        limited_below=4,
        currency="GBP",
        packet_cents=50,
        postage_cents=180,
        postage_abroad_cents=320,
    ),
    "Write the numbers you would like, and alternatives; green spore goes first.",
)
ALL_YEAR = Exchange(
    0,
    "Open all year",
    Shape.STANDING,
    Stage.GATHERING,
    date(2026, 1, 1),
    None,
    _SHIPS,
    Terms(Rules(cap=6)),
    "First come, first served; six packets a person and year.",
)


def tell(bank: Bank, set_day: Callable[[date], None]) -> None:
    """Tell both exchanges, from what was given to orders that wait."""
    chance = random.Random(scene.SEED + 5)
    set_day(_OPENS - timedelta(days=20))
    number = exchange.begin(bank, ROUND)
    _donate(bank, number)
    set_day(_OPENS)
    _list(bank, number, chance, lambda packets: min(packets, chance.choice((2, 3, 4, 6, 8))))
    for place in range(ORDERS):
        turn, first = divmod(place, len(_FIRST))
        who = f"{_FIRST[first]} {_LAST[(place + turn) % len(_LAST)]}"
        set_day(_OPENS + timedelta(days=place * 2 // 3))
        _order(bank, number, who, _COUNTRIES[place % len(_COUNTRIES)], chance)
    _all_year(bank, set_day, chance)


def _donate(bank: Bank, number: int) -> None:
    """Take in what two people gave, one of them under an old name."""
    given = (
        (Contact(0, "Hedda Rosvik", country="NO"), (
            Gift("Dryopteris affinis", 6, PartDate(2025, 9), Source.WILD, "Storvann, a wet gully", "NO"),
            Gift("Polystichum setiferum Divisilobum Group", 4, PartDate(2025, 8), Source.GARDEN, resealed=True),
        )),
        (Contact(0, "Emil Tarn", country="GB"), (Gift("Athyrium filix-femina", 8, PartDate(2025, 9), note="crested"),)),
    )  # fmt: skip
    for who, gifts in given:
        form = donations.DonationForm(number, 0, bank.today(), gifts, who)
        donations.take_in(bank, form)


def _list(bank: Bank, number: int, chance: random.Random, most: Callable[[int], int]) -> None:
    """Put on the list what may go, a few packets of each, pool what several clones give, and open it."""
    found = exchange.preview(bank, number)
    exchange.add_lines(bank, number, [one.surplus.stock.clone_id for one in found])
    by_taxon: dict[int, list[int]] = {}
    for line in queries.listed(bank, number):
        form = exchange.LineForm(most(line.packets), line.packet_ug, line.limited, line.note)
        exchange.change_line(bank, number, line.id, form)
        by_taxon.setdefault(line.taxon.id, []).append(line.id)
    for lines in by_taxon.values():
        if len(lines) > 1 and chance.random() < 0.3:
            exchange.pool(bank, number, lines)
    exchange.number(bank, number)


def _order(bank: Bank, number: int, who: str, country: str, chance: random.Random) -> None:
    """Write down an order as it would be typed; some ferns are wanted by everybody."""
    lines = [line.number for line in queries.listed(bank, number) if line.number]
    wanted = sorted(lines, key=lambda line: chance.random() * (1 + line * 7919 % 3))
    count = chance.randint(4, 12)
    text = " ".join(map(str, wanted[:count]))
    others = " ".join(map(str, wanted[count : count + chance.randint(0, 6)]))
    asked = typed.read(text, others)
    new, helper = Contact(0, who, country=country), chance.random() < 0.1
    asking.keep_order(bank, asking.OrderForm(number, 0, bank.today(), asked, helper=helper, new_contact=new))


def _all_year(bank: Bank, set_day: Callable[[date], None], chance: random.Random) -> None:
    """Serve the first who came, and leave two who wait."""
    set_day(ALL_YEAR.opens)
    number = exchange.begin(bank, ALL_YEAR)
    _list(bank, number, chance, lambda packets: min(packets, 3))
    known: Sequence[Contact] = queries.contacts(bank)
    for place, contact in enumerate(known[:5]):
        set_day(date(2026, 2 + place // 2, 3 + 5 * place))
        lines = [line.number for line in queries.listed(bank, number) if line.number and line.left > 0]
        asked = typed.read(" ".join(map(str, chance.sample(lines, 3))), "")
        asking.keep_order(bank, asking.OrderForm(number, contact.id, bank.today(), asked))
        if place < 3:
            gathered = sharing_round.gather(bank, number)
            sharing_round.keep(bank, sharing_round.work_out(gathered, lambda *_: None, lambda: False))
