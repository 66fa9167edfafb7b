"""`receive`: a reader's worksheet becomes one more sample, or nothing is touched and every reason is told."""

import hashlib
import json
import random
import re
import subprocess
import sys
from pathlib import Path

import pytest
import yaml

from benchgalley import pipeline
from benchgalley.commands import received_file
from benchgalley.commands.card_text import CannotInsertError, with_sample
from benchgalley.records.address import Address

ROOT = Path(__file__).parents[2]
HEADER = ",".join(received_file.COLUMNS)
ON = "2026-10-01"


class Session:
    """A reader's session with an invented Lantern 60, as the worksheet would hold it."""

    def __init__(self, seed=3, score=8030.0):
        self.source = random.Random(seed)
        self.score = score
        self.rows = []

    def add(self, limit, offset, outcome="completed", *, factor=1.0, soak=False, **cells):
        row = {
            "trial": f"w{len(self.rows) + 1:02d}",
            "power_limit_pct": limit,
            "voltage_offset_mv": offset,
            "sequence": "soak" if soak else "",
            "outcome": outcome,
            "ambient_c": f"{self.source.gauss(21.5, 0.1):.1f}",
            "duration_s": 3600 if soak else 60,
            "driver": "6.1",
        }
        if outcome == "completed":
            row |= {
                "score": f"{self.source.gauss(self.score * factor, 9):.0f}",
                "board_power_w": f"{self.source.gauss(1.95 * limit + offset / 5, 0.5):.1f}",
                "core_temp_c": f"{self.source.gauss(40 + limit / 4.5, 0.4):.1f}",
            }
        self.rows.append(row | cells)
        return self

    def usual(self):
        for _ in range(5):
            self.add(100, 0)
        for offset in (-20, -40, -60, -80, -100, -120, -140):
            self.add(100, offset)
        self.add(100, -160, "crashed")
        for limit in (96, 92, 88):
            self.add(limit, -120, factor=0.999)
        for _ in range(5):
            self.add(80, -110, factor=0.965)
        self.add(100, 0).add(100, 0)
        return self.add(80, -110, factor=0.965, soak=True)

    def table(self):
        lines = [",".join(str(row.get(c, "")) for c in received_file.COLUMNS) for row in self.rows]
        return "\n".join([HEADER, *lines]) + "\n"

    def write(self, path, **about):
        told = {
            "card": "lantern-60", "load": "harbour-scene", "alias": "Fennel", "margin_pct": "1",
            "stock_board_power_w": "200", **about,
        }  # fmt: skip
        path.write_text(json.dumps({"worksheet": 1, "about": told, "trials_csv": self.table()}), "utf-8")
        return path


def receive(*files, site, options=()):
    argv = [sys.executable, "-m", "benchgalley", "receive", *map(str, files), "--site", str(site), "--on", ON, *options]
    return subprocess.run(argv, capture_output=True, text=True, check=False)


def tree(site):
    return {p.relative_to(site).as_posix(): p.read_bytes() for p in sorted(site.rglob("*")) if p.is_file()}


def pooled(site, text="stock/score"):
    checked = pipeline.check(site)
    return checked.results.find(Address.parse(text, "lantern-60"))


def test_one_more_sample_is_checked_and_changes_the_pooled_figures(small_site, tmp_path):
    before, files = pooled(small_site), tree(small_site)
    done = receive(Session().usual().write(tmp_path / "worksheet.json"), site=small_site)
    assert done.returncode == 0, done.stdout + done.stderr
    written = set(done.stdout.partition("\n\n")[0].split())
    assert "disagrees" not in done.stdout
    after = tree(small_site)
    assert {p for p in after if after[p] != files.get(p)} == written
    assert set(files) - set(after) == set()

    checked = pipeline.check(small_site)
    assert [p for p in checked.problems if "lantern-60-c" in p.where.file] == []
    assert checked.passes
    write_up = checked.site.write_ups["lantern-60-c"]
    assert write_up.sample.contributed == "Fennel, a reader"
    assert list(write_up.setpoints) == ["stock", "tuned"], "equal settings take the name they have on this site"
    assert len(checked.readings["lantern-60-c"].claims) >= 6, "the table's numbers are claims"
    found = pooled(small_site)
    assert found.value != before.value
    assert len(found.groups) == len(before.groups) + 1
    assert found.interval is not None and before.interval is None, "two samples have a spread between them"


def test_statements_that_no_longer_agree_are_listed(small_site, tmp_path):
    """A sentence about all samples is the author's to mend: it is told with its place, and the runs are taken in."""
    page = small_site / "content/write-ups/quiet-lantern/write-up.md"
    text = page.read_text("utf-8")
    page.write_text(text + "\nOver samples: [8005 points](claim:lantern-60:stock/score).\n", "utf-8")
    assert pipeline.check(small_site).passes
    done = receive(Session(score=8100).usual().write(tmp_path / "worksheet.json"), site=small_site)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "content/write-ups/quiet-lantern/write-up.md:68:16: disagrees" in done.stdout
    assert done.stdout.index("lantern-60-c/trials.csv") < done.stdout.index("disagrees")
    assert not pipeline.check(small_site).passes


def test_the_site_builds_with_it_and_says_who_sent_it(small_site, tmp_path):
    receive(Session().usual().write(tmp_path / "worksheet.json"), site=small_site)
    target = tmp_path / "site"
    assert pipeline.build(small_site, target).passes
    card = (target / "cards" / "lantern-60" / "index.html").read_text("utf-8")
    assert "contributed: Fennel, a reader" in card
    page = (target / "write-ups" / "lantern-60-c" / "index.html").read_text("utf-8")
    assert "sent in by a reader" in page


def test_provenance_is_kept(small_site, tmp_path):
    file = Session().usual().write(tmp_path / "worksheet.json")
    receive(file, site=small_site)
    text = (small_site / "content/write-ups/lantern-60-c/write-up.md").read_text("utf-8")
    assert text.count(hashlib.sha256(file.read_bytes()).hexdigest()) == 2, "for the author, and on the page"
    assert "worksheet.json" in text and ON in text
    sent = Session().usual().table()
    assert (small_site / "content/write-ups/lantern-60-c/trials.csv").read_text("utf-8") == sent, "rows as sent"


def test_the_card_file_keeps_every_other_byte(small_site, tmp_path):
    path = small_site / "content/cards/lantern-60.yaml"
    text = "# my notes\r\n" + path.read_text("utf-8").replace("\n", "\r\n") + "# end\r\n"
    path.write_bytes(text.encode())
    assert receive(Session().usual().write(tmp_path / "w.json"), site=small_site).returncode == 0
    old, new = text.splitlines(keepends=True), path.read_bytes().decode().splitlines(keepends=True)
    (added,) = [line for line in new if line not in old]
    assert added.startswith("  c: {note: ") and added.endswith("\r\n")
    assert [line for line in new if line != added] == old


@pytest.mark.parametrize(
    "samples",
    [
        "samples:\n  a: {}\n",
        "samples:\n  a: {}",
        "samples: {a: {}}\nratings: {Memory: 8 GB}\n",
        "samples: {\n  a: {note: x},  # mine\n  b: {}\n}\n",
        "samples:\n    a:\n      note: one # two\n    # about b\n    b:   # lent\n"
        "      note: >-\n        long\n        note\n\nratings: {}\n",
        "samples:\n  a: {note: 'a # b'}   # comment\n\n# tail\n",
        "samples:\n  a:\n    note: |\n      kept\nratings: {}\n",
        "samples:\n  a: {}\n\n\n",
    ],
)
def test_a_sample_is_added_to_any_shape_of_card_file(samples):
    text = f"maker: M  # who\n{samples}"
    changed = with_sample(text, "new", 'a "note": {x}', "Jo, a reader")
    read = yaml.safe_load(changed)
    assert read["samples"].pop("new") == {"note": 'a "note": {x}', "contributed": "Jo, a reader"}
    assert read == yaml.safe_load(text)
    at = next(i for i, (a, b) in enumerate(zip(text + "\0", changed, strict=False)) if a != b)
    rest = text[at:]
    assert changed.startswith(text[:at]) and changed.rstrip("\n").endswith(rest.rstrip("\n"))


@pytest.mark.parametrize(
    "text",
    [
        "maker: M\n",
        "samples: {}\n",
        "samples: [a]\n",
        "samples:\n  a:\n    note: |\n      kept",
        "samples: &x {a: {}}\nother: *x\n",
        "a: [\n",
    ],
)
def test_a_card_file_it_cannot_add_to_is_left_alone(text):
    with pytest.raises(CannotInsertError):
        with_sample(text, "new", "n", "c")


def refused(site, *files, options=()):
    before = tree(site)
    done = receive(*files, site=site, options=options)
    assert done.returncode == 1, done.stdout + done.stderr
    assert "Traceback" not in done.stdout + done.stderr
    assert tree(site) == before, "nothing is touched"
    return done.stdout


def test_the_same_file_and_the_same_runs_are_found(small_site, tmp_path):
    file = Session().usual().write(tmp_path / "worksheet.json")
    assert receive(file, site=small_site).returncode == 0
    assert "same-file" in refused(small_site, file)
    again = Session().usual().write(tmp_path / "renamed.json", alias="Somebody else")
    assert "same-runs" in refused(small_site, again)
    own = small_site / "content/write-ups/quiet-lantern/trials.csv"
    assert own.is_file()


def test_two_files_are_taken_in_together_or_not_at_all(small_site, tmp_path):
    good = Session(4).usual().write(tmp_path / "one.json")
    bad = Session(5).add(100, 0).write(tmp_path / "two.json")
    told = refused(small_site, good, bad)
    assert "two.json" in told and "too-few-stock-runs" in told
    other = Session(6, score=8050).usual().write(tmp_path / "three.json", alias="Sorrel")
    assert receive(good, other, site=small_site).returncode == 0
    checked = pipeline.check(small_site)
    assert checked.passes
    assert [s.id for s in checked.site.cards["lantern-60"].samples] == ["a", "b", "c", "d"]


DOUBTFUL = {
    "score": ("the stock score is", lambda s: setattr(s, "score", 16000) or s.usual()),
    "offset": ("voltage offset of 40 mV", lambda s: s.usual().add(100, 40)),
    "power limit": ("the card allows 50 % to 110 %", lambda s: s.usual().add(130, 0, board_power_w="230")),
    "power": ("drew 420 W under a limit of 200 W", lambda s: s.usual().add(100, 0, board_power_w="420")),
    "temperature": ("temperatures that cannot be", lambda s: s.usual().add(100, 0, core_temp_c="12.0")),
    "regular": ("climb in equal steps", lambda s: [s.add(100, 0, score=str(8000 + 7 * i)) for i in range(6)] and s),
    "the same": ("every score is the same", lambda s: [s.add(100, 0, score="8030") for _ in range(6)] and s),
    "round": ("ends in 0 or 5", lambda s: [s.add(100, 0, score=str(n)) for n in
              (8030, 8025, 8040, 8020, 8035, 8030, 8015, 8045)] and s),
    "copied": ("the same figures in every column", lambda s: [s.add(100, 0) for _ in range(4)] and
               [s.add(80, -110, score="7741", board_power_w="156.2", core_temp_c="55.1", ambient_c="21.5")
                for _ in range(3)] and s),
    "spread": ("stock scores spread by", lambda s: [s.add(100, 0, score=f"{8030 + d:.2f}") for d in
               (0.11, 0.02, 0.13, 0.07, 0.04)] and s),
}  # fmt: skip


@pytest.mark.parametrize("what", DOUBTFUL)
def test_doubts_stop_it_until_they_are_answered(what, small_site, tmp_path):
    sentence, make = DOUBTFUL[what]
    file = make(Session()).write(tmp_path / "worksheet.json")
    told = refused(small_site, file)
    assert "doubtful" in told and sentence in told
    done = receive(file, site=small_site, options=["--despite", "seen on `video`, 5 W cooler"])
    assert done.returncode == 0, done.stdout + done.stderr
    text = (small_site / "content/write-ups/lantern-60-c/write-up.md").read_text("utf-8")
    assert "`seen on 'video', 5 W cooler`" in text, "the reason is published"
    assert pipeline.check(small_site).passes


def test_every_doubt_has_a_case():
    from benchgalley.commands.plausibility import DOUBTS

    assert len(DOUBTFUL) >= len(DOUBTS)


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"\xff\xfe", "not UTF-8"),
        (b"{", "broken"),
        (b'{"worksheet": 2}', "no file of this worksheet"),
        (b"[" * 100000, "no column trial"),
        (b'{"worksheet": 1, "about": {}, "trials_csv": ' + b"[" * 100000, "broken"),
        (b"a,b\n1,2\n", "no column trial"),
        (f"{HEADER},secret\n".encode(), "no column `secret`"),
        (f"{HEADER}\n".encode(), "no run"),
        (f"{HEADER}\nw01,ninety,0\n".encode(), "row 1 is no run"),
        (f"{HEADER}\nw01,nan,0,,completed,1{',' * 10}\n".encode(), "row 1 is no run"),
        (f'{HEADER}\n"w01\n'.encode(), "cannot be read"),
    ],
)
def test_a_file_that_is_none_is_refused_with_a_sentence(content, told, small_site, tmp_path):
    (tmp_path / "file").write_bytes(content)
    options = ["--card", "lantern-60", "--load", "harbour-scene", "--by", "Jo"]
    assert told in refused(small_site, tmp_path / "file", options=options)


def test_what_is_missing_or_contradicts_is_told_all_at_once(small_site, tmp_path):
    file = Session().usual().write(tmp_path / "w.json", card="", load="sun-scene", alias="")
    told = refused(small_site, file)
    assert all(rule in told for rule in ("unknown-card", "unknown-load", "no-contributor"))
    file = Session().usual().write(tmp_path / "w.json", stock_board_power_w="250")
    told = refused(small_site, file, options=["--card", "pebble-4", "--sample", "a"])
    assert "other-card" in told and "sample-taken" in told
    assert "missing.json" in refused(small_site, tmp_path / "missing.json")


def test_a_bare_table_needs_the_rest_said(small_site, tmp_path):
    (tmp_path / "trials.csv").write_text(Session().usual().table(), "utf-8")
    assert "does not say which card" in refused(small_site, tmp_path / "trials.csv")
    options = ["--card", "lantern-60", "--load", "harbour-scene", "--by", "Jo", "--sample", "jo"]
    done = receive(tmp_path / "trials.csv", site=small_site, options=options)
    assert done.returncode == 0, done.stdout + done.stderr
    assert pipeline.check(small_site).site.write_ups["lantern-60-jo"].sample.id == "jo"


def test_two_soaked_settings_are_told_apart(small_site, tmp_path):
    session = Session().usual().add(92, -120, soak=True)
    session.add(92, -120)
    assert receive(session.write(tmp_path / "w.json"), site=small_site).returncode == 0
    checked = pipeline.check(small_site)
    assert checked.passes
    sequences = checked.site.write_ups["lantern-60-c"].sequences
    assert [(s.name, s.setpoint) for s in sequences.values() if s.setpoint] == [
        ("soak", "tuned"), ("soak-2", "limit-92-offset-120"),
    ]  # fmt: skip
    alone = Session().usual().add(76, -60, soak=True)
    assert "soak-alone" in refused(small_site, alone.write(tmp_path / "v.json"))


def test_hostile_names_and_notes_stay_text(small_site, tmp_path):
    session = Session().usual()
    session.rows[0]["note"] = "<script>alert(1)</script>"
    file = session.write(tmp_path / "<b>[x](claim:y).json", alias='"}<script>alert(1)</script>')
    done = receive(file, site=small_site)
    assert done.returncode == 0, done.stdout + done.stderr
    target = tmp_path / "site"
    assert pipeline.build(small_site, target).passes
    for page in target.rglob("*.html"):
        assert "<script>alert" not in page.read_text("utf-8"), page
    formula = Session(9).usual()
    formula.rows[0]["note"] = "=1+1"
    assert "formula-cell" in refused(small_site, formula.write(tmp_path / "f.json"))


def test_worksheet_and_command_know_the_same_columns():
    script = (ROOT / "layouts" / "assets" / "worksheet-method.js").read_text("utf-8")
    listed = re.search(r"const COLUMNS = \[(.*?)\];", script, re.S)[1]
    assert tuple(re.findall(r"'(\w+)'", listed)) == received_file.COLUMNS
