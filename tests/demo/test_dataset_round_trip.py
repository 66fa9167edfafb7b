"""The dataset of a write-up, unpacked elsewhere, passes `check` and gives the same numbers."""

import json
import subprocess
import sys
import zipfile

import pytest

from tests.demo.test_site_demo import ROOT, SLUGS


def run(*argv):
    return subprocess.run(
        [sys.executable, "-m", "benchgalley", *map(str, argv)], capture_output=True, text=True, check=False
    )


@pytest.mark.parametrize("slug", SLUGS)
def test_unpacked_dataset_reproduces_every_number(slug, built_demo, tmp_path):
    (archive,) = [p for p in built_demo.rglob("*.zip") if slug in p.as_posix()]
    zipfile.ZipFile(archive).extractall(tmp_path)
    (site,) = [p.parent.parent for p in tmp_path.rglob("content/site.yaml")]
    assert run("check", site, "--only", slug).returncode == 0
    assert run("check", site).returncode == 0
    here, there = (run("numbers", root, "--only", slug, "--json") for root in (ROOT, site))
    assert here.returncode == there.returncode == 0
    assert json.loads(here.stdout)
    assert here.stdout == there.stdout
