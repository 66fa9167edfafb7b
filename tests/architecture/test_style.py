"""Lint, format and types run with the tests, so that one command says whether a change may land."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize(
    "command",
    [("ruff", "check", "."), ("ruff", "format", "--check", "."), ("mypy",)],
    ids=["lint", "format", "types"],
)
def test_tool_is_content(command):
    done = subprocess.run([sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-4000:] + done.stderr[-2000:]
