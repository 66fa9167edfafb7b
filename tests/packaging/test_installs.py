"""Wheel, source distribution and checkout each build a site: the layouts travel with the package."""

import os
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]

pytestmark = pytest.mark.xdist_group("packaging")


def run(*command, cwd=ROOT, **env):
    # SOURCE_DATE_EPOCH makes the archives the same bytes every time.
    done = subprocess.run(
        command, cwd=cwd, capture_output=True, text=True, check=False,
        env={**os.environ, "SOURCE_DATE_EPOCH": "1767225600", **env},
    )  # fmt: skip
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    return done


@pytest.fixture(scope="module")
def archives(tmp_path_factory):
    """(wheel straight from the tree, wheel by way of the source distribution, source distribution)."""
    out = tmp_path_factory.mktemp("dist")
    run(sys.executable, "-m", "build", "--no-isolation", "--wheel", "--outdir", out / "direct", ROOT)
    run(sys.executable, "-m", "build", "--no-isolation", "--sdist", "--outdir", out / "sdist", ROOT)
    (source,) = (out / "sdist").glob("*.tar.gz")
    with tarfile.open(source) as archive:
        archive.extractall(out / "unpacked", filter="data")
    (unpacked,) = (out / "unpacked").iterdir()
    run(sys.executable, "-m", "build", "--no-isolation", "--wheel", "--outdir", out / "via", unpacked)
    (direct,), (via,) = (out / "direct").glob("*.whl"), (out / "via").glob("*.whl")
    return direct, via, source


def test_both_ways_to_a_wheel_give_the_same_bytes(archives):
    direct, via, _ = archives
    assert direct.read_bytes() == via.read_bytes()


def test_the_wheel_holds_package_and_layouts_and_nothing_else(archives):
    names = zipfile.ZipFile(archives[0]).namelist()
    assert "benchgalley/layouts/base.html" in names
    assert "benchgalley/layouts/runtime/chart-runtime.js" in names
    assert all(n.startswith(("benchgalley/", "benchgalley-")) for n in names)


@pytest.mark.parametrize("which", [0, 1], ids=["wheel", "wheel from source distribution"])
def test_an_unpacked_wheel_builds_a_site(which, archives, small_site, tmp_path):
    """Run from the wheel's files alone: the checkout is not on the path."""
    zipfile.ZipFile(archives[which]).extractall(tmp_path / "installed")
    script = "import benchgalley, sys; assert sys.argv[3] in benchgalley.__file__; import benchgalley.__main__ as m; "
    script += "sys.argv = ['benchgalley', 'build', sys.argv[1], '--to', sys.argv[2]]; m.main()"
    site, target = str(small_site), tmp_path / "site"
    installed = str(tmp_path / "installed")
    run(sys.executable, "-c", script, site, str(target), installed, cwd=tmp_path, PYTHONPATH=installed)
    assert (target / "index.html").is_file()
