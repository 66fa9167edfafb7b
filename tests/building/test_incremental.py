"""A build makes again what an edit changed and nothing else, and gives the bytes of a build from nothing."""

import json
import os
import re
import shutil
from contextlib import contextmanager
from pathlib import Path

import pytest

from benchgalley import building, pipeline
from benchgalley.publish import ForeignFolderError, keep_bytes

from .editing import Site, replaced, state_of, tree

SMALL = Path(__file__).parents[1] / "fixtures" / "small_site"
LANTERN, PEBBLE = "write-ups/quiet-lantern", "write-ups/pebble-by-log"
EVERYTHING = {
    "write-up/pebble-by-log", "write-up/quiet-lantern", "card/lantern-60", "card/pebble-4", "site/texts",
    "site/assets", "site/comparison", "site/corrections", "site/feed", "site/methods", "site/worksheet",
}  # fmt: skip


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """The small site, built once."""
    site = Site(SMALL / "content", tmp_path_factory.mktemp("built"))
    made, _ = site.build()
    assert set(made) == EVERYTHING
    return site


@pytest.fixture
def site(built, tmp_path):
    """A copy of it with what its build left."""
    copy = Site(SMALL / "content", tmp_path)
    shutil.rmtree(copy.root)
    shutil.copytree(built.root, copy.root, copy_function=shutil.copy2)
    copy.build()
    return copy


def test_nothing_is_made_when_nothing_changed(site):
    assert site.after(lambda root: None) == ()


def test_a_touched_file_is_no_change(site):
    assert site.after(lambda root: os.utime(root / "content" / LANTERN / "write-up.md")) == ()


def test_a_file_whose_name_is_no_text_costs_time_and_nothing_else(site):
    """Nothing can be kept of such a tree as JSON: the site is published, and the next build makes everything."""
    try:
        Path(os.fsdecode(bytes(site.root / "content") + b"/caf\xe9.txt")).write_text("left over", "utf-8")
    except OSError:
        pytest.skip("file names here are text")
    site.build()
    assert set(site.build()[0]) == EVERYTHING


def test_an_edited_sentence_makes_its_write_up_again(site):
    made = site.after(replaced(f"{PEBBLE}/write-up.md", "The economy setting drew", "This economy setting drew"))
    # The card's page counts and shows the claims of its write-up; its sentences are among them.
    assert made == ("card/pebble-4", "write-up/pebble-by-log")


def test_a_sentence_that_others_quote_makes_them_again_too(site):
    """The dataset of the other write-up holds this one's text, because it states a number of this one."""
    made = site.after(replaced(f"{LANTERN}/write-up.md", "Back off.", "Then back off."))
    assert made == ("card/lantern-60", "write-up/pebble-by-log", "write-up/quiet-lantern")


def test_a_note_beside_a_run_leaves_other_cards_alone(site):
    made = site.after(replaced(f"{PEBBLE}/trials.csv", "p1,100,completed,513.2", "p1,100,completed,513.4"))
    assert "write-up/pebble-by-log" in made and "write-up/quiet-lantern" not in made and "card/lantern-60" not in made
    assert "site/comparison" in made


def test_a_changed_log_makes_its_write_up_again(site):
    log = site.root / "content" / PEBBLE / "logs" / "evening.csv"

    def edit(root):
        log.write_bytes(log.read_bytes().replace(b"0,01838;39,2;0", b"0,01838;39,3;0"))  # after the last run

    before = log.read_bytes()
    made = site.after(edit)
    assert log.read_bytes() != before
    assert "write-up/pebble-by-log" in made and "write-up/quiet-lantern" not in made


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        ("site.yaml", "Ada Quill", "Ada Quillon"),
        ("cards/pebble-4.yaml", "Memory: 4 GB", "Memory: 6 GB"),
        ("cards/lantern-60.yaml", "Bought new", "Bought in a shop"),
        ("benches/shed.yaml", "name:", "name: Old"),
        ("loads/lattice-sum.yaml", "name:", "name: New"),
    ],
)
def test_what_is_shared_reaches_every_page_that_shows_it(site, file, old, new):
    assert site.after(replaced(file, old, new))


def test_a_renamed_write_up(site):
    def edit(root):
        folder = root / "content" / PEBBLE
        folder.rename(folder.with_name("pebble-in-the-evening"))

    assert "write-up/pebble-in-the-evening" in site.after(edit)


def test_a_removed_write_up_and_its_return(site, tmp_path):
    away = tmp_path / "away"
    made = site.after(lambda root: (root / "content" / PEBBLE).rename(away))
    assert "card/pebble-4" in made
    made = site.after(lambda root: away.rename(root / "content" / PEBBLE))
    assert "write-up/pebble-by-log" in made


def test_an_added_write_up(site):
    def edit(root):
        added = root / "content" / "write-ups" / "second-lantern"
        shutil.copytree(root / "content" / LANTERN, added)
        text = (added / "write-up.md").read_text("utf-8").replace("sample: a", "sample: b")
        (added / "write-up.md").write_text(text, "utf-8")

    made = site.after(edit)
    assert {"write-up/second-lantern", "write-up/quiet-lantern", "card/lantern-60", "site/comparison"} <= set(made)
    assert "card/pebble-4" not in made
    # The other card's write-up states a number of this one and is judged again only if that changed.
    assert "write-up/pebble-by-log" not in made


def test_a_link_to_a_file_that_goes_away_is_told(site):
    text = "See [the other one](../quiet-lantern/).\n"
    site.after(replaced(f"{PEBBLE}/write-up.md", "![The last frame", f"{text}\n![The last frame"))
    replaced(f"{PEBBLE}/write-up.md", "([96.5 %](claim:quiet-lantern:tuned/score/of-baseline))", "")(site.root)
    site.build()
    shutil.rmtree(site.root / "content" / LANTERN)
    built = pipeline.build(site.root, site.root / "site", kept_as="test")
    assert [p.rule for p in built.problems] == ["dead-link"]
    assert not (site.root / "site").exists()


def test_problems_are_those_of_a_check_and_spoil_nothing(site):
    slip = replaced(
        f"{PEBBLE}/write-up.md", "[89 W](claim:eco/board-power) where", "[88 W](claim:eco/board-power) where"
    )
    slip(site.root)
    for _ in range(2):
        built = pipeline.build(site.root, site.root / "site", kept_as="test")
        assert not built.passes and not (site.root / "site").exists()
        assert built.problems == pipeline.check(site.root).problems
    made = site.after(replaced(f"{PEBBLE}/write-up.md", "[88 W](claim:eco", "[89 W](claim:eco"))
    assert made == ()


def test_what_a_build_in_vain_kept_goes_with_the_next_good_one(site):
    wrong = replaced(f"{PEBBLE}/trials.csv", "p1,100,completed,513.2", "p1,100,completed,613.2")
    right = replaced(f"{PEBBLE}/trials.csv", "p1,100,completed,613.2", "p1,100,completed,513.3")

    def kept():
        return sorted(file.name for file in (site.root / ".benchgalley").glob("*.part"))

    before = kept()
    wrong(site.root)
    assert not pipeline.build(site.root, site.root / "site", kept_as="test").passes
    assert set(before) < set(kept())
    right(site.root)
    site.build()
    state = state_of(site.root)
    assert kept() == sorted(unit["part"] for unit in state["units"].values() if unit["part"])


def test_a_number_that_another_write_up_states_is_judged_again_there(site):
    """The sentence stands in one write-up, its run in another: the edit of the run is a problem of the sentence."""
    path = site.root / "content" / LANTERN / "trials.csv"
    path.write_text(path.read_text("utf-8").replace(",7731,", ",7431,").replace(",7719,", ",7419,"), "utf-8")
    built = pipeline.build(site.root, site.root / "site", kept_as="test")
    files = {p.where.file for p in built.problems}
    assert files == {f"content/{LANTERN}/write-up.md", f"content/{PEBBLE}/write-up.md"}
    assert built.problems == pipeline.check(site.root).problems


@pytest.mark.parametrize(
    "spoil", ["gone", "no json", "another program", "another form", "other values", "part gone", "part damaged"]
)
def test_a_state_that_cannot_be_used_means_a_whole_build(site, spoil):
    kept = site.root / ".benchgalley"
    state = kept / "test.state"
    parts = [p for p in kept.glob("*.part")]
    found = state_of(site.root)
    if spoil == "gone":
        state.unlink()
    elif spoil == "no json":
        state.write_bytes(state.read_bytes()[:1000])
    elif spoil == "another program":
        keep_bytes(site.root, state.name, json.dumps(found | {"program": "another"}).encode())
    elif spoil == "another form":
        keep_bytes(site.root, state.name, json.dumps(found | {"form": 0}).encode())
    elif spoil == "other values":  # sound JSON, and not what was kept
        state.write_bytes(state.read_bytes().replace(b'"claims":', b'"claimed":'))
    for part in parts if spoil.startswith("part") else ():
        part.unlink() if spoil == "part gone" else part.write_bytes(b"{}")
    edit = replaced(f"{PEBBLE}/write-up.md", "The economy setting drew", "This economy setting drew")
    assert set(site.after(edit)) == EVERYTHING


def test_a_page_changed_by_hand_is_put_right(small_site):
    target = small_site / "site"
    assert pipeline.build(small_site, target).passes
    good = tree(target)
    for path in ("write-ups/quiet-lantern/index.html", "ledger.html", "methods.html"):
        (target / path).write_bytes(b"spoilt")
        assert pipeline.build(small_site, target).passes
        assert tree(target) == good
    (target / "stray.html").write_bytes(b"stray")
    (target / "cards/pebble-4/index.html").unlink()
    assert pipeline.build(small_site, target).passes
    assert tree(target) == good


def test_a_card_made_beside_its_write_ups_rests_on_all_that_it_reads_by_itself(small_site):
    """Beside them it takes their numbers as they were found, and says what they were found from."""
    target = small_site / "site"
    assert pipeline.build(small_site, target, kept_as="test").passes
    beside = state_of(small_site)["units"]["card/pebble-4"]["reads"]
    (target / "cards/pebble-4/index.html").unlink()
    assert pipeline.build(small_site, target, kept_as="test").made == ("card/pebble-4",)
    alone = state_of(small_site)["units"]["card/pebble-4"]["reads"]
    assert set(alone) <= set(beside) and "write-up/pebble-by-log/trials" in alone


def test_unchanged_files_are_the_same_files(small_site):
    target = small_site / "site"
    assert pipeline.build(small_site, target).passes
    before = {p: p.stat() for p in target.rglob("*") if p.is_file()}
    folder = target.stat().st_ino
    assert pipeline.build(small_site, target).made == ()
    assert target.stat().st_ino == folder
    replaced(f"{PEBBLE}/write-up.md", "The economy setting drew", "This economy setting drew")(small_site)
    assert pipeline.build(small_site, target).passes
    same = {p for p, was in before.items() if (p.stat().st_ino, p.stat().st_mtime_ns) == (was.st_ino, was.st_mtime_ns)}
    changed = {p.relative_to(target).as_posix() for p in before.keys() - same}
    # The sentence, the source in the dataset, the sentence in the ledger; a letter less in the list of files.
    assert changed == {f"{PEBBLE}/index.html", f"{PEBBLE}/pebble-by-log.zip", "ledger.html"}


def test_a_changed_number_still_needs_a_dated_revision(small_site):
    """What was published is held against what is built, whichever of the two is taken from an earlier build."""
    target = small_site / "site"
    assert pipeline.build(small_site, target).passes
    replaced(f"{PEBBLE}/trials.csv", "p1,100,completed,513.2", "p1,100,completed,518.2")(small_site)
    built = pipeline.build(small_site, target)
    assert {p.rule for p in built.problems} == {"changed-without-revision"}
    shutil.rmtree(small_site / ".benchgalley")
    assert pipeline.build(small_site, target).problems == built.problems


def test_a_file_changed_without_a_sign_is_read_again(site):
    """As long as before, in place, with its time of change set back: as an archive with fixed times is unpacked."""

    def edit(root):
        path = root / "content" / PEBBLE / "write-up.md"
        was, text = path.stat(), path.read_text("utf-8")
        changed = text.replace("The economy setting drew", "Her economy setting drew")
        with path.open("r+", encoding="utf-8") as file:
            file.write(changed)
        os.utime(path, ns=(was.st_atime_ns, was.st_mtime_ns))
        now = path.stat()
        assert changed != text
        assert (now.st_size, now.st_mtime_ns, now.st_ino) == (was.st_size, was.st_mtime_ns, was.st_ino)

    assert f"write-up/{PEBBLE.split('/')[1]}" in site.after(edit)


@pytest.mark.skipif(os.name == "nt", reason="links need rights there")
def test_a_file_moved_out_of_the_site_and_linked_is_seen(site, tmp_path):
    path = site.root / "content" / PEBBLE / "trials.csv"
    path.rename(tmp_path / "elsewhere.csv")
    path.symlink_to(tmp_path / "elsewhere.csv")
    built = pipeline.build(site.root, site.root / "site", kept_as="test")
    assert [p.rule for p in built.problems] == ["link-leaves-site"]
    assert [p.rule for p in pipeline.check(site.root).problems] == ["link-leaves-site"]


@contextmanager
def edited_while_built(monkeypatch, edit):
    """Builds whose content is edited right behind the digests that they take of it."""
    taken = building.digests

    def edited_behind(*about):
        found = taken(*about)
        edit()
        return found

    with monkeypatch.context() as patched:
        patched.setattr(building, "digests", edited_behind)
        yield


@pytest.mark.parametrize("file", [f"{PEBBLE}/write-up.md", f"{LANTERN}/trials.csv", "site.yaml", f"{PEBBLE}/new.txt"])
@pytest.mark.parametrize("passes", [True, False])
def test_what_was_written_during_a_build_and_taken_back_leaves_nothing(site, monkeypatch, file, passes):
    """Digests are taken first and files are read later: no page may rest on what stood there in between."""
    path = site.root / "content" / file
    before = path.read_bytes() if path.exists() else None

    def edit():
        between = {
            "write-up.md": lambda text: text.replace(b"The economy", b"Some economy"),
            "trials.csv": lambda text: text.replace(b",7731,", b",7732,").replace(b"cold start", b"warm start"),
            "site.yaml": lambda text: text + b"# looked over\n",
            "new.txt": lambda text: b"new",
        }[path.name]
        path.write_bytes(between(before or b""))

    with edited_while_built(monkeypatch, edit):
        if not passes:
            replaced(f"{PEBBLE}/write-up.md", "economy setting drew", "economy setting drew 999 W, and")(site.root)
        pipeline.build(site.root, site.root / "between", kept_as="test")
    if not passes and path.name != "write-up.md":
        replaced(f"{PEBBLE}/write-up.md", " 999 W, and", "")(site.root)
    path.unlink() if before is None else path.write_bytes(before)
    site.after(lambda root: None)


def test_a_folder_that_holds_the_content_is_not_published_into(site):
    _, target = site.build()
    shutil.copy(target / "record.json", site.root)
    before = tree(site.root / "content")
    for target in (site.root, site.root / "content", site.root.parent):
        with pytest.raises(ForeignFolderError, match="holds the content"):
            pipeline.build(site.root, target)
    assert tree(site.root / "content") == before


def test_the_frames_rest_on_nothing_that_was_written_meanwhile(site, monkeypatch):
    """The index is made last of all: its title may have been read long after the digests were taken."""
    path = site.root / "content" / "site.yaml"
    before = path.read_text("utf-8")

    def retitle():
        path.write_text(re.sub(r"(?m)^title:.*$", "title: Another title", before), "utf-8")

    with edited_while_built(monkeypatch, retitle):
        replaced(f"{PEBBLE}/write-up.md", "The economy setting drew", "This economy setting drew")(site.root)
        _, target = site.build()
    assert b"Another title" in (target / "index.html").read_bytes()
    path.write_text(before, "utf-8")
    site.after(lambda root: None)


def test_charts_of_content_that_changes_meanwhile_are_not_kept(site, monkeypatch):
    """Whether the build ends or not: they would be filed under what stood there before."""
    path = site.root / "content" / PEBBLE / "write-up.md"
    kept = site.root / ".benchgalley" / "pebble-by-log.charts"
    kept.unlink()

    def lengthen():
        path.write_text(path.read_text("utf-8") + "\nOne line more.\n", "utf-8")

    with edited_while_built(monkeypatch, lengthen):
        replaced(f"{PEBBLE}/write-up.md", "The economy setting drew", "This economy setting drew")(site.root)
        site.build()
        assert not kept.exists()
    site.after(lambda root: None)
    assert kept.exists()
