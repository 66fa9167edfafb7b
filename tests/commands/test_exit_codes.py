"""Exit codes, reports and messages of each command, run as a person runs them."""

import json
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest

SCHEMAS = Path(__file__).parents[1] / "schemas"


def run(*argv, cwd=None):
    return subprocess.run(
        [sys.executable, "-m", "benchgalley", *map(str, argv)], cwd=cwd, capture_output=True, text=True, check=False
    )


@pytest.fixture
def spoiled_site(small_site):
    """The small site with one stated number changed by one unit of its last digit."""
    path = next((small_site / "content" / "write-ups").glob("*/write-up.md"))
    from tests.demo.last_digits import claims_of, moved

    claim = next(c for c in claims_of(small_site, path.parent.name) if moved(c) is not None)
    lines = path.read_text("utf-8").split("\n")
    row = lines[claim.where.line - 1]
    start, end = claim.where.column - 1, claim.where.end_column - 1
    lines[claim.where.line - 1] = row[:start] + moved(claim) + row[end:]
    path.write_text("\n".join(lines), "utf-8")
    return small_site, f"content/write-ups/{path.parent.name}/write-up.md:{claim.where.line}:"


def test_check_passes_on_a_true_site(small_site):
    done = run("check", small_site)
    assert (done.returncode, done.stdout) == (0, "")
    assert "every claim agrees" in done.stderr


def test_check_names_file_line_and_column(spoiled_site):
    site, place = spoiled_site
    done = run("check", site)
    assert done.returncode == 1
    assert place in done.stdout
    assert "^~" in done.stdout
    assert "Traceback" not in done.stdout + done.stderr


def test_site_defaults_to_the_current_folder(small_site):
    assert run("check", cwd=small_site).returncode == 0


@pytest.mark.parametrize("command", ["check", "build", "numbers"])
def test_a_folder_without_content_is_wrong_usage(command, tmp_path):
    done = run(command, tmp_path)
    assert done.returncode == 2
    assert "no content/site.yaml there" in done.stderr
    assert "Traceback" not in done.stderr


def test_an_unknown_option_is_wrong_usage(small_site):
    assert run("check", small_site, "--reprot", "json").returncode == 2


def test_build_writes_nothing_when_a_claim_disagrees(spoiled_site, tmp_path):
    site, place = spoiled_site
    target = tmp_path / "out"
    done = run("build", site, "--to", target)
    assert done.returncode == 1
    assert place in done.stdout
    assert not target.exists()


def test_sarif_report_follows_its_schema(spoiled_site):
    """SARIF 2.1.0 errata 01 schema, and the points its schema leaves out (sections 3.14.27, 3.4.4, 3.30)."""
    site, _ = spoiled_site
    done = run("check", site, "--report", "sarif")
    assert done.returncode == 1
    log = json.loads(done.stdout)
    jsonschema.Draft4Validator(json.loads((SCHEMAS / "sarif-2.1.0.schema.json").read_text("utf-8"))).validate(log)
    (sarif_run,) = log["runs"]
    assert sarif_run["columnKind"] == "unicodeCodePoints"
    assert sarif_run["results"]
    for result in sarif_run["results"]:
        assert sarif_run["tool"]["driver"]["rules"][result["ruleIndex"]]["id"] == result["ruleId"]
        place = result["locations"][0]["physicalLocation"]
        assert place["artifactLocation"]["uriBaseId"] == "SITE"
        assert not place["artifactLocation"]["uri"].startswith("/")
        region = place["region"]
        source = (site / place["artifactLocation"]["uri"]).read_text("utf-8").split("\n")
        if "snippet" in region:
            line = source[region["startLine"] - 1]
            assert line[region["startColumn"] - 1 : region["endColumn"] - 1] == region["snippet"]["text"]
    assert run("check", site, "--report", "sarif").stdout == done.stdout


def test_json_report_counts_its_problems(spoiled_site):
    site, _ = spoiled_site
    report = json.loads(run("check", site, "--report", "json").stdout)
    assert report["errors"] == sum(p["severity"] == "error" for p in report["problems"]) > 0
    assert {"file", "line", "column", "message", "mend", "stated", "computed"} <= set(report["problems"][0])


def test_numbers_lists_addresses_and_shows_a_working(small_site):
    table = run("numbers", small_site)
    assert table.returncode == 0
    first = table.stdout.split()[0]
    working = run("numbers", small_site, first)
    assert working.returncode == 0
    assert "runs of" in working.stdout or "set" in working.stdout


def test_numbers_answers_an_unknown_address_with_the_nearest(small_site):
    done = run("numbers", small_site, "tuned/board-powr")
    assert done.returncode == 2
    assert "Nearest:" in done.stderr and "board-power" in done.stderr


def test_numbers_as_json_is_plain_data(small_site):
    data = json.loads(run("numbers", small_site, "--json").stdout)
    assert data and all({"address", "value", "unit", "ucum", "runs"} <= set(row) for row in data)


def test_control_characters_do_not_reach_the_terminal(small_site):
    path = next((small_site / "content" / "write-ups").glob("*/write-up.md"))
    path.write_text(path.read_text("utf-8").replace("summary:", "sum\x1b[31mmary:"), "utf-8")
    done = run("check", small_site)
    assert done.returncode in (1, 2)
    assert "\x1b" not in done.stdout + done.stderr
