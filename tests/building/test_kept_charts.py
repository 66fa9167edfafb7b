"""Charts of an earlier build are taken only where they are what would be drawn now."""

import shutil

import pytest

from benchgalley import making, pipeline
from benchgalley.records.noted import note

from .editing import replaced, tree

LOG = "write-ups/pebble-by-log"


@pytest.fixture
def drawn(monkeypatch):
    """Slugs of write-ups whose charts were prepared, in the order of the work."""
    found = []

    def noting_who(write_up, *others):
        found.append(write_up.slug)
        return real(write_up, *others)

    real = making.draw
    monkeypatch.setattr(making, "draw", noting_who)
    return found


def _built(root, name):
    """Everything made anew, but for what is kept of pictures and charts."""
    assert pipeline.build(root, root / name, kept_as=name).passes
    return tree(root / name)


def test_a_second_printing_takes_the_charts_of_the_first(small_site, drawn):
    first = _built(small_site, "first")
    assert sorted(drawn) == ["pebble-by-log", "quiet-lantern"]
    assert _built(small_site, "second") == first and len(drawn) == 2


def test_charts_are_drawn_anew_when_anything_behind_them_changed(small_site, drawn):
    _built(small_site, "first")
    del drawn[:]
    replaced(f"{LOG}/trials.csv", "p1,100,completed,513.2", "p1,100,completed,513.4")(small_site)
    changed = _built(small_site, "second")
    assert drawn == ["pebble-by-log"]
    shutil.rmtree(small_site / ".benchgalley")
    assert _built(small_site, "third") == changed


def test_what_write_ups_share_is_among_it(small_site, drawn):
    benches = sorted((small_site / "content" / "benches").iterdir())
    _built(small_site, "first")
    for shared in (*benches, small_site / "content" / "site.yaml"):
        del drawn[:]
        shared.write_text(shared.read_text("utf-8") + "\n# looked over\n", "utf-8")
        _built(small_site, shared.stem)
        assert drawn


@pytest.mark.parametrize("spoil", ["cut short", "picture gone", "another's", "gone"])
def test_charts_that_are_not_whole_are_drawn_anew(small_site, drawn, spoil):
    first = _built(small_site, "first")
    kept, others = (small_site / ".benchgalley" / f"{slug}.charts" for slug in ("quiet-lantern", "pebble-by-log"))
    if spoil == "cut short":
        kept.write_bytes(kept.read_bytes()[:-20])
    elif spoil == "picture gone":
        for picture in (small_site / ".benchgalley").glob("*.picture"):
            picture.unlink()
    elif spoil == "another's":
        shutil.copy(others, kept)
    else:
        kept.unlink()
    del drawn[:]
    assert _built(small_site, "second") == first and "quiet-lantern" in drawn


def test_charts_that_rest_on_more_than_their_write_up_are_not_kept(small_site, drawn, monkeypatch):
    counted = making.draw

    def looking_around(*about):
        note("names/write-ups")
        return counted(*about)

    monkeypatch.setattr(making, "draw", looking_around)
    first = _built(small_site, "first")
    del drawn[:]
    assert not list((small_site / ".benchgalley").glob("*.charts"))
    assert _built(small_site, "second") == first and len(drawn) == 2
