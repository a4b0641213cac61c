"""Warnings that go with a taxon or with a kind of work. They defer to local codes and licensed practice."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sporebank.core.dates import day_label
from sporebank.core.records import TaxonName


@dataclass(frozen=True)
class Listing:
    """Taxa on an official or advisory list; `basis` says whether its source was read or is from memory.

    `countries` are those whose list it is (ISO 3166-1 alpha-2); a list of no country holds everywhere.
    """

    taxa: frozenset[str]
    where: str
    source: str
    basis: str
    countries: frozenset[str] = frozenset()

    def fits(self, name: TaxonName) -> bool:
        """Return whether the name, or its whole genus, is listed."""
        return name.genus in self.taxa or f"{name.genus} {name.epithet}" in self.taxa


@dataclass(frozen=True)
class Caution:
    """A warning in plain words; without genera and families it belongs to the work, not to a taxon."""

    key: str
    text: str
    source: str
    genera: frozenset[str] = frozenset()
    families: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Cautions:
    """Everything of resources/cautions.toml, as it stood on a day."""

    as_of: date
    invasives: tuple[Listing, ...]
    protecteds: tuple[Listing, ...]
    general: tuple[Caution, ...]

    def invasive(self, name: TaxonName) -> str:
        """Return what to do with a taxon listed as invasive anywhere, as sentences, or nothing."""
        listing = _find(self.invasives, name)
        if listing is None:
            return ""
        return (
            f"Invasive: seal and bin, do not compost. {self._listed(listing)} "
            "Ask your own authority before you keep, sow or send it."
        )

    def protected(self, name: TaxonName) -> str:
        """Return a warning for a taxon whose trade is controlled, as sentences, or nothing."""
        listing = _find(self.protecteds, name)
        if listing is None:
            return ""
        return (
            f"Protected: spore is usually exempt, young plants are not. {self._listed(listing)} "
            "Ask your own authority before plants cross a border."
        )

    @property
    def dated(self) -> str:
        """How old the lists are: `list as of 20 Jun 2025`."""
        return f"list as of {day_label(self.as_of)}"

    def invasive_in(self, name: TaxonName, countries: frozenset[str]) -> bool:
        """Return whether a taxon is on a list of one of these countries; where none is known, on any list at all."""
        found = [listing for listing in self.invasives if listing.fits(name)]
        return any(not countries or not listing.countries or listing.countries & countries for listing in found)

    def work(self, key: str) -> str:
        """Return the warning that belongs to a kind of work.

        Raises:
            KeyError: there is none by that key.
        """
        return {caution.key: caution.text for caution in self.general}[key]

    def handling(self, name: TaxonName, family: str) -> tuple[str, ...]:
        """Return the warnings for handling spore of this taxon, beyond those for any spore."""
        return tuple(
            caution.text for caution in self.general if name.genus in caution.genera or family in caution.families
        )

    def _listed(self, listing: Listing) -> str:
        memory = ", from memory" if listing.basis == "from memory" else ""
        return f"Listed: {listing.where} ({self.dated}{memory})."


def _find(listings: tuple[Listing, ...], name: TaxonName) -> Listing | None:
    return next((listing for listing in listings if listing.fits(name)), None)
