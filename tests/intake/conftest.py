"""Every intake test works on its own copy of the small site."""

from pathlib import Path

import pytest

from tests.intake.tree import Tree


@pytest.fixture
def tree(tmp_path: Path) -> Tree:
    return Tree.copy(tmp_path)
