"""Preview: rebuilds on save into a temporary folder and serves it to this machine only, problems shown in place."""

import functools
import http.server
import json
import tempfile
import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from http import HTTPStatus
from pathlib import Path
from urllib.parse import urlsplit

from benchgalley.records.findings import Location, Problem, Severity
from benchgalley.records.site import Built

from . import report
from .starter import layout_files

HOST = "127.0.0.1"
_PATIENCE_S = 2.0
"""Seconds between signs of life on an open stream, so that a closed page frees its thread."""

_OWN = {
    "/preview/preview.js": ("preview.js", "text/javascript"),
    "/preview/preview.css": ("preview.css", "text/css"),
}


@dataclass(frozen=True, kw_only=True, slots=True)
class Printing:
    """What is shown at one moment."""

    number: int
    """Counts builds from 1, whether they succeeded or not."""
    folder: Path | None
    """The last site that could be built; None before the first."""
    problems: tuple[Problem, ...]
    passed: bool
    """Whether the site in `folder` is of this build."""


class Board:
    """Holds the latest printing and wakes the pages that wait for the next one."""

    def __init__(self) -> None:
        self._changed = threading.Condition()
        self._kept: list[tempfile.TemporaryDirectory[str]] = []
        self._latest = Printing(number=0, folder=None, problems=(), passed=False)
        self.closed = False

    @property
    def latest(self) -> Printing:
        """The printing to show now."""
        return self._latest

    def rebuild(self, build: Callable[[Path], Built]) -> Printing:
        """Build into a folder of its own; the site shown stays whole meanwhile, and stays when the build fails."""
        # Always a new folder: an earlier preview is no publication whose numbers would need a dated correction.
        made = tempfile.TemporaryDirectory(prefix="benchgalley-preview-")
        target = Path(made.name) / "site"
        try:
            problems = build(target).problems
        except OSError as error:  # an editor may take a file away for a moment while it saves
            where = Location(file=str(error.filename or "content"))
            problems = (Problem(rule="unreadable-file", where=where, message=error.strerror or str(error)),)
        passed = target.is_dir()
        previous = self._latest
        with self._changed:
            self._latest = Printing(
                number=previous.number + 1,
                folder=target if passed else previous.folder,
                problems=problems,
                passed=passed,
            )
            self._changed.notify_all()
        self._kept.append(made)
        # The printing before last may still be in the middle of being sent; older ones are not.
        keep = {self._latest.folder, previous.folder, target}
        for old in [k for k in self._kept if Path(k.name) / "site" not in keep]:
            self._kept.remove(old)
            old.cleanup()
        return self._latest

    def wait(self, number: int) -> int:
        """The number of the latest printing, as soon as it is not `number` or patience is at its end."""
        with self._changed:
            self._changed.wait_for(lambda: self.closed or self._latest.number != number, timeout=_PATIENCE_S)
            return self._latest.number

    def close(self) -> None:
        """Let every waiting page go and remove what was built."""
        with self._changed:
            self.closed = True
            self._changed.notify_all()
        for made in self._kept:
            made.cleanup()
        self._kept.clear()


class Server(http.server.ThreadingHTTPServer):
    """Serves the board to this machine. Raises OSError when the port is taken."""

    daemon_threads = True

    def __init__(self, board: Board, port: int) -> None:
        self.board = board
        self.own = layout_files("preview")
        super().__init__((HOST, port), functools.partial(_Handler, directory="."))

    @property
    def address(self) -> str:
        """Where a browser on this machine finds it."""
        return f"http://{HOST}:{self.server_address[1]}/"

    def names(self) -> frozenset[str]:
        """What a browser may call this machine. Any other name is a foreign page reaching for the preview."""
        port = self.server_address[1]
        return frozenset({f"{HOST}:{port}", f"localhost:{port}"})


class _Handler(http.server.SimpleHTTPRequestHandler):
    server: Server
    protocol_version = "HTTP/1.1"

    def log_message(self, format: str, *args: object) -> None:
        """Requests are of no interest to the tester; problems are printed where the build runs."""

    def do_GET(self) -> None:
        if self.headers.get("Host", "") not in self.server.names():
            self.send_error(HTTPStatus.MISDIRECTED_REQUEST)
            return
        path = urlsplit(self.path).path
        if path == "/preview/changes":
            self._stream()
        elif path == "/preview/problems.json":
            self._send(_problems_json(self.server.board.latest), "application/json")
        elif path in _OWN:
            name, kind = _OWN[path]
            self._send(self.server.own[name], kind)
        else:
            self._page()

    def do_HEAD(self) -> None:
        self.send_error(HTTPStatus.METHOD_NOT_ALLOWED)

    def _page(self) -> None:
        latest = self.server.board.latest
        if latest.folder is None:
            self._send(_with_script(self.server.own["problems.html"], latest.number), "text/html")
            return
        self.directory = str(latest.folder)
        file = Path(self.translate_path(self.path))
        if file.is_dir():
            if not urlsplit(self.path).path.endswith("/"):
                super().do_GET()  # sends the browser to the path with its slash
                return
            file /= "index.html"
        try:
            content = file.read_bytes()
        except OSError:
            self.send_error(HTTPStatus.NOT_FOUND)
            return
        kind = self.guess_type(str(file))
        self._send(_with_script(content, latest.number) if kind == "text/html" else content, kind)

    def _send(self, content: bytes, kind: str) -> None:
        text = kind.startswith("text/") or kind == "application/json"
        self.send_response(HTTPStatus.OK)
        self.send_header("Content-Type", f"{kind}; charset=utf-8" if text else kind)
        self.send_header("Content-Length", str(len(content)))
        self.send_header("Cache-Control", "no-store")
        self.end_headers()
        self.wfile.write(content)

    def _stream(self) -> None:
        self.send_response(HTTPStatus.OK)
        self.send_header("Content-Type", "text/event-stream; charset=utf-8")
        self.send_header("Cache-Control", "no-store")
        self.send_header("Connection", "close")
        self.end_headers()
        self.close_connection = True
        board = self.server.board
        number = -1
        try:
            while not board.closed:
                latest = board.wait(number)
                self.wfile.write(f"data: {latest}\n\n".encode() if latest != number else b": waiting\n\n")
                self.wfile.flush()
                number = latest
        except OSError:
            return  # the page was closed


def _with_script(page: bytes, number: int) -> bytes:
    tags = (
        '<link rel="stylesheet" href="/preview/preview.css">'
        f'<script src="/preview/preview.js" data-build="{number}" defer></script></head>'
    )
    # A page may forbid itself every connection; the preview needs one to its own server.
    page = page.replace(b"connect-src 'none'", b"connect-src 'self'", 1)
    return page.replace(b"</head>", tags.encode(), 1)


def _problems_json(latest: Printing) -> bytes:
    errors = sum(p.severity is Severity.ERROR for p in latest.problems)
    warnings = len(latest.problems) - errors
    parts = [f"{n} {word}{'' if n == 1 else 's'}" for n, word in ((errors, "problem"), (warnings, "warning")) if n]
    document = {
        "summary": " and ".join(parts),
        "stale": latest.folder is not None and not latest.passed,
        "problems": [{"severity": p.severity.value, "text": report.as_text([p]).rstrip("\n")} for p in latest.problems],
    }
    return json.dumps(document, ensure_ascii=False).encode()


def run(
    build: Callable[[Path], Built],
    changes: Callable[[], Iterable[object]],
    port: int,
    say: Callable[[str], None],
) -> None:
    """Build, serve, and build again at each change, until interrupted or the changes end.

    Parameters
    ----------
    build
        Makes the site in the folder given, or leaves the folder away when there are problems.
    changes
        Yields each time something was saved.
    port
        0 takes a free one.
    say
        Told what to print on the terminal.

    Raises
    ------
    OSError
        The port is taken.
    """
    board = Board()
    with Server(board, port) as server:
        thread = threading.Thread(target=server.serve_forever, name="preview", daemon=True)
        thread.start()
        try:
            _tell(board.rebuild(build), say)
            say(f"preview: {server.address} (this machine only; Ctrl-C ends it)")
            for _ in changes():
                _tell(board.rebuild(build), say)
        except KeyboardInterrupt:
            say("preview: ended")
        finally:
            board.close()
            server.shutdown()
            thread.join()


def _tell(latest: Printing, say: Callable[[str], None]) -> None:
    if latest.problems:
        say(report.as_text(latest.problems).rstrip("\n"))
    if latest.passed:
        say(f"preview: built ({latest.number})")
    else:
        kept = "the last good pages stay up" if latest.folder is not None else "nothing to show yet but the problems"
        say(f"preview: not built; {kept}")
