"""The keeper's settings: one frozen dataclass, from which the settings page is generated."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field, fields, replace
from typing import Any

from sporebank.core.errors import Refusal


@dataclass(frozen=True)
class Describe:
    """How a setting is shown: its title, what it does, its unit and its limits."""

    title: str
    help: str
    unit: str = ""
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()
    group: str = "The bank"


def _setting(default: Any, title: str, text: str, **more: Any) -> Any:  # noqa: ANN401 - the field's annotation gives the type
    return field(default=default, metadata={"describe": Describe(title, text, **more)})


_ALIVE = "How alive is alive"
_GIVING = "Giving away"
_SOWING = "Sowing"
_PAPER = "Paper and window"


@dataclass(frozen=True)
class Settings:
    """Everything a keeper may set. Shares run from 0 to 1, amounts are micrograms."""

    keeper: str = _setting("", "Your name", "Stands beside what you do in the history and on papers.")
    cull_line: float = _setting(
        0.20, "Line", "Below this share alive a vial counts as spent. Our own choice.",
        unit="%", low=0.01, high=0.95, group=_ALIVE,
    )  # fmt: skip
    alive_line: float = _setting(
        0.50, "Alive from", "From this share up a vial counts as alive; between the two lines it is fading.",
        unit="%", low=0.02, high=0.99, group=_ALIVE,
    )  # fmt: skip
    cull_chance: float = _setting(
        0.95, "Certainty to cull", "A vial is put up for culling when it is below the line with at least this chance.",
        unit="%", low=0.50, high=0.999, group=_ALIVE,
    )  # fmt: skip
    test_age_days: int = _setting(
        365, "A test is old after", "With no younger test the advice is to test first, not to cull.",
        unit="days", low=30, high=3650, group=_ALIVE,
    )  # fmt: skip
    test_rule: str = _setting(
        "genebank", "When to test",
        "genebank: after a third of the time to fall to 85 % of what it was at first (FAO 2014). "
        "line: when it may be below the line with the chance set here.",
        choices=("genebank", "line"), group=_ALIVE,
    )  # fmt: skip
    test_chance: float = _setting(
        0.25, "Chance that calls for a test",
        "With the rule “line”, a test is due when a vial is below the line with this chance. Our own choice.",
        unit="%", low=0.01, high=0.90, group=_ALIVE,
    )  # fmt: skip
    green_days: int = _setting(
        14, "Warn of green spore", "Green spore that crosses the line within so many days is shown on Today.",
        unit="days", low=1, high=120, group=_ALIVE,
    )  # fmt: skip
    gift_line: float = _setting(
        0.50, "A gift must be alive", "Vials likely below this share alive are not offered. Our own choice.",
        unit="%", low=0.01, high=0.99, group=_GIVING,
    )  # fmt: skip
    packet_ug: int = _setting(
        2_000, "A packet holds", "Offered as the size of a new wish; there is no common rule. Our own choice.",
        unit="mg", low=10, high=1_000_000, group=_GIVING,
    )  # fmt: skip
    reserve_ug: int = _setting(
        5_000, "Keep back of every clone", "Never offered, so that a clone is not given away to the last grain.",
        unit="mg", low=0, high=10_000_000, group=_GIVING,
    )  # fmt: skip
    gift_chance: float = _setting(
        0.50, "How sure that is", "The chance that a gift is that alive on the day the parcels go. Our own choice.",
        unit="%", low=0.05, high=0.99, group=_GIVING,
    )  # fmt: skip
    country: str = _setting(
        "", "Your country", "By its two letters (ISO 3166-1), such as NL. Parcels to others go abroad.", group=_GIVING,
    )  # fmt: skip
    pot_cm2: float = _setting(
        63.6, "A pot has", "Surface of a pot; 63.6 cm² is a round pot of 9 cm.",
        unit="cm²", low=1.0, high=5000.0, group=_SOWING,
    )  # fmt: skip
    live_per_cm2: float = _setting(
        5.0, "A light even coat", "Live spores on a square centimetre. No published rate exists; our own choice.",
        unit="per cm²", low=0.1, high=200.0, group=_SOWING,
    )  # fmt: skip
    spore_ng: float = _setting(
        33.9, "A spore weighs", "Mean of 23 fern species (Gómez-Noguez and others 2016); 4 to 90 ng were met.",
        unit="ng", low=1.0, high=2000.0, group=_SOWING,
    )  # fmt: skip
    vial_sheet: str = _setting("a4-5x13", "Vial labels", "The sheet offered first for vials.", group=_PAPER)
    pot_sheet: str = _setting("a4-4x16", "Pot labels", "The sheet offered first for pots.", group=_PAPER)
    packet_sheet: str = _setting("a4-3x8", "Packet labels", "The sheet offered first for packets.", group=_PAPER)
    appearance: str = _setting(
        "system", "Appearance", "Light, dark, or as the system has it.",
        choices=("system", "light", "dark"), group=_PAPER,
    )  # fmt: skip
    scan_sound: str = _setting(
        "on", "Sound of a wrong scan",
        "The system's own sound: once for a mistake in the code, twice for an unknown code, thrice for another bank's.",
        choices=("on", "off"), group=_PAPER,
    )  # fmt: skip
    backups: int = _setting(
        7, "Copies kept", "A copy of the bank is made when it is first opened on a day; so many are kept.",
        low=1, high=100, group=_PAPER,
    )  # fmt: skip


def describe(name: str) -> Describe:
    """Return how the setting of this name is shown."""
    for one in fields(Settings):
        if one.name == name:
            found = one.metadata["describe"]
            assert isinstance(found, Describe)
            return found
    raise KeyError(name)


def problems(settings: Settings) -> tuple[tuple[str, str], ...]:
    """Return `(setting, sentence)` for every value outside its limits or at odds with another."""
    found = [
        (one.name, sentence)
        for one in fields(Settings)
        if (sentence := _limit(one.metadata["describe"], getattr(settings, one.name)))
    ]
    if settings.cull_line >= settings.alive_line:
        found.append(("alive_line", "This must lie above the line below which a vial counts as spent."))
    return tuple(found)


def _limit(how: Describe, value: object) -> str:
    if how.choices and value not in how.choices:
        return f"Choose one of {', '.join(how.choices)}."
    if isinstance(value, int | float):
        if how.low is not None and value < how.low:
            return f"This cannot be less than {shown(how, how.low)}."
        if how.high is not None and value > how.high:
            return f"This cannot be more than {shown(how, how.high)}."
    return ""


def shown(how: Describe, value: float) -> str:
    """Return a setting's number as people read it: shares in percent, micrograms as milligrams."""
    factor = {"%": 100.0, "mg": 0.001}.get(how.unit, 1.0)
    number = f"{value * factor:.4f}".rstrip("0").rstrip(".")
    return f"{number} {how.unit}".strip()


def changed_values(settings: Settings) -> dict[str, Any]:
    """Return what differs from the defaults, ready for JSON."""
    default = asdict(Settings())
    return {name: value for name, value in asdict(settings).items() if value != default[name]}


def from_values(values: dict[str, Any]) -> Settings:
    """Return settings from stored values; unknown names are left alone, wrong kinds refused."""
    known = {one.name: one for one in fields(Settings)}
    usable = {name: value for name, value in values.items() if name in known}
    default = Settings()
    for name, value in usable.items():
        if not isinstance(value, str if isinstance(getattr(default, name), str) else int | float):
            raise Refusal(f"The setting “{describe(name).title}” holds {value!r}, which it cannot. Set it anew.")
    return replace(default, **usable)
