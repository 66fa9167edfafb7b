"""Compiled templates are kept for later processes, and pages are made all the same where they cannot be."""

import stat
import tempfile

import pytest
from jinja2 import Environment

from benchgalley.publish import templates
from benchgalley.publish.templates import Templates


@pytest.fixture
def afresh():
    """Lets a test see what a new process would do."""
    templates._environment.cache_clear()
    yield templates._environment.cache_clear
    templates._environment.cache_clear()


def _page():
    page = Templates({}).fill("social.svg", "a.png", card="Lantern", title=["Quiet"], size=9, figure="", foot="Bench")
    assert page.startswith(b"<svg") and b">Lantern</text>" in page
    return page


def test_a_later_process_takes_up_what_an_earlier_one_compiled(tmp_path, monkeypatch, afresh):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    first = _page()
    folders = list(tmp_path.iterdir())
    assert len(folders) == 1 and any(folders[0].iterdir())
    assert stat.S_IMODE(folders[0].stat().st_mode) == 0o700, "what lies there runs as code"
    afresh()
    monkeypatch.setattr(Environment, "compile", None)  # a second process that compiled anything would fail here
    assert _page() == first


def test_a_folder_others_may_write_to_is_not_used(tmp_path, monkeypatch, afresh):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    _page()
    folder = next(tmp_path.iterdir())
    for kept in folder.iterdir():
        kept.unlink()
    folder.rmdir()
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    folder.symlink_to(elsewhere)
    afresh()
    _page()
    assert not any(elsewhere.iterdir())


def test_a_disk_that_takes_nothing_does_not_stop_a_page(tmp_path, monkeypatch, afresh):
    def refuse(*_, **__):
        raise OSError("No space left on device")

    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    monkeypatch.setattr(tempfile, "NamedTemporaryFile", refuse)
    _page()
    assert not [path for path in tmp_path.rglob("*") if path.is_file()]
