"""A manifest as passport data, held against the descriptors of the standard."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest

from sporebank.core.dates import PartDate
from sporebank.core.errors import Refusal
from sporebank.core.naming import parse
from sporebank.core.papers import Manifest
from sporebank.core.records import Source
from sporebank.formats.mcpd import COLUMNS, passport_date, write_passports
from tests.documents.examples import manifest

# FAO/Bioversity Multi-Crop Passport Descriptors V.2.1 (Alercia, Diulgheroff & Mackay 2015): names by number.
STANDARD = (
    "PUID", "INSTCODE", "ACCENUMB", "COLLNUMB", "COLLCODE", "COLLNAME", "COLLINSTADDRESS", "COLLMISSID", "GENUS",
    "SPECIES", "SPAUTHOR", "SUBTAXA", "SUBTAUTHOR", "CROPNAME", "ACCENAME", "ACQDATE", "ORIGCTY", "COLLSITE",
    "DECLATITUDE", "LATITUDE", "DECLONGITUDE", "LONGITUDE", "COORDUNCERT", "COORDDATUM", "GEOREFMETH", "ELEVATION",
    "COLLDATE", "BREDCODE", "BREDNAME", "SAMPSTAT", "ANCEST", "COLLSRC", "DONORCODE", "DONORNAME", "DONORNUMB",
    "OTHERNUMB", "DUPLSITE", "DUPLINSTNAME", "STORAGE", "MLSSTAT", "REMARKS",
)  # fmt: skip
SAMPSTAT = {
    "", "100", "110", "120", "130", "200", "300", "400", "410", "411", "412", "413", "414", "415", "416", "420", "421",
    "422", "423", "500", "600", "999",
}  # fmt: skip
COLLSRC = {
    "", "10", "11", "12", "13", "14", "15", "20", "21", "22", "23", "24", "25", "26", "27", "28", "30", "40", "50",
    "60", "61", "62", "99",
}  # fmt: skip
STORAGE = {"10", "11", "12", "13", "20", "30", "40", "50", "99"}


def rows(whole: Manifest) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(write_passports(whole).decode("utf-8-sig"))))


def test_the_fields_are_those_of_the_standard_in_its_order() -> None:
    assert COLUMNS == STANDARD
    assert tuple(rows(manifest(2))[0]) == STANDARD


def test_every_code_is_one_of_the_standard() -> None:
    whole = manifest(4)
    sources = (Source.WILD, Source.GARDEN, Source.BOUGHT, Source.UNKNOWN)
    items = tuple(replace(item, source=source) for item, source in zip(whole.items, sources, strict=True))
    for row in rows(replace(whole, items=items)):
        assert row["SAMPSTAT"] in SAMPSTAT
        assert row["COLLSRC"] in COLLSRC
        assert row["STORAGE"] in STORAGE
        assert len(row["ORIGCTY"]) in (0, 3)


@pytest.mark.parametrize(
    ("date", "written"),
    [(PartDate(1975, 6), "197506--"), (PartDate(1975), "1975----"), (PartDate(1968, 2, 2), "19680202")],
)
def test_dates_are_written_as_the_standard_has_them(date: PartDate, written: str) -> None:
    """The examples of the 2001 list, as the standard keeps them."""
    assert passport_date(date) == written


def test_a_packet_tells_its_name_its_country_and_how_alive_it_is() -> None:
    whole = manifest(1)
    item = replace(whole.items[0], name=parse("Dryopteris affinis subsp. borreri"), country="NO", source=Source.WILD)
    (row,) = rows(replace(whole, items=(item,)))
    assert (row["GENUS"], row["SPECIES"], row["SUBTAXA"]) == ("Dryopteris", "affinis", "subsp. borreri")
    assert (row["ORIGCTY"], row["SAMPSTAT"], row["COLLSRC"]) == ("NOR", "100", "10")
    assert (row["ACCENUMB"], row["INSTCODE"]) == (item.code, "")
    assert row["OTHERNUMB"] == f":{item.clone};:{item.network_number}"
    assert row["REMARKS"].startswith("STORAGE:spore, ")
    (unknown,) = rows(replace(whole, items=(replace(item, name=parse("Polystichum sp.")),)))
    assert unknown["SPECIES"] == "sp."


def test_nothing_to_write_is_refused() -> None:
    with pytest.raises(Refusal, match="without packets"):
        write_passports(replace(manifest(1), items=()))
