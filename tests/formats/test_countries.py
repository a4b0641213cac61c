"""Countries by ISO 3166-1."""

from __future__ import annotations

import pytest

from sporebank.formats import countries


@pytest.mark.parametrize(
    ("two", "three", "name"),
    [("NL", "NLD", "Netherlands"), ("NO", "NOR", "Norway"), ("NZ", "NZL", "New Zealand"), ("CR", "CRI", "Costa Rica")],
)
def test_both_lengths_and_the_name(two: str, three: str, name: str) -> None:
    """ISO 3166-1, from memory."""
    assert (countries.three_letters(two), countries.name(two)) == (three, name)
    assert countries.fits(two.lower())


@pytest.mark.parametrize("odd", ["XX", "UK", "NLD", "N", "1A"])
def test_what_is_no_country_does_not_fit(odd: str) -> None:
    assert not countries.fits(odd)
    assert (countries.three_letters(odd), countries.name(odd)) == ("", odd)


def test_nothing_is_no_mistake() -> None:
    assert countries.fits(" ")
    assert countries.three_letters("") == ""


@pytest.mark.parametrize(
    ("said", "two"),
    [
        ("nl", "NL"),
        ("NLD", "NL"),
        (" The Netherlands ", "NL"),
        ("germany", "DE"),
        ("South Korea", "KR"),
        ("UK", "GB"),
        ("u.k.", "GB"),
        ("England", "GB"),
        ("SCOTLAND", "GB"),
        ("Wales", "GB"),
        ("Great  Britain", "GB"),
        ("the USA", "US"),
        ("Holland", "NL"),
        ("België", "BE"),
        ("Österreich", "AT"),
        ("Turkey", "TR"),
        ("Türkiye", "TR"),
        ("Russia", "RU"),
        ("Korea", "KR"),
        ("Czech Republic", "CZ"),
        ("Fernland", ""),
    ],
)
def test_a_country_is_known_by_its_codes_and_its_name(said: str, two: str) -> None:
    """ISO 3166-1, from memory."""
    assert countries.code(said) == two


def test_every_everyday_name_is_that_of_a_country() -> None:
    assert all(countries.fits(two) for two in countries._EVERYDAY.values())
