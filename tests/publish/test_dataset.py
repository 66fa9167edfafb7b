"""The dataset against the published schemas (tests/schemas/SOURCES.json says where each comes from)."""

import csv
import hashlib
import io
import json
import math
import re
import zipfile
from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator, FormatChecker
from jsonschema.validators import validator_for
from packaging.licenses import canonicalize_license_expression
from referencing import Registry, Resource

from benchgalley import pipeline
from benchgalley.derive import evaluate
from benchgalley.publish.columns import settled
from tests.publish.factory import print_site, printed, small_site

SCHEMAS = Path(__file__).parents[1] / "schemas"
SLUGS = ["quiet-lantern", "pebble-by-log"]


def schema(name: str) -> dict:
    return json.loads((SCHEMAS / name).read_text("utf-8"))


def faults(value, name: str) -> list[str]:
    """What a schema has against a value, formats checked."""
    document = schema(name)
    kind = validator_for(document, default=Draft202012Validator)
    resources = [
        (n.name, Resource.from_contents(json.loads(n.read_text("utf-8")))) for n in SCHEMAS.glob("*.schema.json")
    ]
    checker = kind(document, format_checker=kind.FORMAT_CHECKER, registry=Registry().with_resources(resources))
    return [e.message for e in checker.iter_errors(value)]


def unzipped(slug: str) -> dict[str, bytes]:
    archive = zipfile.ZipFile(io.BytesIO(printed()[f"write-ups/{slug}/{slug}.zip"]))
    return {name: archive.read(name) for name in archive.namelist()}


def rows(content: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(content.decode("utf-8")), strict=True))


@pytest.mark.parametrize("entry", schema("SOURCES.json")["files"], ids=lambda e: e["file"])
def test_schemas_are_the_published_ones(entry):
    assert hashlib.sha256((SCHEMAS / entry["file"]).read_bytes()).hexdigest() == entry["sha256"]


@pytest.mark.parametrize("slug", SLUGS)
def test_data_package_is_valid(slug):
    """Data Package 2.0, with formats checked; and own rules: name, id and licence are there."""
    package = json.loads(unzipped(slug)["datapackage.json"])
    assert faults(package, "datapackage-2.0.schema.json") == []
    assert package["$schema"] == "https://datapackage.org/profiles/2.0/datapackage.json"
    assert package["name"] == slug and package["id"] and package["created"].endswith("T00:00:00Z")
    for licence in package["licenses"]:
        assert canonicalize_license_expression(licence["name"]) == licence["name"]
    names = [r["name"] for r in package["resources"]]
    assert len(set(names)) == len(names)
    for resource in package["resources"]:
        path = resource["path"]
        assert not path.startswith("/") and not re.search(r"(^|/)\.", path) and path in unzipped(slug)


def test_data_package_schema_would_notice():
    """Negative cases: what must fail does fail."""
    package = json.loads(unzipped("quiet-lantern")["datapackage.json"])
    assert faults({**package, "resources": []}, "datapackage-2.0.schema.json")
    assert faults({**package, "created": "yesterday"}, "datapackage-2.0.schema.json")


@pytest.mark.parametrize("slug", SLUGS)
@pytest.mark.parametrize("table", ["trials", "results"])
def test_csvw_is_valid_and_names_the_same_columns_and_units(slug, table):
    """W3C Metadata Vocabulary for Tabular Data; columns, types and units agree in all descriptions."""
    files = unzipped(slug)
    metadata = json.loads(files[f"{table}.csv-metadata.json"])
    assert faults(metadata, "profile-csvw-metadata.schema.json") == []
    package = json.loads(files["datapackage.json"])
    (resource,) = [r for r in package["resources"] if r["path"] == f"{table}.csv"]
    fields, columns = resource["schema"]["fields"], metadata["tableSchema"]["columns"]
    header = rows(files[f"{table}.csv"])[0]
    assert header == [f["name"] for f in fields] == [c["name"] for c in columns]
    ucum = "http://qudt.org/schema/qudt/ucumCode"
    assert [f.get("unitCode") for f in fields] == [c.get(ucum) for c in columns]
    assert [f["type"] for f in fields] == [str(c["datatype"]).replace("dateTime", "datetime") for c in columns]
    assert resource["schema"]["primaryKey"] == [metadata["tableSchema"]["primaryKey"]]
    keys = [line[header.index(resource["schema"]["primaryKey"][0])] for line in rows(files[f"{table}.csv"])[1:]]
    assert len(set(keys)) == len(keys)


@pytest.mark.parametrize("slug", SLUGS)
def test_every_unit_code_parses(slug):
    """UCUM, by the grammar of the library ucumvert."""
    from ucumvert import get_ucum_parser

    parser = get_ucum_parser()
    package = json.loads(unzipped(slug)["datapackage.json"])
    codes = {
        f["unitCode"] for r in package["resources"] for f in r.get("schema", {}).get("fields", ()) if "unitCode" in f
    }
    assert {"W", "%"} <= codes
    for code in codes:
        parser.parse(code)


@pytest.mark.parametrize("slug", SLUGS)
def test_citation_file_is_valid(slug):
    """Citation File Format 1.2.0; what a YAML reader yields is checked, not the text."""
    citation = yaml.safe_load(unzipped(slug)["CITATION.cff"])
    assert faults(citation, "citation-cff-1.2.0.schema.json") == []
    assert isinstance(citation["date-released"], str) and isinstance(citation["version"], str)
    assert faults({**citation, "license": "CC-BY"}, "citation-cff-1.2.0.schema.json")
    assert faults({**citation, "licence": "CC0-1.0"}, "citation-cff-1.2.0.schema.json")


@pytest.mark.parametrize("slug", SLUGS)
def test_hashes_agree_in_three_places(slug):
    files = unzipped(slug)
    sums = dict(reversed(line.split("  ", 1)) for line in files["SHA256SUMS"].decode().splitlines())
    assert set(sums) == set(files) - {"SHA256SUMS"}
    assert list(sums) == sorted(sums)
    for path, digest in sums.items():
        assert digest == hashlib.sha256(files[path]).hexdigest()
    for resource in json.loads(files["datapackage.json"])["resources"]:
        assert resource["hash"] == f"sha256:{sums[resource['path']]}"
        assert resource["bytes"] == len(files[resource["path"]])
    for block in json_ld(slug)["distribution"]:
        path = block["contentUrl"].removeprefix("https://bench.example/")
        assert block["sha256"] == hashlib.sha256(printed()[path]).hexdigest()
    assert printed()[f"write-ups/{slug}/trials.csv"] == files["trials.csv"]


def json_ld(slug: str) -> dict:
    text = printed()[f"write-ups/{slug}/index.html"].decode()
    return json.loads(re.search(r'<script type="application/ld\+json">(.*?)</script>', text, re.S)[1])


@pytest.mark.parametrize("slug", SLUGS)
def test_json_ld_is_valid_and_lists_the_measured_columns(slug):
    """schema.org Dataset, project profile."""
    block = json_ld(slug)
    assert faults(block, "profile-dataset-jsonld.schema.json") == []
    package = json.loads(unzipped(slug)["datapackage.json"])
    (trials,) = [r for r in package["resources"] if r["path"] == "trials.csv"]
    numbers = [(f["name"], f"UCUM:{f['unitCode']}") for f in trials["schema"]["fields"] if f["type"] == "number"]
    assert [(v["name"], v["unitCode"]) for v in block["variableMeasured"]] == numbers


@pytest.mark.parametrize("slug", SLUGS)
def test_tables_read_back_to_the_same_numbers(slug):
    """Runs to the last bit, computed numbers to twelve digits."""
    site = small_site()
    results = evaluate(site)
    files = unzipped(slug)
    header, *lines = rows(files["results.csv"])
    found = {line[0]: dict(zip(header, line, strict=True)) for line in lines}
    numbers = [results.find(a) for a in results.addresses(slug)]
    assert len(numbers) == len(lines) > 20
    for number in numbers:
        row = found[number.address.local()]
        low = number.interval.low if number.interval else None
        for column, value in (("value", number.value), ("low", low)):
            assert (float(row[column]) if row[column] else None) == (value and pytest.approx(value, rel=1e-11))
    header, *lines = rows(files["trials.csv"])
    for line, trial in zip(lines, site.write_ups[slug].trials, strict=True):
        row = dict(zip(header, line, strict=True))
        for column in ("score", "board_power_w"):
            assert (float(row[column]) if row.get(column) else None) == trial.measured.get(column)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_computed_value_is_written_to_twelve_digits_as_a_float_writes_itself(value):
    assert settled(value) == repr(float(f"{value:.12g}"))


@pytest.mark.parametrize("slug", SLUGS)
def test_tables_are_plain(slug):
    """RFC 4180 and CSVW best practice: UTF-8 without a mark, LF, no formula at the start of a cell (OWASP)."""
    for name in ("trials.csv", "results.csv"):
        content = unzipped(slug)[name]
        assert not content.startswith(b"\xef\xbb\xbf") and b"\r" not in content
        for cell in (cell for line in rows(content) for cell in line):
            if cell.startswith(("=", "+", "-", "@")):
                assert math.isfinite(float(cell))


def test_archive_is_the_same_bytes_twice_and_dateless():
    fresh = print_site(small_site())
    for slug in SLUGS:
        name = f"write-ups/{slug}/{slug}.zip"
        assert fresh[name] == printed()[name]
        entries = zipfile.ZipFile(io.BytesIO(fresh[name])).infolist()
        assert {e.date_time for e in entries} == {(1980, 1, 1, 0, 0, 0)}
        assert {e.external_attr >> 16 for e in entries} == {0o644}
        assert [e.filename for e in entries] == sorted(e.filename for e in entries)


@pytest.mark.parametrize("slug", SLUGS)
def test_unpacked_it_passes_check_with_the_same_numbers(slug, tmp_path):
    for path, content in unzipped(slug).items():
        (tmp_path / path).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / path).write_bytes(content)
    again = pipeline.check(tmp_path)
    here = pipeline.check(Path(__file__).parents[1] / "fixtures" / "small_site")
    assert [p for p in again.problems if p not in here.problems] == []
    for address in here.results.addresses(slug):
        assert again.results.find(address) == here.results.find(address)


def test_data_of_another_write_up_come_along_when_the_prose_refers_to_it():
    assert "content/write-ups/quiet-lantern/trials.csv" in unzipped("pebble-by-log")
    assert "content/write-ups/pebble-by-log/trials.csv" not in unzipped("quiet-lantern")
    assert "content/write-ups/pebble-by-log/logs/evening.csv" in unzipped("pebble-by-log")


def test_read_me_states_hazards_before_files_and_limits():
    text = unzipped("quiet-lantern")["README.txt"].decode()
    assert text.index("NOTICE:") < text.index("trials.csv") < text.index("Limits of these data")
    assert "All data on this site are invented." in text


def test_format_checker_is_on():
    assert FormatChecker().checkers.get("date-time")
