"""The worksheet's scripts in a real browser, without the page around them."""

from pathlib import Path

import pytest

ASSETS = Path(__file__).parents[2] / "layouts" / "assets"


@pytest.fixture(scope="session")
def scripts(browser):
    """Evaluates JavaScript with the arithmetic and the method of the worksheet loaded."""
    context = browser.new_context()
    page = context.new_page()
    for name in ("worksheet-numbers.js", "worksheet-method.js"):
        page.add_script_tag(path=ASSETS / name)
    yield page.evaluate
    context.close()
