"""A site published twice: what changed must be said, is said where it stands, and comes from the content alone."""

import json
import shutil

import pytest

from benchgalley import pipeline

LANTERN = "content/write-ups/quiet-lantern"
PAGE = "write-ups/quiet-lantern/index.html"
TUNED_RUNS = {"r02": "157.4", "r04": "157.7", "r09": "156.7", "r13": "157.1", "r15": "158.2"}
REVISION = """\
  - date: 2026-10-20
    what: The clamp had been read on the wrong range for the tuned runs.
    addresses: [{addresses}]
"""


def tree(folder):
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def revise(root, addresses, was=None):
    """Append a revision to the front matter; `was`: address → what had been stated."""
    file = root / LANTERN / "write-up.md"
    entry = REVISION.format(addresses=", ".join(addresses))
    if was:
        entry += "    was: {" + ", ".join(f'{address}: "{words}"' for address, words in was.items()) + "}\n"
    text = file.read_text("utf-8")
    file.write_text(text.replace("stopping_rule:", entry + "stopping_rule:"), "utf-8")


@pytest.fixture
def changed(small_site, tmp_path):
    """The small site, published; then its tuned runs drew 3 W less and its text was brought up to date."""
    target = tmp_path / "site"
    assert pipeline.build(small_site, target).passes
    trials = small_site / LANTERN / "trials.csv"
    text = trials.read_text("utf-8")
    for run, power in TUNED_RUNS.items():
        row = next(line for line in text.splitlines() if line.startswith(f"{run},"))
        text = text.replace(row, row.replace(f",{power},", f",{float(power) - 3:.1f},"))
    trials.write_text(text, "utf-8")
    _, fresh = pipeline.restatements(small_site)
    for slug, source in fresh.items():
        (small_site / "content/write-ups" / slug / "write-up.md").write_text(source, "utf-8")
    assert pipeline.check(small_site).passes, "the text agrees with the changed runs"
    return small_site, target


def published(root, target):
    return pipeline.build(root, target).problems


def heads(problems):
    return list(dict.fromkeys("/".join(p.address.split("/")[:2]) for p in problems))


def stated_before(target, address):
    claims = json.loads((target / "record.json").read_bytes())["write_ups"]["quiet-lantern"]["claims"]
    return next(c["stated"] for c in claims if c["address"] == f"quiet-lantern:{address}")


def test_a_change_without_a_revision_is_not_published(changed):
    root, target = changed
    before = tree(target)
    problems = published(root, target)
    assert {p.rule for p in problems} == {"changed-without-revision"}
    assert "tuned/board-power" in heads(problems)
    assert tree(target) == before, "the published site stays as it was"


def test_a_revision_must_say_what_the_text_stated_before(changed):
    root, target = changed
    revise(root, heads(published(root, target)))
    problems = published(root, target)
    assert problems and all("was: {" in p.mend for p in problems)
    assert {"tuned/board-power", "tuned/board-power/saved"} <= {p.address for p in problems}
    assert {p.stated for p in problems} >= {"157.4 W", "38 W"}


def test_what_was_stated_must_be_what_was_published(changed):
    root, target = changed
    first = heads(published(root, target))
    revise(root, first)
    was = {p.address: p.stated for p in published(root, target)}
    (root / LANTERN / "write-up.md").write_text(
        (root / LANTERN / "write-up.md").read_text("utf-8").replace(REVISION.format(addresses=", ".join(first)), ""),
        "utf-8",
    )
    revise(root, first, was | {"tuned/board-power/saved": "40 W"})
    (problem,) = published(root, target)
    assert "40 W, which was not published" in problem.message and "38 W" in problem.mend


@pytest.fixture
def corrected(changed):
    root, target = changed
    source = (root / LANTERN / "write-up.md").read_text("utf-8")
    first = heads(published(root, target))
    revise(root, first)
    was = {p.address: p.stated for p in published(root, target)}
    (root / LANTERN / "write-up.md").write_text(source, "utf-8")
    revise(root, first, was)
    assert published(root, target) == ()
    return root, target


def test_the_corrections_page_says_was_now_when_and_why(corrected):
    _, target = corrected
    page = (target / "corrections.html").read_text("utf-8")
    now = stated_before(target, "tuned/board-power/saved")
    assert now != "38 W"
    row = page[page.index("<code>tuned/board-power/saved</code>") :].split("</tr>")[0].replace("\u00a0", " ")
    assert "<del>38 W</del>" in row and f"<td>{now}</td>" in row
    assert '<time datetime="2026-10-20">' in page and "on the wrong range" in page


def test_the_note_stands_at_the_changed_sentence(corrected):
    _, target = corrected
    page = (target / PAGE).read_text("utf-8")
    prose = page[page.index('<div class="prose">') :].replace("\u00a0", " ")
    number = prose.index('popovertarget="working:tuned/board-power/saved"')
    note = prose[number : number + 400]
    assert 'href="#revision-2026-10-20"' in note and "was <del>38 W</del>" in note
    assert 'id="revision-2026-10-20"' in page
    untouched = prose[prose.index("working:stock/score") :][:150]
    assert "corrected" not in untouched


def test_the_same_site_comes_from_the_content_alone(corrected, tmp_path):
    root, target = corrected
    once = tree(target)
    assert published(root, target) == () and tree(target) == once, "built over itself"
    clean = tmp_path / "clean"
    assert published(root, clean) == () and tree(clean) == once, "built without an earlier record"


def test_a_published_revision_does_not_disappear(corrected):
    root, target = corrected
    file = root / LANTERN / "write-up.md"
    text = file.read_text("utf-8")
    start = text.index("  - date: 2026-10-20")
    file.write_text(text[:start] + text[text.index("stopping_rule:") :], "utf-8")
    problems = published(root, target)
    assert [p for p in problems if "2026-10-20" in p.message and "no longer there" in p.message]


def test_a_second_correction_closes_the_first(corrected):
    root, target = corrected
    once = stated_before(target, "tuned/board-power/saved")
    trials = root / LANTERN / "trials.csv"
    shutil.copy(trials, trials.with_suffix(".kept"))
    text = trials.read_text("utf-8")
    for run, power in TUNED_RUNS.items():
        row = next(line for line in text.splitlines() if line.startswith(f"{run},"))
        text = text.replace(row, row.replace(f",{float(power) - 3:.1f},", f",{float(power) - 6:.1f},"))
    trials.write_text(text, "utf-8")
    trials.with_suffix(".kept").unlink()
    for slug, source in pipeline.restatements(root)[1].items():
        (root / "content/write-ups" / slug / "write-up.md").write_text(source, "utf-8")
    source = (root / LANTERN / "write-up.md").read_text("utf-8")
    first = heads(published(root, target))
    file = root / LANTERN / "write-up.md"
    later = REVISION.replace("10-20", "11-05").format(addresses=", ".join(first))
    file.write_text(source.replace("stopping_rule:", later + "stopping_rule:"), "utf-8")
    was = {p.address: p.stated for p in published(root, target)}
    quoted = "    was: {" + ", ".join(f'{a}: "{w}"' for a, w in was.items()) + "}\n"
    file.write_text(source.replace("stopping_rule:", later + quoted + "stopping_rule:"), "utf-8")
    assert published(root, target) == ()
    corrections = json.loads((target / "record.json").read_bytes())["corrections"]
    history = [c for c in corrections if c["address"] == "tuned/board-power/saved"]
    assert [c["date"] for c in history] == ["2026-10-20", "2026-11-05"]
    assert history[0]["was"] == "38 W" and history[0]["now"] == once == history[1]["was"]
    assert history[1]["now"] == stated_before(target, "tuned/board-power/saved")
