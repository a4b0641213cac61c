"""The data tables that travel with the program."""

from __future__ import annotations

from collections import Counter
from datetime import date

import pytest

from sporebank.core.genera import default_spore_class
from sporebank.core.names import parse
from sporebank.core.records import SporeClass
from sporebank.formats import tables


def test_genera_of_ppg1():
    """Pteridophyte Phylogeny Group I 2016, J. Syst. Evol. 54: 563-603: 14 orders, 51 families, 337 genera."""
    rows = [row for row in tables.load_genera() if row.in_ppg1]
    assert len(rows) == 337
    assert len({row.family for row in rows}) == 51
    assert len({row.order for row in rows}) == 14
    sizes = Counter(row.family for row in rows)
    assert sizes.most_common(3) == [("Polypodiaceae", 65), ("Pteridaceae", 53), ("Thelypteridaceae", 30)]
    assert sum(row.subfamily == "Grammitidoideae" for row in rows) == 33
    assert sum(row.order in {"Isoetales", "Lycopodiales", "Selaginellales"} for row in rows) == 18


def test_genera_of_the_snapshot_of_2025():
    """Working database of the Pteridophyte Phylogeny Group, 25 May 2025: 357 genera spelt right, 14 nothogenera."""
    genera = tables.load_genera()
    rows = [row for row in genera if row.in_2025]
    assert sum(not row.notho for row in rows) == 357
    assert sum(row.notho for row in rows) == 14
    assert not genera.known("Helmithostachys")
    assert genera.near("Helmithostachys")[0] == "Helminthostachys"
    assert len(genera) == len({row.name for row in genera})


@pytest.mark.parametrize(
    ("genus", "family"),
    [
        ("Dryopteris", "Dryopteridaceae"),
        ("Arthropteris", "Tectariaceae"),
        ("Drynaria", "Polypodiaceae"),
        ("Dryostichum", "Dryopteridaceae"),
        ("Nonsense", None),
    ],
)
def test_families(genus, family):
    """PPG I where it has the genus, the snapshot of 2025 for the others."""
    assert tables.load_genera().family(genus) == family


def test_completion_and_spelling():
    """As one types, in any case; misspelt genera find their way."""
    genera = tables.load_genera()
    assert genera.complete("dryo", 10) == ("Dryopolystichum", "Dryopteris", "Dryostichum")
    assert genera.complete("A", 2) == ("Abacopterella", "Abacopteris")
    assert genera.near("Driopteris")[0] == "Dryopteris"
    assert genera.near("Polystycum")[0] == "Polystichum"
    assert genera.near("Dryopteris") == ()
    assert genera.near("Qqqqq") == ()


@pytest.mark.parametrize(
    ("genus", "spore_class", "says"),
    [
        ("Osmunda", SporeClass.GREEN, "Osmundaceae) has green spore"),
        ("Equisetum", SporeClass.GREEN, "green"),
        ("Hymenophyllum", SporeClass.GREEN, "green"),
        ("Matteuccia", SporeClass.GREEN, "green"),
        ("Terpsichore", SporeClass.GREEN, "green"),
        ("Osmunimunda", SporeClass.GREEN, "green"),
        ("Dryopteris", SporeClass.NON_GREEN, "not known for green spore"),
        ("Elaphoglossum", SporeClass.NON_GREEN, "10 of 39"),
        ("Gleichenia", SporeClass.NON_GREEN, "some Gleicheniaceae"),
        ("Dicksonia", SporeClass.DICKSONIA, "few years in a fridge"),
        ("Cyathea", SporeClass.DRYING_SENSITIVE, "kept dry"),
        ("Woodwardia", SporeClass.DRYING_SENSITIVE, "kept dry"),
        ("Cheilanthes", SporeClass.DRY_LAND, "dry land"),
        ("Marsilea", SporeClass.UNKNOWN, "two sizes"),
        ("Nonsense", SporeClass.UNKNOWN, "not in the table"),
    ],
)
def test_proposed_spore_class(genus, spore_class, says):
    """Green: Lloyd & Klekowski 1970 and Kramer & Green 1990 (from memory); mixed: Sundue, Vasco & Moran 2011."""
    proposed, reason = default_spore_class(genus, tables.load_genera(), tables.load_spore_classes())
    assert proposed is spore_class
    assert says in reason


def test_rules_name_families_and_genera_that_exist():
    """A misspelt rule would never fit."""
    genera, classes = tables.load_genera(), tables.load_spore_classes()
    families = {row.family for row in genera}
    for rule in (*classes.rules, *classes.mixed):
        assert rule.families <= families
        assert all(genera.known(genus) for genus in rule.genera)
        assert rule.source


def test_storage_has_every_class():
    """The median falls, and never rises, with the temperature; numbers without a source say they are ours."""
    storage = tables.load_storage()
    assert storage.initial == 1.645
    assert set(storage.rows) == set(SporeClass)
    for row in storage.rows.values():
        assert row.room.days < row.fridge.days >= row.freezer.days
        assert all(store.evidence for store in (row.room, row.fridge, row.freezer))
    assert storage.rows[SporeClass.NON_GREEN].fridge.days == 2000
    assert storage.rows[SporeClass.UNKNOWN].room.ours
    assert not storage.rows[SporeClass.GREEN].room.ours


@pytest.mark.parametrize(
    "name",
    [
        "Salvinia molesta",
        "Azolla pinnata",
        "Lygodium microphyllum",
        "Sphaeropteris cooperi",
        "Cyathea cooperi 'Brentwood'",
    ],
)
def test_invasive_taxa(name):
    """7 CFR 360.200 (United States) and the Hawaii weed risk assessment of 8 April 2021."""
    sentence = tables.load_cautions().invasive(parse(name))
    assert "seal and bin, do not compost" in sentence
    assert "list as of 20 Jun 2025" in sentence


def test_what_is_from_memory_says_so():
    """Nephrolepis cordifolia on the Florida list is from memory; Azolla pinnata in 7 CFR 360.200 was read."""
    cautions = tables.load_cautions()
    assert "from memory" in cautions.invasive(parse("Nephrolepis cordifolia"))
    assert "from memory" not in cautions.invasive(parse("Azolla pinnata"))
    assert cautions.invasive(parse("Nephrolepis exaltata")) == ""


@pytest.mark.parametrize("name", ["Alsophila dealbata", "Sphaeropteris", "Cibotium barometz", "Dicksonia sellowiana"])
def test_protected_taxa(name):
    """CITES Appendix II; Cyathea there takes in Alsophila and Sphaeropteris (CoP11 Prop. 11.8)."""
    assert "CITES Appendix II" in tables.load_cautions().protected(parse(name))


def test_unlisted_taxa_get_no_warning():
    """Silence where there is nothing to say."""
    cautions, name = tables.load_cautions(), parse("Cibotium glaucum")
    assert cautions.protected(name) == ""
    assert cautions.invasive(name) == ""
    assert cautions.handling(name, "Cibotiaceae") == ()


def test_warnings_for_work():
    """Spore dust, bracken, clubmoss, hot mix, moving between countries."""
    cautions = tables.load_cautions()
    assert cautions.as_of == date(2025, 6, 20)
    for key, word in {
        "spore dust": "dust mask",
        "bracken": "cancer",
        "clubmoss": "burns",
        "hot mix": "scalds",
        "countries": "authorities",
    }.items():
        assert word in cautions.work(key)
    assert "cancer" in cautions.handling(parse("Pteridium aquilinum"), "Dennstaedtiaceae")[0]
    assert "burns" in cautions.handling(parse("Lycopodium clavatum"), "Lycopodiaceae")[0]


def test_chambers():
    """Neubauer improved and Fuchs-Rosenthal as makers print them: 0.9 and 3.2 microlitres ruled."""
    chambers = {chamber.name: chamber for chamber in tables.load_chambers()}
    for name, ruled in (
        ("Neubauer improved, large square", 0.9),
        ("Fuchs-Rosenthal, large square", 3.2),
        ("Fuchs-Rosenthal, small square", 3.2),
    ):
        assert chambers[name].microlitres * chambers[name].parts == pytest.approx(ruled)
        assert chambers[name].basis == "read"
    assert chambers["Neubauer improved, group square"].microlitres == pytest.approx(0.004)
    assert {chamber.basis for chamber in chambers.values()} == {"read", "from memory"}
    assert chambers["Bürker, large square"].basis == "from memory"


def test_tables_are_read_once():
    """Cached, so that pages may ask as often as they like."""
    assert tables.load_genera() is tables.load_genera()
