"""A manifest as a Darwin Core archive, read by python-dwca-reader and held against the terms of the standard."""

import json
import xml.etree.ElementTree as ET
import zipfile
from dataclasses import replace
from io import BytesIO

import pytest
from dwca.read import DwCAReader
from hypothesis import given
from hypothesis import strategies as st

from sporebank.core.errors import Refusal
from sporebank.core.naming import parse
from sporebank.formats.darwin_core import COLUMNS, TERMS, write_archive
from tests.documents.examples import manifest

# Terms of Darwin Core that suit such spore (tdwg/dwc, snapshot of 2026-08-15, vocabulary/term_versions.csv).
KNOWN = {
    "occurrenceID", "materialEntityID", "materialSampleID", "catalogNumber", "otherCatalogNumbers", "recordNumber",
    "recordedBy", "recordedByID", "institutionCode", "collectionCode", "basisOfRecord", "eventDate",
    "verbatimEventDate", "preparations", "disposition", "verbatimLabel", "objectQuantity", "objectQuantityType",
    "scientificName", "scientificNameAuthorship", "genus", "specificEpithet", "infraspecificEpithet",
    "cultivarEpithet", "taxonRank", "verbatimTaxonRank", "family", "order", "nomenclaturalCode", "vernacularName",
    "identificationQualifier", "identifiedBy", "dateIdentified", "countryCode", "stateProvince", "locality",
    "habitat", "decimalLatitude", "decimalLongitude", "geodeticDatum", "coordinateUncertaintyInMeters",
    "minimumElevationInMeters", "establishmentMeans", "degreeOfEstablishment", "organismQuantity",
    "organismQuantityType", "lifeStage", "associatedReferences", "dynamicProperties",
}  # fmt: skip


def read(whole, folder):
    """Return the rows of an archive as python-dwca-reader reads them, by the plain names of their terms."""
    path = folder / "manifest.zip"
    path.write_bytes(write_archive(whole))
    with DwCAReader(str(path)) as archive:
        assert archive.descriptor.core.type == f"{TERMS}MaterialEntity"
        assert archive.descriptor.metadata_filename == "eml.xml"
        assert archive.metadata.find(".//organizationName").text == whole.bank
        return [{term.removeprefix(TERMS): cell for term, cell in row.data.items()} for row in archive]


def test_every_term_is_one_of_the_standard():
    assert set(COLUMNS) <= KNOWN
    assert len(set(COLUMNS)) == len(COLUMNS)


def test_another_reader_reads_every_packet(tmp_path):
    whole = manifest(6)
    rows = read(whole, tmp_path)
    assert [row["materialEntityID"] for row in rows] == [f"{whole.parcel}:{number}" for number in range(1, 7)]
    for row, item in zip(rows, whole.items, strict=True):
        assert row["catalogNumber"] == item.code
        assert row["collectionCode"] == item.batch
        assert row["otherCatalogNumbers"] == f"{item.clone} | {item.network_number}"
        assert row["eventDate"] == "2019-08"  # known to the month: ISO 8601, as `1906-06` in the standard's examples
        assert row["countryCode"] == item.country
        assert (row["objectQuantity"], row["objectQuantityType"]) == (str(item.micrograms), "micrograms")
        assert row["basisOfRecord"] == "MaterialEntity"
        assert row["locality"] == 'wall, 240 m; "the mill", north side'
        said = json.loads(row["dynamicProperties"])
        assert said.get("aliveMiddle") == (None if item.share is None else item.share.middle)
        assert len(said.get("tests", ())) == len(item.tests)
    assert not any(whole.recipient.split(",")[0] in cell for row in rows for cell in row.values())


@pytest.mark.parametrize(
    ("name", "rank", "infra", "cultivar"),
    [
        # cultivarEpithet goes without quotes, with taxonRank `cultivar` or `cultivar group` (the term's own examples).
        ("Dryopteris filix-mas 'Linearis'", "cultivar", "", "Linearis"),
        ("Polystichum setiferum Divisilobum Group", "cultivar group", "", "Divisilobum"),
        ("Asplenium scolopendrium f. crispum", "form", "crispum", ""),
        ("Asplenium trichomanes subsp. quadrivalens", "subspecies", "quadrivalens", ""),
        ("Dryopteris affinis", "species", "", ""),
    ],
)
def test_names_are_taken_apart_as_the_standard_does(tmp_path, name, rank, infra, cultivar):
    whole = manifest(1)
    (row,) = read(replace(whole, items=(replace(whole.items[0], name=parse(name)),)), tmp_path)
    assert row["scientificName"] == name
    assert (row["taxonRank"], row["infraspecificEpithet"], row["cultivarEpithet"]) == (rank, infra, cultivar)
    assert [row["genus"], row["specificEpithet"]] == name.split()[:2]


def test_the_archive_is_built_as_the_text_guide_says():
    """Text Guide of 2023-09-13: meta.xml, one core with its file and id, metadata; always the same bytes."""
    data = write_archive(manifest(3))
    assert data == write_archive(manifest(3))
    with zipfile.ZipFile(BytesIO(data)) as archive:
        assert sorted(archive.namelist()) == ["eml.xml", "meta.xml", "packets.csv"]
        meta = ET.fromstring(archive.read("meta.xml"))
    space = {"d": "http://rs.tdwg.org/dwc/text/"}
    assert meta.tag == "{http://rs.tdwg.org/dwc/text/}archive"
    assert meta.get("metadata") == "eml.xml"
    (core,) = meta.findall("d:core", space)
    assert core.find("d:id", space).get("index") == "0"
    assert core.find("d:files/d:location", space).text == "packets.csv"
    assert core.get("ignoreHeaderLines") == "1"
    assert [field.get("index") for field in core.findall("d:field", space)] == [str(n) for n in range(len(COLUMNS))]


seen = st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=30)


@given(seen, seen)
def test_no_text_breaks_a_row(tmp_path_factory, origin, bank):
    whole = replace(manifest(2), bank=f"{bank}.")
    whole = replace(whole, items=tuple(replace(item, origin=origin) for item in whole.items))
    rows = read(whole, tmp_path_factory.mktemp("archive"))
    assert [row["locality"] for row in rows] == [" ".join(origin.split())] * 2


def test_a_manifest_without_packets_is_refused():
    with pytest.raises(Refusal, match="Fill the request first"):
        write_archive(replace(manifest(1), items=()))
