"""The built demo behind a local server, and pages that note everything they should not do."""

import functools
import http.server
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

NOTE_VIOLATIONS = """
window.violations = [];
addEventListener('securitypolicyviolation', (e) =>
  violations.push([e.violatedDirective, e.blockedURI, e.sourceFile, e.lineNumber].join(' ')));
"""
"""Put into every page before anything of its own runs."""


@dataclass
class Served:
    """A folder behind a local server, and what was sent from it."""

    base: str
    """Address of the folder, with a slash at its end."""
    sent: list[tuple[str, int]] = field(default_factory=list)
    """(path, status) of every answer, in order."""

    def bodies(self, path: str) -> int:
        """How often the content of a file was sent: an answer that says "unchanged" sends none."""
        return sum(p == "/" + path and status == 200 for p, status in self.sent)


@pytest.fixture(scope="session")
def serve():
    """Serves a folder for the rest of the session."""
    servers = []

    def started(folder: Path) -> Served:
        served = Served(base="")

        class Handler(http.server.SimpleHTTPRequestHandler):
            def log_message(self, *args):
                pass

            def log_request(self, code="-", size="-"):
                served.sent.append((self.path, int(code)))

        server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), functools.partial(Handler, directory=str(folder)))
        servers.append(server)
        threading.Thread(target=server.serve_forever, daemon=True).start()
        served.base = f"http://127.0.0.1:{server.server_address[1]}/"
        return served

    yield started
    for server in servers:
        server.shutdown()
        server.server_close()


@pytest.fixture(scope="session")
def demo(serve, built_demo) -> Served:
    return serve(built_demo)


@pytest.fixture(scope="session")
def served(demo) -> str:
    """The demo's base address on this machine."""
    return demo.base


@pytest.fixture(scope="session")
def page_names(built_demo) -> list[str]:
    return sorted(p.relative_to(built_demo).as_posix() for p in Path(built_demo).rglob("*.html"))


@pytest.fixture(scope="session")
def write_up_names(page_names) -> list[str]:
    return [name for name in page_names if name.startswith("write-ups/") and name.endswith("/index.html")]


@pytest.fixture(scope="session")
def heaviest(built_demo, write_up_names) -> str:
    """The write-up with the largest page."""
    return max(write_up_names, key=lambda name: (built_demo / name).stat().st_size)


@dataclass
class Watched:
    """A tab and what went wrong on the pages it showed."""

    page: Any
    console: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)
    dialogs: list[str] = field(default_factory=list)

    def goto(self, url: str) -> "Watched":
        """Show a page; what was noted before is forgotten."""
        for noted in (self.console, self.requests, self.dialogs):
            noted.clear()
        self.page.goto(url)
        return self

    def violations(self) -> list[str]:
        """Breaches of the page's own security policy since it was opened."""
        return self.page.evaluate("window.violations")

    def strangers(self, *own: str) -> list[str]:
        """Requests to anywhere but the prefixes named."""
        return [url for url in self.requests if not url.startswith((*own, "data:"))]

    def noted(self) -> dict[str, list[str]]:
        """Everything a page must not cause."""
        found = {"console": list(self.console), "dialogs": list(self.dialogs), "violations": self.violations()}
        return {what: entries for what, entries in found.items() if entries}


@pytest.fixture(scope="module")
def open_tab(browser) -> Callable[..., Watched]:
    """Opens a tab in a context of its own; it can show many pages. Console, dialogs, requests, violations noted."""
    contexts = []

    def opened(url=None, width=1280, height=900, **context):
        made = browser.new_context(viewport={"width": width, "height": height}, **context)
        made.add_init_script(NOTE_VIOLATIONS)
        contexts.append(made)
        page = made.new_page()
        page.set_default_timeout(15_000)
        watched = Watched(page)
        page.on("console", lambda m: watched.console.append(m.text) if m.type in ("error", "warning") else None)
        page.on("pageerror", lambda e: watched.console.append(str(e)))
        page.on("request", lambda r: watched.requests.append(r.url))

        def dismiss(dialog):
            watched.dialogs.append(dialog.message)
            dialog.dismiss()

        page.on("dialog", dismiss)
        return watched.goto(url) if url else watched

    yield opened
    for context in contexts:
        context.close()


@pytest.fixture(scope="module")
def tab(open_tab) -> Watched:
    """One wide tab for all tests of a file that need no other kind."""
    return open_tab()
