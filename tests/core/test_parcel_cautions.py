"""Which cautions a parcel raises, by its taxa, where they come from and where it goes."""

from dataclasses import replace
from datetime import date

import pytest

from sporebank.core.naming import parse
from sporebank.core.parcel_cautions import Country, Going, Journey, arising
from sporebank.core.permits import Permit, PermitKind, label_from
from sporebank.core.records import Source
from sporebank.formats.tables import load_cautions

NL, NO, US, NOWHERE = Country("NL", "Netherlands"), Country("NO", "Norway"), Country("US", "United States"), Country()
DAY = date(2026, 3, 14)
PLAIN = Going(parse("Dryopteris affinis"), Source.GARDEN)
TREE = Going(parse("Alsophila dealbata"), Source.GARDEN)
WATER = Going(parse("Azolla pinnata"), Source.GARDEN)


def keys(*packets, home=NL, to=NO, permits=()):
    return [one.key for one in arising(Journey(home, to, DAY, packets, permits), load_cautions())]


def permit(**more):
    return Permit(**{"id": 1, "contact_id": 1, "kind": PermitKind.IMPORT, "number": "12/3", **more})


@pytest.mark.parametrize("to", [NL, NOWHERE])
def test_garden_spore_that_stays_at_home_raises_nothing(to):
    assert keys(PLAIN, to=to) == []


def test_what_crosses_a_border_raises_plant_health():
    """ISPM 12: certificates are a matter of the country that imports."""
    (one,) = arising(Journey(NL, NO, DAY, (PLAIN,)), load_cautions())
    assert one.key == "plant health:NO"
    assert "No import permit of theirs is on record." in one.sentence
    assert "(list as of 20 Jun 2025)" in one.sentence
    assert "Ask the authorities of both countries first" in one.sentence


@pytest.mark.parametrize(
    ("home", "to", "raised"), [(NL, NL, False), (NL, NO, True), (NL, NOWHERE, True), (NOWHERE, NO, True)]
)
def test_a_protected_taxon_is_one_wherever_a_border_may_be_crossed(home, to, raised):
    """CITES Appendix II: Cyathea in the old wide sense; spore is exempt, young plants are not (annotation #4)."""
    found = [
        one for one in arising(Journey(home, to, DAY, (TREE,)), load_cautions()) if one.key.startswith("protected")
    ]
    assert bool(found) is raised
    for one in found:
        assert "spore is usually exempt, young plants are not" in one.sentence
        assert "list as of 20 Jun 2025" in one.sentence


@pytest.mark.parametrize(
    ("home", "to", "raised"), [(NL, US, True), (US, NL, True), (NL, NO, False), (NO, NOWHERE, True)]
)
def test_an_invasive_taxon_goes_by_the_lists_of_both_countries(home, to, raised):
    """Azolla pinnata: 7 CFR 360.200 (United States)."""
    assert ("invasive:Azolla pinnata" in keys(WATER, home=home, to=to)) is raised


def test_a_list_of_the_union_is_one_of_its_members():
    """Salvinia molesta: Commission Implementing Regulation (EU) 2019/1262 (the name from memory)."""
    water = Going(parse("Salvinia molesta"), Source.GARDEN)
    assert keys(water, to=NL) == ["invasive:Salvinia molesta"]
    assert keys(water, home=NO, to=NO) == []


def test_wild_plants_of_another_country_raise_access_and_ours_when_they_leave():
    """Nagoya Protocol: a country's wild plants may come under its rules wherever they go."""
    ours, theirs = (Going(parse("Osmunda regalis"), Source.WILD, country) for country in ("NL", "TW"))
    assert keys(ours, to=NL) == []
    assert keys(theirs, to=NL) == ["access:TW"]
    assert keys(ours, theirs) == ["plant health:NO", "access:NL", "access:TW"]
    assert keys(replace(theirs, source=Source.RECEIVED), to=NL) == ["access:TW"]
    assert keys(replace(theirs, source=Source.GARDEN), to=NL) == []
    assert keys(replace(ours, country="")) == ["plant health:NO", "access:"]


def test_papers_that_ran_out_and_labels_that_are_used_up_are_cautions():
    old = permit(expires=date(2026, 3, 13), labels_left=4)
    assert keys(PLAIN, permits=(old,)) == ["plant health:NO", "expired:1"]
    assert keys(PLAIN, permits=(permit(expires=DAY, labels_left=0),)) == ["plant health:NO", "labels:1"]
    agreement = permit(kind=PermitKind.AGREEMENT, expires=date(2026, 1, 1))
    assert keys(PLAIN, to=NL, permits=(agreement,)) == ["expired:1"]
    assert keys(PLAIN, to=NL, permits=(permit(labels_left=0),)) == []
    (one,) = arising(Journey(NL, NO, DAY, (PLAIN,), (permit(expires=DAY, labels_left=1),)), load_cautions())
    assert "On record: import permit 12/3, until 14 Mar 2026, 1 label left." in one.sentence


def test_the_same_taxon_is_one_caution():
    assert keys(TREE, TREE, PLAIN, PLAIN) == ["protected:Alsophila dealbata", "plant health:NO"]


def test_a_label_is_lent_by_the_permit_that_ends_first_and_still_holds():
    over, later, sooner = (
        permit(id=1, expires=date(2026, 3, 13), labels_left=9),
        permit(id=2, labels_left=9),
        permit(id=3, expires=date(2026, 5, 1), labels_left=1),
    )
    assert label_from((over, later, sooner), DAY) is sooner
    assert label_from((over, replace(sooner, labels_left=0)), DAY) is None
    assert label_from((replace(later, kind=PermitKind.OTHER),), DAY) is None
