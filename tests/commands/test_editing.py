"""`suggest` and `restate`, run as a person runs them: what they show, what they write, what they leave alone."""

import re
from pathlib import Path

import pytest

from tests.commands.test_exit_codes import run
from tests.demo.last_digits import claims_of, moved


def write_up_of(site: Path) -> Path:
    return site / "content" / "write-ups" / "quiet-lantern" / "write-up.md"


@pytest.fixture
def stale(small_site):
    """The small site with every plain claim of one write-up moved by a digit: as after a change of the data."""
    path = write_up_of(small_site)
    true_text = path.read_bytes().decode("utf-8")
    lines = true_text.split("\n")
    claims = [c for c in claims_of(small_site, path.parent.name) if c.place in ("paragraph", "table", "list")]
    changed = 0
    for claim in sorted(claims, key=lambda c: (c.where.line, c.where.column), reverse=True):
        text = moved(claim)
        if text is None or not re.fullmatch(r"[\d.]+\s\S+", claim.stated):
            continue
        row = lines[claim.where.line - 1]
        start, end = claim.where.column - 1, claim.where.end_column - 1
        lines[claim.where.line - 1] = row[:start] + text + row[end:]
        changed += 1
    assert changed >= 3
    path.write_bytes("\n".join(lines).encode("utf-8"))
    return small_site


def test_restate_shows_a_difference_and_writes_nothing(stale):
    site = stale
    before = write_up_of(site).read_bytes()
    done = run("restate", site)
    assert done.returncode == 1
    assert "--- content/write-ups/quiet-lantern/write-up.md (as it stands)" in done.stdout
    assert write_up_of(site).read_bytes() == before


def test_restate_writes_numbers_and_nothing_else(stale):
    site = stale
    before = write_up_of(site).read_text("utf-8")
    assert run("restate", site, "--write").returncode == 0
    after = write_up_of(site).read_text("utf-8")
    assert re.sub(r"[\d.]", "", after) == re.sub(r"[\d.]", "", before)
    assert after != before
    assert run("check", site).returncode == 0


def test_line_ends_and_byte_order_mark_are_kept(stale):
    site = stale
    path = write_up_of(site)
    spoiled = path.read_bytes()
    assert run("restate", site, "--write").returncode == 0
    restated = path.read_bytes()
    path.write_bytes(b"\xef\xbb\xbf" + spoiled.replace(b"\n", b"\r\n"))
    assert run("restate", site, "--write").returncode == 0
    assert path.read_bytes() == b"\xef\xbb\xbf" + restated.replace(b"\n", b"\r\n")


def test_suggest_offers_and_writes_the_link_that_was_taken_away(small_site):
    path = write_up_of(small_site)
    true_text = path.read_text("utf-8")
    claim = next(
        c for c in claims_of(small_site, "quiet-lantern")
        if c.place == "paragraph" and str(c.address).endswith("board-power/saved")
    )  # fmt: skip
    link = re.search(re.escape(f"[{claim.stated}]") + r"\(claim:[^)]*\)", true_text).group()
    head, _, tail = true_text.rpartition(link)
    without = head + claim.stated + tail
    path.write_text(without, "utf-8")
    shown = run("suggest", small_site)
    assert shown.returncode == 1
    assert f"write-up.md:{head.count(chr(10)) + 1}:" in shown.stdout
    assert claim.address.local() in shown.stdout
    assert path.read_text("utf-8") == without
    written = run("suggest", small_site, "--write-first")
    assert "1 links written" in written.stderr
    assert run("check", small_site).returncode == 0
    assert path.read_text("utf-8").count("](claim:") == true_text.count("](claim:")
