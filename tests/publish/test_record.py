"""The published record and what a later printing owes it."""

import json
from dataclasses import replace

from benchgalley.publish import compare, published_entries
from benchgalley.publish.record import published_record
from benchgalley.records.findings import Location
from benchgalley.records.write_up import Revision, Text
from tests.publish.factory import print_site, print_with_problems, printed, small_site

SLUG = "quiet-lantern"


def record() -> dict:
    return json.loads(printed()["record.json"])


def with_changed_run(site):
    """One board power of a tuned run is 3 W higher."""
    write_up = site.write_ups[SLUG]
    trials = list(write_up.trials)
    at = next(
        i for i, t in enumerate(trials) if t.settings["voltage_offset_mv"] == -110 and "board_power_w" in t.measured
    )
    trials[at] = replace(trials[at], measured={**trials[at].measured, "board_power_w": 160.9})
    return with_write_up(site, replace(write_up, trials=tuple(trials)))


def with_write_up(site, write_up):
    return replace(site, write_ups={**site.write_ups, write_up.slug: write_up})


def with_revision(site, addresses):
    write_up = site.write_ups[SLUG]
    what = Text(place="revision", text="Read again.", positions=((1, 1),) * 11, file=write_up.file)
    fresh = Revision(date="2026-11-01", what=what, addresses=addresses, where=Location(file=write_up.file))
    return with_write_up(site, replace(write_up, revisions=(*write_up.revisions, fresh)))


def test_record_holds_every_claim_and_number():
    entry = record()["write_ups"][SLUG]
    assert {"address": f"{SLUG}:tuned/board-power/saved", "stated": "38 W", "verdict": "agrees"}.items() <= max(
        entry["claims"], key=lambda c: (c["address"].endswith("board-power/saved"), c["stated"] == "38 W")
    ).items()
    number = entry["numbers"]["tuned/board-power/saved"]
    assert float(number["value"]) and number["printed"].endswith("\u00a0W") and number["interval"]


def test_the_same_content_prints_the_same_record_over_itself():
    assert print_site(small_site(), record=record()) == printed()


def test_a_changed_number_without_a_revision_is_a_problem():
    _, problems = print_with_problems(with_changed_run(small_site()), record=record())
    assert problems
    assert {p.rule for p in problems} == {"changed-without-revision"}
    told = [p for p in problems if "tuned/board-power" in p.message]
    assert told and "and no new revision says so" in told[0].message
    assert "addresses: [tuned/board-power]" in "".join(p.mend for p in problems)
    assert all(p.where.file.endswith("write-up.md") for p in problems)


def test_an_old_revision_does_not_excuse_a_new_change():
    """The sample site already has a revision naming tuned/board-power."""
    old = small_site().write_ups[SLUG].revisions
    assert any("tuned/board-power" in r.addresses for r in old)
    _, problems = print_with_problems(with_changed_run(small_site()), record=record())
    assert any("tuned/board-power" in p.message for p in problems)


def test_a_new_revision_naming_the_addresses_lets_it_pass_and_is_shown():
    changed = with_changed_run(small_site())
    _, problems = print_with_problems(changed, record=record())
    heads = tuple(dict.fromkeys("/".join(p.address.split("/")[:2]) for p in problems))
    files = print_site(with_revision(changed, heads), record=record())
    assert "Read again." in files["corrections.html"].decode()
    again = json.loads(files["record.json"])
    assert again["write_ups"][SLUG]["revisions"][-1]["date"] == "2026-11-01"
    assert print_site(with_revision(changed, heads), record=again) == files


def test_a_revision_covers_what_lies_below_its_address():
    changed = with_changed_run(small_site())
    _, problems = print_with_problems(with_revision(changed, ("tuned/",)), record=record())
    assert not [p for p in problems if p.address.startswith("tuned/")]


def test_a_first_printing_owes_nothing():
    assert compare(None, record(), small_site()) == ()


def test_a_record_that_cannot_be_read_is_none(tmp_path):
    assert published_record(tmp_path) is None
    (tmp_path / "record.json").write_text("{", "utf-8")
    assert published_record(tmp_path) is None
    (tmp_path / "record.json").write_bytes(printed()["record.json"])
    assert published_record(tmp_path) == record()


def test_only_entries_that_are_other_ones_now_are_read_again(tmp_path):
    whole = printed()["record.json"]
    entries = record()["write_ups"]
    lines = {slug: _lines(whole, slug) for slug in entries}
    assert published_entries(tmp_path, lines) == {}
    file = tmp_path / "record.json"
    file.write_bytes(whole)
    assert published_entries(tmp_path, lines) == {}
    assert published_entries(tmp_path, {}) == entries
    changed = {**lines, SLUG: lines[SLUG].replace(b'"value": "', b'"value": "1', 1)}
    assert changed != lines
    assert published_entries(tmp_path, changed) == {SLUG: entries[SLUG]}
    file.write_text(json.dumps(record()), "utf-8")  # laid out in another way: nothing is word for word the same
    assert published_entries(tmp_path, lines) == entries
    file.write_bytes(whole[:-9])
    assert published_entries(tmp_path, {}) == {}


def _lines(whole: bytes, slug: str) -> bytes:
    """An entry as it stands in the file."""
    start = whole.index(f'  "{slug}": {{\n'.encode())
    return whole[start : whole.index(b"\n  }", start) + 4]
