"""The built demo behind a local server, and pages that note everything they should not do."""

import functools
import http.server
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import pytest


class _Quiet(http.server.SimpleHTTPRequestHandler):
    def log_message(self, *args):
        pass


@pytest.fixture(scope="session")
def served(built_demo):
    """The demo's base address on this machine."""
    handler = functools.partial(_Quiet, directory=str(built_demo))
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_address[1]}/"
        server.shutdown()


@pytest.fixture(scope="session")
def page_names(built_demo) -> list[str]:
    return sorted(p.relative_to(built_demo).as_posix() for p in Path(built_demo).rglob("*.html"))


@dataclass
class Watched:
    """An open page and what went wrong on it."""

    page: object
    console: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)


@pytest.fixture
def open_page(browser) -> Callable[..., Watched]:
    """Opens a page in its own context; console errors, page errors and policy violations are noted."""
    contexts = []

    def opened(url, width=1280, height=900, **context):
        made = browser.new_context(viewport={"width": width, "height": height}, **context)
        contexts.append(made)
        page = made.new_page()
        watched = Watched(page)
        page.on("console", lambda m: watched.console.append(m.text) if m.type in ("error", "warning") else None)
        page.on("pageerror", lambda e: watched.console.append(str(e)))
        page.on("request", lambda r: watched.requests.append(r.url))
        page.goto(url)
        return watched

    yield opened
    for context in contexts:
        context.close()
