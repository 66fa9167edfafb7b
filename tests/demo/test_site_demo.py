"""The committed demo: built from content/ by one command, byte for byte, and true to the last digit."""

import shutil
from pathlib import Path

import pytest

from benchgalley import pipeline
from tests.demo.last_digits import moved

ROOT = Path(__file__).parents[2]
SLUGS = sorted(p.name for p in (ROOT / "content" / "write-ups").iterdir() if p.is_dir())


def tree(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def test_the_committed_site_is_what_the_content_builds(built_demo):
    fresh, committed = tree(built_demo), tree(ROOT / "site_demo")
    assert sorted(fresh) == sorted(committed)
    assert [name for name in fresh if fresh[name] != committed[name]] == []


def test_a_second_build_over_the_first_gives_the_same_bytes(built_demo, tmp_path):
    shutil.copytree(built_demo, tmp_path / "site")
    assert pipeline.build(ROOT, tmp_path / "site").passes
    assert tree(tmp_path / "site") == tree(built_demo)


def test_the_demo_is_as_large_as_promised():
    site = pipeline.check(ROOT)
    assert site.passes
    write_ups = site.site.write_ups.values()
    trials = [t for w in write_ups for t in w.trials]
    assert len(write_ups) >= 5
    assert len(trials) >= 200
    assert {t.outcome.value for t in trials} == {"completed", "crashed", "artefacts", "hung", "aborted"}
    assert len({w.card.id for w in write_ups}) >= 3
    assert len({w.card.maker for w in write_ups}) == 2
    assert max(len(card.samples) for card in site.site.cards.values()) >= 3
    assert sum(any(t.windows for t in w.trials) for w in write_ups) >= 2
    assert all(w.invented for w in write_ups)
    for write_up in write_ups:
        words = sum(len(t.text.split()) for t in write_up.texts)
        assert words >= 600, (write_up.slug, words)
    bound = [c for r in site.readings.values() for c in r.claims if c.kind in ("number", "word")]
    print(f"{len(write_ups)} write-ups, {len(trials)} runs, {len(bound)} bound claims")
    assert len(bound) >= 60


@pytest.fixture(scope="module")
def private_demo(tmp_path_factory):
    """A copy of the demo's content, free to be spoiled."""
    root = tmp_path_factory.mktemp("demo")
    shutil.copytree(ROOT / "content", root / "content")
    return root


@pytest.mark.parametrize("slug", SLUGS)
def test_every_stated_number_fails_when_its_last_digit_moves(slug, private_demo):
    """All of them: `check` stops and names the file and the line; hedged ones are moved beyond their hedge."""
    path = private_demo / "content" / "write-ups" / slug / "write-up.md"
    original = path.read_text("utf-8")
    truth = pipeline.check(private_demo, slug)
    assert truth.passes
    tried = 0
    for claim in truth.readings[slug].claims:
        text = moved(claim) if claim.kind == "number" else None
        if text is None or claim.where.end_line not in (0, claim.where.line):
            continue
        lines = original.split("\n")
        row = lines[claim.where.line - 1]
        start, end = claim.where.column - 1, claim.where.end_column - 1
        assert row[start:end] == claim.stated or claim.stated[:1] in row[start:end]
        lines[claim.where.line - 1] = row[:start] + text + row[end:]
        path.write_text("\n".join(lines), "utf-8")
        spoiled = pipeline.check(private_demo, slug)
        named = {(p.where.file, p.where.line) for p in spoiled.problems}
        assert not spoiled.passes, (claim.stated, text)
        assert (claim.where.file, claim.where.line) in named, (claim.stated, text)
        tried += 1
    path.write_text(original, "utf-8")
    assert pipeline.check(private_demo, slug).passes
    print(f"{slug}: {tried} stated numbers moved, {tried} caught")
    assert tried >= 8
