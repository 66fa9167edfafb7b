"""What a command loads before it does anything: the libraries that cost a tester's patience."""

import os
import subprocess
import sys

import pytest

PROBE = """
import sys
sys.argv = {argv!r}
from benchgalley.commands import main
try:
    main()
except SystemExit:
    pass
heavy = [m for m in {modules!r} if m in sys.modules]
print("LOADED", *heavy)
"""


def loaded(argv, modules, cwd):
    done = subprocess.run(
        [sys.executable, "-c", PROBE.format(argv=["benchgalley", *argv], modules=modules)],
        cwd=cwd, capture_output=True, text=True, check=True,
    )  # fmt: skip
    return done.stdout.splitlines()[-1].split()[1:]


@pytest.mark.parametrize("argv", [["--help"], ["check", "--help"], ["--version"]])
def test_help_loads_no_heavy_library(argv, tmp_path):
    assert loaded(argv, ["pandas", "altair", "scipy", "numpy", "vl_convert"], tmp_path) == []


def test_check_draws_nothing(small_site):
    assert loaded(["check", str(small_site)], ["altair", "vl_convert", "scipy.stats", "jinja2"], small_site) == []


@pytest.mark.parametrize(("said", "expected"), [(None, "1"), ("3", "3")])
def test_linear_algebra_runs_in_one_thread_unless_told_otherwise(said, expected, tmp_path):
    environment = {**os.environ, **({"OPENBLAS_NUM_THREADS": said} if said else {})}
    if said is None:
        environment.pop("OPENBLAS_NUM_THREADS", None)
    probe = "import os\n" + PROBE.format(argv=["benchgalley", "--version"], modules=[])
    done = subprocess.run(
        [sys.executable, "-c", probe + "print(os.environ['OPENBLAS_NUM_THREADS'], 'numpy' in sys.modules)"],
        cwd=tmp_path, capture_output=True, text=True, check=True, env=environment,
    )  # fmt: skip
    assert done.stdout.split()[-2:] == [expected, "False"]
