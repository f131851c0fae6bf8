"""An archive of the demo, read by other people's reader of Darwin Core archives and by the standard library."""

import csv
import io
import os
import re
import subprocess
import zipfile

import pytest
from dwca.darwincore.utils import qualname
from dwca.read import DwCAReader
from lxml import etree
from metapype.eml import validate
from metapype.model import metapype_io

TEXT = "{http://rs.tdwg.org/dwc/text/}"
FACTS = "http://rs.tdwg.org/dwc/terms/MeasurementOrFact"
OCCURRENCE = "http://rs.tdwg.org/dwc/terms/Occurrence"


@pytest.fixture(scope="module")
def binary():
    path = os.environ.get("DEMO_BINARY")
    if not path:
        pytest.fail("DEMO_BINARY must name the program")
    return path


def run(binary, *arguments):
    return subprocess.run([binary, *arguments], capture_output=True, text=True, timeout=900, check=False)


@pytest.fixture(scope="module")
def database(binary, tmp_path_factory):
    folder = tmp_path_factory.mktemp("archive")
    made = run(binary, "demo", "--once", "--json", "--data", str(folder), "--today", "2026-05-20")
    assert made.returncode == 0, made.stderr
    return f"sqlite://{folder}/subimago.db"


@pytest.fixture(scope="module")
def records(binary, database):
    printed = run(binary, "export", "records", "--watershed", "river-ostrey", "--database", database)
    assert printed.returncode == 0, printed.stderr
    return list(csv.DictReader(io.StringIO(printed.stdout)))


@pytest.fixture(scope="module")
def archive(binary, database, tmp_path_factory):
    path = tmp_path_factory.mktemp("out") / "ostrey.zip"
    made = run(binary, "export", "archive", "--watershed", "river-ostrey", "--out", str(path), "--license", "cc0",
               "--rights-holder", "Alder Fold Fly Fishers (invented)", "--database", database)
    assert made.returncode == 0, made.stderr
    return str(path)


def test_the_reader_finds_every_record_with_its_amount(archive, records):
    with DwCAReader(archive) as read:
        assert read.descriptor.core.type == "http://rs.tdwg.org/dwc/terms/Event"
        events = {row.id: row for row in read}
        found = [(row, extension) for row in events.values() for extension in row.extensions
                 if extension.rowtype == OCCURRENCE]
        assert len(found) == len(records) > 1000
        counted = {}
        for row in records:
            blank = row["count"] == "0" or (row["count"] == "" and row["abundance_class"] == "none")
            key = (row["date_to"], row["site"], row["taxon"], "absent" if blank else "present")
            counted[key] = counted.get(key, 0) + 1
        for event, occurrence in found:
            date = event.data[qualname("eventDate")].split("/")[-1]
            site = event.data[qualname("locationID")].split(":")[1]
            key = (date, site, occurrence.data[qualname("taxonID")], occurrence.data[qualname("occurrenceStatus")])
            counted[key] -= 1
        assert set(counted.values()) == {0}
        ids = [occurrence.data[qualname("occurrenceID")] for _, occurrence in found]
        assert len(set(ids)) == len(ids)
        facts = [extension for row in events.values() for extension in row.extensions if extension.rowtype == FACTS]
        assert facts and all(fact.data["http://rs.tdwg.org/dwc/terms/measurementType"] for fact in facts)


def test_places_lie_on_the_grid_and_nobody_is_named(archive):
    with DwCAReader(archive) as read:
        for row in read:
            for term in ("decimalLatitude", "decimalLongitude"):
                assert re.fullmatch(r"-?\d+\.\d\d5", row.data[qualname(term)])
            assert row.data[qualname("geodeticDatum")] == "EPSG:4326"
            assert row.data[qualname("informationWithheld")] and row.data[qualname("dataGeneralizations")]
            for extension in row.extensions:
                assert extension.data.get(qualname("recordedBy"), "") == ""


def test_every_column_of_every_file_means_a_term(archive):
    with zipfile.ZipFile(archive) as files:
        assert files.testzip() is None
        meta = etree.fromstring(files.read("meta.xml"))
        tables = [*meta.findall(TEXT + "core"), *meta.findall(TEXT + "extension")]
        assert len(tables) == 3
        for table in tables:
            name = table.find(f"{TEXT}files/{TEXT}location").text
            header = next(csv.reader(io.TextIOWrapper(files.open(name), encoding="utf-8")))
            terms = {int(field.get("index")): field.get("term") for field in table.findall(TEXT + "field")}
            assert sorted(terms) == list(range(len(header)))
            for index, column in enumerate(header):
                assert terms[index].rsplit("/", 1)[1] == column
        eml = etree.fromstring(files.read("eml.xml"))
        dataset = eml.find("dataset")
        order = [child.tag for child in dataset]
        known = ["title", "creator", "metadataProvider", "pubDate", "language", "abstract", "intellectualRights",
                 "licensed", "coverage", "contact"]
        assert order == known, "the order in which the schema of EML 2.2 wants them"
        assert eml.tag == "{https://eml.ecoinformatics.org/eml-2.2.0}eml" and eml.get("packageId")


def faults_of_eml(text):
    """What the rules of EML 2.2, as the Environmental Data Initiative keeps them, find wrong."""
    faults = []
    validate.tree(metapype_io.from_xml(text), faults)
    return [str(fault[1]) for fault in faults]


def test_the_description_of_the_dataset_keeps_the_rules_of_eml(archive):
    with zipfile.ZipFile(archive) as files:
        text = files.read("eml.xml").decode("utf-8")
    assert faults_of_eml(text) == []
    # Those rules do find what is wrong.
    broken = re.sub("<contact>.*</contact>", "", text)
    assert broken != text and any("contact" in fault for fault in faults_of_eml(broken))
    undated = re.sub("<calendarDate>[^<]*<", "<calendarDate>May<", text)
    assert undated != text and faults_of_eml(undated)


def test_the_archive_changes_nothing_where_it_came_from(binary, database, archive):
    again = run(binary, "import", "archive", archive, "--watershed", "river-ostrey", "--json", "--database", database)
    assert again.returncode == 0, again.stderr
    import json
    told = json.loads(again.stdout)
    assert told["total"] == told["unchanged"] > 1000
