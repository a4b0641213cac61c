"""Donations typed a line a packet."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sporebank.core.dates import PartDate
from sporebank.core.donations import Gift, read_lines, write_line
from sporebank.core.records import Source


def test_a_full_line_is_read_part_by_part() -> None:
    (read,) = read_lines("Dryopteris affinis; 3; Aug 2026; wild, a gully; no; resealed, by hand")
    assert read.gift == Gift(
        "Dryopteris affinis", 3, PartDate(2026, 8), Source.WILD, "a gully", "NO", resealed=True, note="by hand"
    )


def test_the_name_alone_is_enough_and_tabs_divide_too() -> None:
    """Only name, year and donor are always there on a packet (common practice, no source)."""
    first, second = read_lines("Osmunda regalis\n\nAthyrium filix-femina\t2\t2025")
    assert first.gift == Gift("Osmunda regalis")
    assert (second.number, second.gift) == (3, Gift("Athyrium filix-femina", 2, PartDate(2025)))


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("; 3", "name is missing"),
        ("Osmunda regalis; many", "no number of packets"),
        ("Osmunda regalis; 0", "no number of packets"),
        ("Osmunda regalis; ٣", "no number of packets"),
        ("Osmunda regalis; 1; 03/04/2026", "not a date"),
        ("a; 1; 2026; b; NO; c; d", "more in this line"),
    ],
)
def test_one_bad_line_says_why_and_loses_no_other(line: str, words: str) -> None:
    bad, good = read_lines(f"{line}\nOsmunda regalis")
    assert words in bad.problem
    assert good.gift is not None


_WORD = st.text(st.characters(categories=["L"]), min_size=2, max_size=9).filter(
    lambda word: word.casefold() not in {"wild", "garden", "bought", "resealed"}
)
_DATES = st.builds(PartDate, st.integers(1990, 2026), st.integers(1, 12))


_SOURCES = st.sampled_from(["wild", "garden", "bought", "unknown"])


@given(_WORD, st.integers(1, 9999), st.none() | _DATES, _SOURCES, _WORD, st.booleans())
def test_what_is_written_is_read_back(
    word: str, packets: int, collected: PartDate | None, source: str, note: str, resealed: bool
) -> None:
    gift = Gift(word, packets, collected, Source(source), "somewhere", "NZ", resealed, note)
    assert [one.gift for one in read_lines(write_line(gift))] == [gift]
