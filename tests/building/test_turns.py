"""Two builds of one site into one folder at once: the second waits for the first."""

import subprocess
import sys

from benchgalley import pipeline

from .editing import replaced, tree

HOLDING = """
import sys
from pathlib import Path
from benchgalley.turns import turn

with turn(Path(sys.argv[1]), sys.argv[2], lambda: print("waits", flush=True)):
    print("holds", flush=True)
    sys.stdin.readline()
"""
PEBBLE = "write-ups/pebble-by-log/write-up.md"


def holder(root, name):
    """A process that holds a file of a site until it is told to end, or killed."""
    return subprocess.Popen(
        [sys.executable, "-c", HOLDING, str(root), name], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )


def told(process):
    return process.stdout.readline().strip()


def test_a_second_process_waits_until_the_first_ends(tmp_path):
    with holder(tmp_path, "one") as first:
        assert told(first) == "holds"
        with holder(tmp_path, "one") as second, holder(tmp_path, "other") as other:
            assert told(second) == "waits" and told(other) == "holds"
            first.communicate("end\n", timeout=60)
            assert told(second) == "holds"
            second.kill()  # the system lets go of it
            other.communicate("end\n", timeout=60)
    with holder(tmp_path, "one") as third:
        assert told(third) == "holds"
        third.communicate("end\n", timeout=60)


def test_two_builds_at_once_publish_the_site_of_the_content_as_it_is(small_site):
    """Without turns, one of the two fails or takes away what the other makes."""
    command = [sys.executable, "-m", "benchgalley", "build", str(small_site)]
    builds = []
    for old, new in (("The", "This"), ("This", "That")):
        replaced(PEBBLE, f"{old} economy setting drew", f"{new} economy setting drew")(small_site)
        builds.append(subprocess.Popen(command, stderr=subprocess.PIPE, text=True))
    said = [build.communicate(timeout=120)[1] for build in builds]
    assert [build.returncode for build in builds] == [0, 0], said
    built = tree(small_site / "site")
    assert b"That economy setting drew" in built["write-ups/pebble-by-log/index.html"]
    assert not list(small_site.glob(".site*"))
    assert pipeline.build(small_site, small_site / "fresh").passes
    assert tree(small_site / "fresh") == built


def test_a_folder_is_the_same_one_however_it_is_written(small_site):
    """`site` and `content/../site` take turns, and use what the other kept."""
    assert pipeline.build(small_site, small_site / "site").passes
    assert pipeline.build(small_site, small_site / "content" / ".." / "site").made == ()
    assert len(list((small_site / ".benchgalley").glob("*.lock"))) == 1


def test_who_waits_is_told(small_site, tmp_path):
    heard = []

    def progress(what, done, of):
        heard.append(what)
        if what.startswith("waiting"):
            first.communicate("end\n", timeout=60)

    with holder(small_site, "test.lock") as first:
        assert told(first) == "holds"
        assert pipeline.build(small_site, tmp_path / "site", progress, kept_as="test").passes
    assert heard[0] == "waiting: another build of this site is at work"


def test_a_folder_that_cannot_be_written_to_is_no_hindrance(small_site, tmp_path):
    (small_site / ".benchgalley").write_text("a file stands where the folder should be")
    assert pipeline.build(small_site, tmp_path / "site").passes
