"""The one module that writes: whole sites or nothing."""

import os
import shutil
import stat
from pathlib import Path

import pytest

from benchgalley.publish import ForeignFolderError, KeptPictures, Printing, site_writer, write_site
from benchgalley.publish.record import published_entries, published_record
from benchgalley.publish.swapping import swapped
from benchgalley.source_tree import sources

OLD = {"record.json": b"{}", "index.html": b"old", "a/b.html": b"same", "gone.html": b"gone"}
NEW = {"record.json": b"{}", "index.html": b"new", "a/b.html": b"same", "c/d.html": b"fresh"}


def tree(folder) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_a_site_is_written_and_replaced_whole(tmp_path):
    write_site(OLD, tmp_path / "site")
    assert tree(tmp_path / "site") == OLD
    write_site(NEW, tmp_path / "site")
    assert tree(tmp_path / "site") == NEW
    assert [p.name for p in tmp_path.iterdir()] == ["site"], "nothing is left beside it"


def test_unchanged_files_keep_their_time(tmp_path):
    write_site(OLD, tmp_path / "site")
    os.utime(tmp_path / "site/a/b.html", (1_000_000, 1_000_000))
    write_site(NEW, tmp_path / "site")
    assert (tmp_path / "site/a/b.html").stat().st_mtime == 1_000_000
    assert (tmp_path / "site/index.html").stat().st_mtime != 1_000_000


def test_an_unchanged_site_is_not_touched(tmp_path):
    write_site(OLD, tmp_path / "site")
    before = (tmp_path / "site").stat().st_ino
    write_site(OLD, tmp_path / "site")
    assert (tmp_path / "site").stat().st_ino == before


@pytest.mark.parametrize("step", range(1, 8))
def test_a_crash_at_any_step_leaves_the_old_site_or_the_new(step, tmp_path, monkeypatch):
    """Every writing call of the system is made to fail in turn; the process then dies or recovers."""
    write_site(OLD, tmp_path / "site")
    count = 0

    def failing(real):
        def call(*args, **kwargs):
            nonlocal count
            count += 1
            if count == step:
                raise KeyboardInterrupt
            return real(*args, **kwargs)

        return call

    monkeypatch.setattr(os, "replace", failing(os.replace))
    monkeypatch.setattr(site_writer, "_place", failing(site_writer._place))
    try:
        write_site(NEW, tmp_path / "site")
    except KeyboardInterrupt:
        assert tree(tmp_path / "site") in (OLD, NEW)  # it may come once the new one is in its place
    else:
        assert tree(tmp_path / "site") == NEW


@pytest.mark.parametrize("dies_after", ["writing", "first rename"])
def test_what_a_killed_process_left_is_put_right(dies_after, tmp_path):
    """No handler runs when a process is killed: the next run finds the pieces."""
    target = tmp_path / "site"
    write_site(OLD, target)
    coming = tmp_path / ".site.coming"
    coming.mkdir()
    (coming / "index.html").write_bytes(b"half")
    if dies_after == "first rename":
        os.replace(target, tmp_path / ".site.going")
    write_site(NEW, target)
    assert tree(target) == NEW
    assert [p.name for p in tmp_path.iterdir()] == ["site"]


def test_a_folder_with_foreign_files_is_refused_untouched(tmp_path):
    (tmp_path / "letters.txt").write_text("dear", "utf-8")
    with pytest.raises(ForeignFolderError, match="it is no published site"):
        write_site(NEW, tmp_path)
    assert tree(tmp_path) == {"letters.txt": b"dear"}


def test_an_empty_folder_is_taken(tmp_path):
    (tmp_path / "site").mkdir()
    write_site(NEW, tmp_path / "site")
    assert tree(tmp_path / "site") == NEW


def test_a_repository_without_files_is_taken(tmp_path):
    (tmp_path / "site/.repository").mkdir(parents=True)
    (tmp_path / "site/.repository/index").write_bytes(b"history")
    write_site(NEW, tmp_path / "site")
    assert tree(tmp_path / "site") == {**NEW, ".repository/index": b"history"}


def test_a_file_in_the_way_is_refused(tmp_path):
    (tmp_path / "site").write_text("x", "utf-8")
    with pytest.raises(ForeignFolderError):
        write_site(NEW, tmp_path / "site")
    assert (tmp_path / "site").read_text("utf-8") == "x"


@pytest.mark.parametrize("path", ["../x", "/x", "a/../../x", "a\\b", "", "a\0b"])
def test_a_path_that_leaves_the_site_is_refused(path, tmp_path):
    with pytest.raises(ValueError, match="no path inside the site"):
        write_site({"record.json": b"{}", path: b"x"}, tmp_path / "site")
    assert not (tmp_path / "site").exists()


def test_pictures_are_kept_by_key(tmp_path):
    pictures = KeptPictures(tmp_path)
    assert pictures.get("k") is None
    pictures.put("k", "<svg/>")
    assert KeptPictures(tmp_path).get("k") == "<svg/>"
    assert pictures.get("other") is None


@pytest.mark.parametrize("spoilt", [b"", b"<svg/>", b"cut", b"changed"])
def test_a_damaged_picture_is_drawn_again(tmp_path, spoilt):
    KeptPictures(tmp_path).put("k", "<svg/>")
    (file,) = (tmp_path / ".benchgalley").iterdir()
    whole = file.read_bytes()
    file.write_bytes({b"cut": whole[:-1], b"changed": whole.replace(b"svg", b"gvs")}.get(spoilt, spoilt))
    assert KeptPictures(tmp_path).get("k") is None


def test_a_picture_under_the_name_of_another_is_none(tmp_path):
    pictures = KeptPictures(tmp_path)
    pictures.put("one", "<svg>1</svg>")
    (one,) = (tmp_path / ".benchgalley").iterdir()
    pictures.put("other", "<svg>2</svg>")
    (other,) = set((tmp_path / ".benchgalley").iterdir()) - {one}
    one.rename(tmp_path / "aside")
    other.rename(one)
    (tmp_path / "aside").rename(other)
    assert pictures.get("one") is None and pictures.get("other") is None


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="root writes anywhere")
def test_a_folder_that_cannot_be_written_keeps_nothing(tmp_path):
    tmp_path.chmod(stat.S_IRUSR | stat.S_IXUSR)
    KeptPictures(tmp_path).put("k", "<svg/>")


def stamped(folder) -> dict:
    """Path → stamp of every file, as `publish` wants them."""
    return site_writer.printed(folder).stamps


def printed(target, spare, put, kept=()):
    """A printing that puts some files and keeps others of the site it replaces."""
    printing = Printing(target, spare)
    printing.begin()
    try:
        printing.put(put)
        was = stamped(target)
        printing.publish({*put, *kept}, {path: was[path] for path in kept}, target)
    finally:
        printing.abandon()


def test_kept_files_are_the_same_files_and_spare_folders_hold_nothing_stale(tmp_path):
    target, spare = tmp_path / "site", tmp_path / "kept" / "spare"
    write_site(OLD, target)
    inode = (target / "a/b.html").stat().st_ino
    for turn in range(4):
        put = {"record.json": b"{}", "index.html": f"turn {turn}".encode(), f"only-{turn}/x.html": b"x"}
        printed(target, spare, put, kept=["a/b.html"])
        assert tree(target) == {**put, "a/b.html": b"same"}
        assert (target / "a/b.html").stat().st_ino == inode
        assert not (target / f"only-{turn - 2}").exists(), "no empty folder of an older printing stays"
        assert sorted(p.name for p in tmp_path.iterdir()) == ["kept", "site"]


def test_a_file_of_the_spare_folder_that_is_another_one_is_not_taken(tmp_path):
    target, spare = tmp_path / "site", tmp_path / "spare"
    write_site(OLD, target)
    printed(target, spare, NEW)
    (spare / "c").mkdir(exist_ok=True)
    (spare / "c/d.html").write_bytes(b"spoil")  # as long as the right one
    (spare / "a/b.html").unlink()
    (spare / "a/b.html").write_bytes(b"evil")
    printed(target, spare, {"record.json": b"{}"}, kept=["a/b.html", "c/d.html", "index.html"])
    assert tree(target) == NEW


def test_writing_a_file_never_reaches_the_old_site_through_a_link(tmp_path):
    """The old site's file may stand in the new folder under a second name: it is replaced there, not written to."""
    target, spare = tmp_path / "site", tmp_path / "spare"
    write_site(OLD, target)
    printed(target, spare, {"record.json": b"{}", "index.html": b"new"}, kept=["a/b.html"])
    printing = Printing(target, spare)
    printing.begin()
    printing.put({"a/b.html": b"first"})
    printing.put({"a/b.html": b"again"})
    assert tree(target)["a/b.html"] == b"same"
    printing.abandon()
    assert tree(target) == {"record.json": b"{}", "index.html": b"new", "a/b.html": b"same"}


@pytest.mark.parametrize("swaps", [True, False])
@pytest.mark.parametrize("step", range(1, 14))
def test_a_printing_that_keeps_files_crashes_at_any_step_without_harm(step, swaps, tmp_path, monkeypatch):
    """Every call that changes a folder fails in turn; no handler runs after it, as when a process is killed."""
    target, spare = tmp_path / "site", tmp_path / "spare"
    write_site(OLD, target)
    printed(target, spare, OLD)
    count = 0

    class Killed(BaseException):
        pass

    def failing(real):
        def call(*args, **kwargs):
            nonlocal count
            count += 1
            if count >= step:
                raise Killed
            return real(*args, **kwargs)

        return call

    with monkeypatch.context() as patched:
        if not swaps:  # as on systems that cannot let folders change places
            patched.setattr(site_writer, "swapped", lambda one, other: False)
        for name in ("replace", "rename", "link", "unlink", "makedirs", "rmdir"):
            patched.setattr(os, name, failing(getattr(os, name)))
        patched.setattr(site_writer, "_place", failing(site_writer._place))
        patched.setattr(site_writer.shutil, "rmtree", failing(site_writer.shutil.rmtree))
        try:
            printed(target, spare, {k: v for k, v in NEW.items() if k != "a/b.html"}, kept=["a/b.html"])
        except Killed:
            assert count >= step
    after = Printing(target, spare)
    after.begin()  # puts right what the killed process left
    assert tree(target) in (OLD, NEW)
    after.abandon()
    printed(target, spare, {k: v for k, v in NEW.items() if k != "a/b.html"}, kept=["a/b.html"])
    assert tree(target) == NEW


def test_stamps_follow_links_but_no_loops(tmp_path):
    (tmp_path / "a/deep").mkdir(parents=True)
    (tmp_path / "b").mkdir()
    (tmp_path / "a/one").write_text("1")
    (tmp_path / "b/.hidden").write_text("2")
    (tmp_path / "a/deep/up").symlink_to(tmp_path / "a", target_is_directory=True)
    (tmp_path / "b/over").symlink_to(tmp_path / "a", target_is_directory=True)
    (tmp_path / "a/back").symlink_to(tmp_path / "b", target_is_directory=True)
    (tmp_path / "b/nowhere").symlink_to(tmp_path / "gone")
    found = sources(tmp_path)
    assert set(found.stamps) == {"a/one", "b/over/one"} and found.linked == {"b/over/one"}


def outside(tmp_path):
    """A folder that is nobody's business, and what it holds."""
    folder = tmp_path / "outside"
    (folder / "a").mkdir(parents=True)
    (folder / "a" / "b.html").write_bytes(b"precious")
    (folder / "index.html").write_bytes(b"precious")
    return folder, tree(folder)


@pytest.mark.parametrize("name", ["extra", "a", "index.html", "a/deeper"])
def test_nothing_is_written_or_removed_through_a_link_in_the_site(name, tmp_path):
    target, spare = tmp_path / "site", tmp_path / "spare"
    folder, before = outside(tmp_path)
    write_site(OLD, target)
    place = target / name
    if place.is_dir():
        shutil.rmtree(place)
    place.unlink(missing_ok=True)
    place.symlink_to(folder if name != "index.html" else folder / "index.html")
    for turn in range(3):
        new = {**OLD, "index.html": f"turn {turn}".encode()}
        printed(target, spare, new)
        assert tree(target) == new and not [p for p in target.rglob("*") if p.is_symlink()]
        assert tree(folder) == before


@pytest.mark.parametrize("left", [".site.coming", ".site.going", "spare", "site"])
def test_a_link_where_a_printing_stands_is_not_followed(left, tmp_path):
    folder, before = outside(tmp_path)
    (folder / ".hidden").write_bytes(b"precious")
    before = tree(folder)
    target, spare = tmp_path / "site", tmp_path / "spare"
    if left != "site":
        write_site(OLD, target)
    (tmp_path / left).symlink_to(folder if left != "site" else tmp_path / "nowhere")
    for turn in range(2):
        new = {**NEW, "index.html": f"turn {turn}".encode()}
        if left == "site":
            with pytest.raises(ForeignFolderError):
                printed(target, spare, new)
        else:
            printed(target, spare, new)
            assert tree(target) == new and not target.is_symlink()
        assert tree(folder) == before


def test_the_top_of_the_disk_is_no_folder_to_publish_into():
    with pytest.raises(ForeignFolderError, match="name another one"):
        write_site(NEW, Path("/"))


@pytest.mark.parametrize("record", [b"[" * 200_000, b"[]", b"\xff", b""])
def test_a_record_that_is_none_is_no_hindrance(record, tmp_path):
    (tmp_path / "record.json").write_bytes(record)
    assert published_entries(tmp_path, {}) == {} and published_record(tmp_path) is None


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no such files here")
def test_a_file_without_an_end_is_no_source(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "one").write_text("1")
    assert set(sources(tmp_path).stamps) == {"one"}


def test_what_is_no_part_of_a_site_does_not_come_back(tmp_path):
    target, spare = tmp_path / "site", tmp_path / "spare"
    write_site(OLD, target)
    (target / "a/.stray").write_bytes(b"x")
    (target / "empty/deeper").mkdir(parents=True)
    (target / "stray.html").write_bytes(b"x")
    (target / "pipe").symlink_to("nowhere")
    for turn in range(3):
        printed(target, spare, {**OLD, "index.html": f"turn {turn}".encode()})
        assert sorted(p.relative_to(target).as_posix() for p in target.rglob("*")) == ["a", *sorted(OLD)]


@pytest.mark.parametrize("swaps", [True, False])
def test_what_is_hidden_at_the_top_is_its_owners(swaps, tmp_path, monkeypatch):
    """A repository, or a note to the host: it stands in every printing, and survives a process that is killed."""
    if not swaps:
        monkeypatch.setattr(site_writer, "swapped", lambda one, other: False)
    target, spare = tmp_path / "site", tmp_path / "spare"
    write_site(OLD, target)
    (target / ".repository").mkdir()
    (target / ".repository/index").write_bytes(b"history")
    hidden = {".repository/index": b"history"}
    for turn in range(3):
        new = {**OLD, "index.html": f"turn {turn}".encode()}
        printed(target, spare, new)
        assert tree(target) == {**new, **hidden}
    write_site(NEW, target)
    assert tree(target) == {**NEW, **hidden}
    for left in (".site.coming", ".site.going"):  # killed once the new site was in its place, or before
        os.rename(target / ".repository", tmp_path / "repository")
        shutil.copytree(target, tmp_path / left)
        os.rename(tmp_path / "repository", tmp_path / left / ".repository")
        write_site({**NEW, "index.html": left.encode()}, target)
        assert tree(target) == {**NEW, "index.html": left.encode(), **hidden}
        assert not (tmp_path / left).exists()


def test_at_no_moment_is_there_no_site(tmp_path, monkeypatch):
    """Where the system lets folders change places; elsewhere the next run puts the old one back."""
    one, other = tmp_path / "one", tmp_path / "other"
    one.mkdir()
    other.mkdir()
    if not swapped(one, other):
        pytest.skip("folders cannot change places here")
    target = tmp_path / "site"
    write_site(OLD, target)
    missing = []

    def watching(real):
        def call(*args, **kwargs):
            missing.append(not target.exists())
            result = real(*args, **kwargs)
            missing.append(not target.exists())
            return result

        return call

    for name in ("replace", "rename", "unlink", "link"):
        monkeypatch.setattr(os, name, watching(getattr(os, name)))
    write_site(NEW, target)
    assert tree(target) == NEW and len(missing) > 2 and not any(missing)


def test_folders_change_places_or_stay(tmp_path):
    (tmp_path / "one").mkdir()
    assert not swapped(tmp_path / "one", tmp_path / "missing")
    assert (tmp_path / "one").is_dir() and not (tmp_path / "missing").exists()
