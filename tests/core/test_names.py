"""Names: read as growers type them, written as botanists do."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sporebank.core import names, naming
from sporebank.core.errors import Refusal
from sporebank.core.naming import MOST, PARTICLES, QUALIFIERS, RANKS
from sporebank.core.records import Run, TaxonName

# Inputs of the first table were checked with gbif-name-parser 0.4.0; forms follow the International Code of
# Nomenclature for algae, fungi, and plants (Shenzhen Code, Art. H.3) and, for cultivars and Groups, the
# International Code of Nomenclature for Cultivated Plants, 9th edition 2016 (Scripta Horticulturae 18).
PUBLISHED = [
    ("Dryopteris filix-mas (L.) Schott", TaxonName("Dryopteris", "filix-mas", authorship="(L.) Schott")),
    (
        "Dryopteris × complexa Fraser-Jenk.",
        TaxonName("Dryopteris", "complexa", hybrid_epithet=True, authorship="Fraser-Jenk."),
    ),
    (
        "Dryopteris x complexa Fraser-Jenk.",
        TaxonName("Dryopteris", "complexa", hybrid_epithet=True, authorship="Fraser-Jenk."),
    ),
    (
        "×Dryostichum singulare W.H.Wagner",
        TaxonName("Dryostichum", "singulare", hybrid_genus=True, authorship="W.H.Wagner"),
    ),
    (
        "Polypodium vulgare nothosubsp. mantoniae (Rothm.) Schidlay",
        TaxonName("Polypodium", "vulgare", "nothosubsp.", "mantoniae", authorship="(Rothm.) Schidlay"),
    ),
    (
        "Asplenium trichomanes subsp. quadrivalens D.E.Mey.",
        TaxonName("Asplenium", "trichomanes", "subsp.", "quadrivalens", authorship="D.E.Mey."),
    ),
    ("Asplenium scolopendrium f. crispum", TaxonName("Asplenium", "scolopendrium", "f.", "crispum")),
    (
        "Dryopteris filix-mas 'Linearis Polydactyla'",
        TaxonName("Dryopteris", "filix-mas", cultivar="Linearis Polydactyla"),
    ),
    ("Athyrium 'Ghost'", TaxonName("Athyrium", cultivar="Ghost")),
    ("Polystichum setiferum Divisilobum Group", TaxonName("Polystichum", "setiferum", group="Divisilobum")),
    (
        "Polystichum setiferum (Divisilobum Group) 'Dahlem'",
        TaxonName("Polystichum", "setiferum", group="Divisilobum", cultivar="Dahlem"),
    ),
    ("Dryopteris cf. affinis", TaxonName("Dryopteris", "affinis", qualifier="cf.")),
    ("Dryopteris sp.", TaxonName("Dryopteris", qualifier="sp.")),
    ("Rhododendron boothii Mishmiense Group", TaxonName("Rhododendron", "boothii", group="Mishmiense")),
    ("×Agropogon P. Fourn.", TaxonName("Agropogon", hybrid_genus=True, authorship="P. Fourn.")),
    (
        "×Agropogon littoralis (Sm.) C.E. Hubb.",
        TaxonName("Agropogon", "littoralis", hybrid_genus=True, authorship="(Sm.) C.E. Hubb."),
    ),
    ("Salix ×capreola Andersson", TaxonName("Salix", "capreola", hybrid_epithet=True, authorship="Andersson")),
]

TYPED = [
    ("  dryopteris   filix-mas ", "Dryopteris filix-mas"),
    ("DRYOPTERIS affinis", "Dryopteris affinis"),
    ("x Dryostichum singulare", "×Dryostichum singulare"),
    ("Dryopteris X complexa", "Dryopteris ×complexa"),
    ("Dryopteris aff. × complexa", "Dryopteris aff. ×complexa"),
    ("Asplenium trichomanes L. ssp. quadrivalens", "Asplenium trichomanes subsp. quadrivalens"),
    ("Athyrium niponicum (Mett.) Hance varietas pictum", "Athyrium niponicum var. pictum"),
    ("Athyrium niponicum ex “Pictum”", "Athyrium niponicum ex 'Pictum'"),
    ("Athyrium niponicum ex 'Pictum'", "Athyrium niponicum ex 'Pictum'"),
    ("Athyrium filix-femina cv. Frizelliae", "Athyrium filix-femina 'Frizelliae'"),
    ("Athyrium filix-femina cv. ‘Frizelliae’", "Athyrium filix-femina 'Frizelliae'"),
    ("Polystichum setiferum (divisilobum gp.) `Dahlem´", "Polystichum setiferum (Divisilobum Group) 'Dahlem'"),
    ("Polystichum setiferum 'Dahlem' (Divisilobum Group)", "Polystichum setiferum (Divisilobum Group) 'Dahlem'"),
    ("Polystichum setiferum 'Dahlem' Divisilobum Gp", "Polystichum setiferum (Divisilobum Group) 'Dahlem'"),
    ("Polystichum setiferum ex (Divisilobum Group) 'Dahlem'", "Polystichum setiferum (Divisilobum Group) ex 'Dahlem'"),
    ("Polystichum setiferum ex Divisilobum Grp.", "Polystichum setiferum ex Divisilobum Group"),
    ("Polystichum setiferum (Forssk.) Divisilobum Group", "Polystichum setiferum Divisilobum Group"),
    ("Polystichum setiferum (St. Kilda Group)", "Polystichum setiferum St Kilda Group"),
    ("Dryopteris filix-mas 'Girls' Night'", "Dryopteris filix-mas 'Girls' Night'"),
    ("Athyrium 'Ωραία'", "Athyrium 'Ωραία'"),
    ("Athyrium 'Снежная Королева'", "Athyrium 'Снежная Королева'"),
    ("Isoëtes lacustris", "Isoëtes lacustris"),
    ("Dryopteris spec.", "Dryopteris sp."),
    ("Gleichenia alpina R.Br. f.", "Gleichenia alpina"),
    ("Adiantum Hook. f.", "Adiantum"),
    ("Cheilanthes distans Hook. ex Baker", "Cheilanthes distans"),
    ("Osmunda regalis 'Purpurascens' hort.", "Osmunda regalis 'Purpurascens'"),
]

REFUSED = [
    ("", "Write a name"),
    ("12", "is not a name"),
    ("Папоротник", "is not a name"),
    ("Woodsia ilvensis × Woodsia alpina", "hybrid formula"),
    ("Salix aurita L. × S. caprea L.", "hybrid formula"),
    ("Dryopteris filix-mas x affinis", "hybrid formula"),
    ("Athyrium ×", "After × comes the epithet"),
    ("Dryopteris × Complexa", "After × comes the epithet"),
    ("cf. Dryopteris affinis", "genus before “cf.”"),
    ("Dryopteris affinis cf. borreri", "stands before the epithet only"),
    ("Dryopteris sp. Yunnan 12", "Put “Yunnan 12” in the note"),
    ("Dryopteris affinis subsp.", "epithet after “subsp.”"),
    ("Asplenium scolopendrium crispum", "Say what “crispum” is"),
    ("Asplenium trichomanes subsp. quadrivalens f. cristatum", "lowest rank"),
    ("Athyrium niponicum ex Pictum", "in quotes"),
    ("Athyrium Ghost", "Is “Ghost” a cultivar"),
    ("Athyrium ''", "nothing between the quotes"),
    ("Polystichum setiferum divisilobum Group", "begins with a capital"),
]


@pytest.mark.parametrize(("text", "name"), PUBLISHED, ids=[text for text, _ in PUBLISHED])
def test_names_of_the_codes(text, name):
    """Printed examples of both codes and vectors checked with gbif-name-parser."""
    assert names.parse(text) == name


@pytest.mark.parametrize(("typed", "written"), TYPED)
def test_names_as_typed(typed, written):
    """Common practice, no source: the many ways growers type."""
    assert names.text(names.parse(typed)) == written


@pytest.mark.parametrize(("text", "says"), REFUSED)
def test_no_names(text, says):
    """What is no name, or needs a word more, is refused with advice."""
    with pytest.raises(Refusal, match=says):
        names.parse(text)


def test_a_name_of_two_hundred_characters_is_read_and_a_longer_one_refused():
    """The limit is our own choice; the sentence tells how long the name is."""
    name = f"Athyrium '{'G' * (MOST - 11)}'"
    assert len(name) == MOST
    assert names.text(names.parse(f"  {name} ")) == name
    with pytest.raises(Refusal, match="200 characters at most, this one 201. Leave out authors"):
        names.parse(f"{name[:-1]}G'")


def test_authorship_is_kept_aside():
    """It is kept as written, and never printed."""
    name = names.parse("Asplenium trichomanes L. subsp. quadrivalens D.E.Mey.")
    assert name.authorship == "L. … D.E.Mey."
    assert names.text(name) == "Asplenium trichomanes subsp. quadrivalens"
    assert names.parse("Gleichenia alpina R.Br. f.").authorship == "R.Br. f."


def test_only_latin_names_are_italic():
    """ICN Rec. H.3A.1: the sign × is not italic; ICNCP: neither are ranks, Group and cultivar (from memory)."""
    name = names.parse("×Dryostichum cf. ×singulare nothosubsp. rarum (Crispa Group) ex 'Tall & <Thin>'")
    assert names.runs(name) == (
        Run("×"),
        Run("Dryostichum ", italic=True),
        Run("cf. ×"),
        Run("singulare ", italic=True),
        Run("nothosubsp. "),
        Run("rarum ", italic=True),
        Run("(Crispa Group) ex 'Tall & <Thin>'"),
    )
    assert names.html(name).endswith("(Crispa Group) ex &#x27;Tall &amp; &lt;Thin&gt;&#x27;")
    assert names.html(name).startswith("×<i>Dryostichum </i>cf. ×<i>singulare </i>")


def test_abbreviations_of_a_long_name():
    """Common practice: the genus to its initial; never the epithet, the rank or the cultivar."""
    name = names.parse("Polystichum setiferum (Divisilobum Group) 'Dahlem'")
    assert ["".join(run.text for run in way) for way in names.abbreviations(name)] == [
        "Polystichum setiferum (Divisilobum Group) 'Dahlem'",
        "Polystichum setiferum (Divisilobum Gp) 'Dahlem'",
        "P. setiferum (Divisilobum Group) 'Dahlem'",
        "P. setiferum (Divisilobum Gp) 'Dahlem'",
        "P. setiferum 'Dahlem'",
    ]
    assert len(names.abbreviations(names.parse("Athyrium 'Ghost'"))) == 1


def test_sorting_sets_signs_case_and_accents_aside():
    """ICN Art. H.3.3 disregards the hybrid sign; a genus stands before its species, those before cultivars."""
    typed = [
        "Athyrium",
        "Athyrium 'Ghost'",
        "Athyrium niponicum",
        "Athyrium niponicum 'Pictum'",
        "Athyrium niponicum var. pictum",
        "Dryopteris affinis",
        "Dryopteris × complexa",
        "Dryopteris filix-mas",
        "×Dryostichum singulare",
        "Isoëtes lacustris",
        "Isoetes setacea",
    ]
    read = [names.parse(text) for text in typed]
    backwards = read[::-1]
    assert sorted(backwards, key=names.sort_key) == read


LATIN = st.from_regex(r"[a-zà-öø-ÿ]{2,8}(-[a-z]{2,5})?", fullmatch=True).filter(
    lambda word: word not in PARTICLES | RANKS.keys() | QUALIFIERS.keys()
)
WORD = st.text("abcxyzäñčøłαβγδωабвгдяїABCÄČΩЖЇ0123456789-!.", min_size=1, max_size=8)
CAPITAL = st.from_regex(r"[A-ZÄČΩЖ][a-zäčωж]{1,8}", fullmatch=True).filter(
    lambda word: word.lower() not in {"group", "gp", "grp"}
)


@st.composite
def taxon_names(draw):
    epithet = draw(st.one_of(st.just(""), LATIN))
    ranked = bool(epithet) and draw(st.booleans())
    cultivar = " ".join(draw(st.lists(WORD, max_size=3))).strip()
    cultivar = draw(st.sampled_from([cultivar, f"{cultivar}'s Own" if cultivar else ""]))
    group = " ".join(draw(st.lists(CAPITAL, max_size=2)))
    return TaxonName(
        genus=draw(LATIN).capitalize(),
        epithet=epithet,
        rank=draw(st.sampled_from(sorted(set(RANKS.values())))) if ranked else "",
        infra=draw(LATIN) if ranked else "",
        group=group,
        cultivar=cultivar,
        hybrid_genus=draw(st.booleans()),
        hybrid_epithet=bool(epithet) and draw(st.booleans()),
        ex=bool(cultivar or group) and draw(st.booleans()),
        qualifier=draw(st.sampled_from(["", "cf.", "aff."] if epithet else ["", "sp."])),
    )


@given(taxon_names())
def test_round_trip(name):
    """What is written can be read."""
    assert names.parse(names.text(name)) == name
    assert names.parse(names.text(name).replace("'", "’").replace("×", "x ")) == name


SCRAPS = (
    "Dryopteris", "affinis", "×", "x", "Group", "Gp", "(Foo", "Group)", "(a", "group)", "Foo", "'Bar'",
    "'Baz", "Bar'", "ex", "cf.", "sp.", "subsp.", "var", "f.", "cv.", "cv", '"', "‘A’", "'It's'", "L.", "&",
    "ß", "É", "''", "'", "/", "-", "–", "1", "ǆ", "hort.",
)  # fmt: skip


@given(st.lists(st.sampled_from(SCRAPS), min_size=1, max_size=7).map(" ".join))
def test_whatever_is_read_is_read_the_same_again(typed):
    """What a bank keeps is the text; a name it could not read again would keep the bank from being shown."""
    try:
        name = names.parse(typed)
    except Refusal:
        return
    assert naming.parse(names.text(name)) == replace(name, authorship="")


@pytest.mark.parametrize(
    ("typed", "written"),
    [
        ("Athyrium cv. 'Ghost", "Athyrium 'Ghost'"),
        ("Athyrium 'Ghost \" Lady'", "Athyrium 'Ghost Lady'"),
        ('Athyrium cv. "', "Athyrium"),
    ],
)
def test_stray_quotes_do_no_harm(typed, written):
    assert names.text(names.parse(typed)) == written


@given(taxon_names(), st.sampled_from(["(L.) Schott", "Fraser-Jenk.", "Hook. f.", "Kunze ex Mett."]))
def test_authorship_does_not_disturb(name, authorship):
    """The same name with and without its authors, where they stand after the Latin name."""
    bare = replace(name, cultivar="", group="", ex=False, qualifier=name.qualifier.replace("sp.", ""))
    assert names.parse(f"{names.text(bare)} {authorship}") == replace(bare, authorship=authorship)


@given(taxon_names())
def test_every_way_to_write_keeps_what_matters(name):
    """Shorter each time, the first in full, epithets and the cultivar whole in all."""
    ways = ["".join(run.text for run in way) for way in names.abbreviations(name)]
    assert ways[0] == names.text(name)
    assert [len(way) for way in ways] == sorted({len(way) for way in ways}, reverse=True)
    for way in ways:
        assert name.epithet in way
        assert name.infra in way
        assert name.cultivar in way
