"""Which paths lie inside a site."""

import pytest

from benchgalley.intake.files import inside


@pytest.fixture
def root(tmp_path):
    root = tmp_path / "site"
    (root / "content/cards").mkdir(parents=True)
    (root / "content/cards/a.yaml").write_text("a")
    (tmp_path / "secret").mkdir()
    (tmp_path / "secret/key.yaml").write_text("k")
    (root / "content/within.yaml").symlink_to(root / "content/cards/a.yaml")
    (root / "content/out.yaml").symlink_to(tmp_path / "secret/key.yaml")
    (root / "content/loads").symlink_to(tmp_path / "secret", target_is_directory=True)
    return root


@pytest.mark.parametrize(
    ("path", "expected"),
    [
        ("content/cards/a.yaml", True),
        ("content/cards/missing.yaml", True),
        ("content/within.yaml", True),
        ("content/out.yaml", False),
        ("content/loads/key.yaml", False),
        ("content/../content/cards/a.yaml", True),
        ("content/../../secret/key.yaml", False),
    ],
)
def test_links_and_climbing_are_followed(root, path, expected):
    assert inside(root / path, root) is expected


def test_a_root_behind_a_link_is_the_root(root, tmp_path):
    (tmp_path / "other").symlink_to(root, target_is_directory=True)
    assert inside(tmp_path / "other/content/cards/a.yaml", tmp_path / "other")
    assert inside(tmp_path / "other/content/cards/a.yaml", root)
    assert not inside(tmp_path / "other/content/out.yaml", tmp_path / "other")
