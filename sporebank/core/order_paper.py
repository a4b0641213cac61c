"""The empty order form of an exchange, as a frozen record: on paper with boxes, or as a sheet to fill in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sporebank.core import counted
from sporebank.core.orders import Alternatives, Rules
from sporebank.core.records import TaxonName

#: Boxes where the exchange has no cap, and the most that two pages hold; who asks for more takes another form.
USUAL_BOXES, MOST_BOXES = 40, 120
#: Up to 15 alternatives for a whole order were seen in a fern round (common practice, no source).
ALTERNATIVE_BOXES = 15


@dataclass(frozen=True)
class FormLine:
    """A line of the list as the form has it."""

    number: int
    name: TaxonName
    packet_ug: int
    limited: bool = False
    note: str = ""


@dataclass(frozen=True)
class EmptyForm:
    """What an order form says and asks; `send_to` is free text of several lines."""

    bank: str
    exchange: str
    opens: date
    closes: date | None
    rules: Rules
    lines: tuple[FormLine, ...]
    send_to: str = ""

    @property
    def boxes(self) -> int:
        """How many boxes for first choices everybody has."""
        return min(USUAL_BOXES if self.rules.cap is None else self.rules.cap, MOST_BOXES)

    @property
    def extra_boxes(self) -> int:
        """How many boxes more donors and helpers have."""
        return 0 if self.rules.cap is None else min(self.rules.extra, MOST_BOXES - self.boxes)

    @property
    def alternative_boxes(self) -> int:
        """How many boxes there are for alternatives to the whole order."""
        one_list = self.rules.alternatives in (Alternatives.LIST, Alternatives.RANKED)
        return ALTERNATIVE_BOXES if one_list else 0

    @property
    def beside(self) -> bool:
        """Whether there is room for an alternative beside every first choice."""
        return self.rules.alternatives is Alternatives.PER_LINE

    def says(self) -> tuple[str, ...]:
        """Return in sentences how the form is filled in, by the rules of the exchange."""
        rules, said = self.rules, ["Write one number of the list in each box, what you want most first."]
        if rules.line_cap != 1:
            said.append("7x2 means two packets of number 7.")
        if rules.cap is not None:
            extra = f", donors and helpers {rules.extra} more" if rules.extra else ""
            said.append(f"You may ask for {counted.packets(rules.cap)}{extra}.")
        if rules.line_cap is not None:
            said.append(f"Of one number you may have {counted.packets(rules.line_cap)}.")
        if rules.limited_cap is not None:
            said.append(f"Of all with limited stock together you may have {counted.packets(rules.limited_cap)}.")
        if self.beside:
            said.append("In the box beside it write the number that may come instead.")
        return tuple(said)
