"""What the commands share: arguments, exit codes, reports, the progress line."""

import sys
from collections.abc import Iterable
from pathlib import Path
from typing import NoReturn

import click

from benchgalley.records.findings import Problem, Severity
from benchgalley.records.site import Built, Checked

from . import report

AGREED, PROBLEMS, UNREADABLE = 0, 1, 2
"""Exit codes: all agree; problems in the content; wrong usage or unreadable input."""

SITE = click.argument("site", type=click.Path(path_type=Path), default=Path("."))
REPORT = click.option(
    "--report",
    "form",
    type=click.Choice(["text", "sarif", "json"]),
    default="text",
    help="Form of the problems on standard output.",
)
ONLY = click.option("--only", metavar="WRITE-UP", help="Only this write-up (the name of its folder).")


def must_hold_content(site: Path, only: str | None = None) -> None:
    """Stop with exit code 2 unless the folder is a site, and the one write-up asked for is in it."""
    if not (site / "content" / "site.yaml").is_file():
        stop(f"{site}: no content/site.yaml there. SITE is the folder that holds content/.")
    folders = site / "content" / "write-ups"
    if only is not None and not (folders / only / "write-up.md").is_file():
        import difflib

        near = difflib.get_close_matches(only, [p.name for p in folders.glob("*/")], n=1)
        stop(f"{only}: no such write-up." + (f" Did you mean {near[0]}?" if near else ""))


def stop(message: str) -> NoReturn:
    """Say what is wrong with the call and end with exit code 2."""
    click.echo(f"benchgalley: {report.plain(message)}", err=True)
    sys.exit(UNREADABLE)


def show(problems: Iterable[Problem], form: str) -> None:
    """The problems on standard output, in the form asked for."""
    found = tuple(problems)
    if form == "sarif":
        from .report_sarif import as_sarif

        click.echo(as_sarif(found))
    elif form == "json":
        click.echo(report.as_json(found))
    elif found:
        click.echo(report.as_text(found), nl=False)


def finish(done: Checked | Built, success: str) -> NoReturn:
    """The closing line on standard error, and the exit code that goes with it."""
    if isinstance(done, Built):
        readable, pages, claims = done.readable, done.write_ups, done.claims
    else:
        readable, pages = done.site is not None, len(done.readings)
        claims = sum(len(reading.claims) for reading in done.readings.values())
    errors = sum(p.severity is Severity.ERROR for p in done.problems)
    if not readable:
        click.echo("benchgalley: content could not be read", err=True)
        sys.exit(UNREADABLE)
    plural = "" if errors == 1 else "s"
    outcome = success if done.passes else f"{errors} problem{plural}; nothing was written"
    click.echo(
        f"benchgalley: {claims} claims in {pages} {'write-up' if pages == 1 else 'write-ups'}: {outcome}", err=True
    )
    sys.exit(AGREED if done.passes else PROBLEMS)


class Progress:
    """A line on standard error that says what is being done; silent when nobody watches a terminal."""

    def __init__(self) -> None:
        self._shown = sys.stderr.isatty()
        self._width = 0

    def __enter__(self) -> "Progress":
        return self

    def __call__(self, what: str, done: int, of: int) -> None:
        if self._shown:
            line = f"{what} ({done + 1} of {of})" if of > 1 else what
            click.echo("\r" + line.ljust(self._width), err=True, nl=False)
            self._width = len(line)

    def __exit__(self, *_: object) -> None:
        if self._width:
            click.echo("\r" + " " * self._width + "\r", err=True, nl=False)
