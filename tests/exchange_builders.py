"""Small builders of exchanges with a numbered list, and of orders."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date

from sporebank.bank import tables
from sporebank.bank.bank import Bank
from sporebank.core import names
from sporebank.core.asking import read
from sporebank.core.exchange import Shape, Stage, Terms, terms_values
from sporebank.core.orders import Rules
from sporebank.core.records import Contact
from sporebank.jobs.asking import OrderForm, keep_order

TAXA = (
    "Adiantum venustum", "Asplenium scolopendrium", "Athyrium filix-femina", "Blechnum spicant",
    "Cystopteris bulbifera", "Dryopteris affinis", "Dryopteris × complexa", "Matteuccia struthiopteris",
    "Osmunda regalis", "Polypodium cambricum", "Polystichum setiferum", "Woodwardia unigemmata",
)  # fmt: skip
OPENS, CLOSES, SHIPS = date(2026, 1, 1), date(2026, 3, 31), date(2026, 4, 15)


def round_of(
    bank: Bank,
    lines: int = 12,
    *,
    shape: Shape = Shape.ROUND,
    stage: Stage = Stage.OPEN,
    packets: int = 5,
    opens: date = OPENS,
    closes: date | None = CLOSES,
    limited: Sequence[int] = (),
    name: str = "Spring round 2026",
    **rules: object,
) -> int:
    """Write an exchange with so many numbered lines, one taxon after the other, and return its id."""
    terms = Terms(Rules(**rules))  # type: ignore[arg-type]  # rules by name
    with bank.change(f"Begin {name}") as tx:
        exchange_id = tx.insert(
            tables.Exchange,
            name=name,
            shape=shape.value,
            state=stage.value,
            opens=opens.isoformat(),
            closes=None if closes is None else closes.isoformat(),
            ships=SHIPS.isoformat(),
            rules=json.dumps(terms_values(terms)),
        )
        known = dict(tables.Taxon.select(tables.Taxon.name, tables.Taxon.id).tuples().execute(bank.database))
        for number in range(1, lines + 1):
            name_text = TAXA[(number - 1) % len(TAXA)] + (f" 'No {number}'" if number > len(TAXA) else "")
            parsed = names.parse(name_text)
            taxon = known.get(names.text(parsed)) or tx.insert(
                tables.Taxon, name=names.text(parsed), sort_key=names.sort_key(parsed), spore_class="non-green"
            )
            tx.insert(
                tables.Offering,
                exchange_id=exchange_id,
                number=number,
                taxon_id=taxon,
                packet_ug=2000,
                packets=packets,
                limited=int(number in limited),
            )
    return exchange_id


def set_stage(bank: Bank, exchange_id: int, stage: Stage) -> None:
    """Bring an exchange to another stage."""
    with bank.change(stage.value) as tx:
        tx.update(tables.Exchange, exchange_id, state=stage.value)


def gave(bank: Bank, exchange_id: int, contact_id: int) -> None:
    """Let a person be a donor of an exchange."""
    with bank.change("A donation") as tx:
        tx.insert(
            tables.Donation,
            exchange_id=exchange_id,
            contact_id=contact_id,
            received_on=OPENS.isoformat(),
            received_as="Dryopteris",
            packets=3,
        )


def allot(bank: Bank, request_id: int, packets: int) -> None:
    """Give so many packets to each first choice of an order."""
    found = bank.database.execute_sql(
        "SELECT id FROM line WHERE request_id = ? AND alternative = 0 AND void = 0", (request_id,)
    ).fetchall()
    with bank.change("Share out") as tx:
        for (line_id,) in found:
            tx.update(tables.Line, line_id, allotted=packets)


def order_form(
    exchange_id: int, first: str, others: str = "", *, who: str = "Marit Olden", **more: object
) -> OrderForm:
    """Return the order of somebody new in the Netherlands."""
    values = {
        "contact_id": 0,
        "received_on": date(2026, 2, 1),
        "asked": read(first, others),
        "new_contact": Contact(0, who, country="NL"),
        **more,
    }
    return OrderForm(exchange_id, **values)  # type: ignore[arg-type]  # fields by name


def ordered(bank: Bank, exchange_id: int, first: str, others: str = "", **more: object) -> int:
    """Keep an order of somebody new and return its id."""
    return keep_order(bank, order_form(exchange_id, first, others, **more))  # type: ignore[arg-type]  # fields by name
