"""The one module that writes: whole sites or nothing."""

import os
import stat

import pytest

from benchgalley.publish import ForeignFolderError, kept_pictures, site_writer, write_site

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
        assert tree(tmp_path / "site") == OLD
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
    pictures = kept_pictures(tmp_path)
    assert pictures.get("k") is None
    pictures.put("k", "<svg/>")
    assert kept_pictures(tmp_path).get("k") == "<svg/>"
    assert pictures.get("other") is None


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="root writes anywhere")
def test_a_folder_that_cannot_be_written_keeps_nothing(tmp_path):
    tmp_path.chmod(stat.S_IRUSR | stat.S_IXUSR)
    kept_pictures(tmp_path).put("k", "<svg/>")
