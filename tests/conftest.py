"""What every test folder may ask for: the sites, the browser."""

import os
import shutil
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


@pytest.fixture(scope="session")
def demo_site() -> Path:
    """The repository itself: content/ at its root is the demo."""
    return ROOT


@pytest.fixture
def small_site(tmp_path) -> Path:
    """A private copy of the small sample site, free to be spoiled."""
    shutil.copytree(ROOT / "tests" / "fixtures" / "small_site", tmp_path / "small")
    return tmp_path / "small"


@pytest.fixture(scope="session")
def built_demo(tmp_path_factory) -> Path:
    """The demo site, built once a session by the command a reader of README.md types."""
    import subprocess
    import sys

    target = tmp_path_factory.mktemp("built") / "site"
    done = subprocess.run(
        [sys.executable, "-m", "benchgalley", "build", str(ROOT), "--to", str(target)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-3000:]
    return target


@pytest.fixture(scope="session")
def browser():
    """Chromium: the one named by BENCHGALLEY_CHROMIUM, Playwright's own, or the system's."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        chromium = _launch(driver)
        if chromium is None:
            message = "no Chromium: set BENCHGALLEY_CHROMIUM or install one"
            if os.environ.get("CI"):
                pytest.fail(message)
            pytest.skip(message)
        yield chromium
        chromium.close()


def _launch(driver):
    quiet = ["--disable-background-networking", "--disable-component-update", "--disable-sync", "--no-first-run"]
    if named := os.environ.get("BENCHGALLEY_CHROMIUM"):
        return driver.chromium.launch(executable_path=named, args=quiet)
    if Path(driver.chromium.executable_path).exists():
        return driver.chromium.launch(args=quiet)
    for name in ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome"):
        if found := shutil.which(name):
            return driver.chromium.launch(executable_path=found, args=quiet)
    return None
