"""The commands. Heavy libraries load inside them, so that `--help` answers at once."""

import sys
from collections.abc import Iterable
from pathlib import Path

import click

from benchgalley import __version__
from benchgalley.records.findings import Problem, Severity
from benchgalley.records.site import Checked

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


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="benchgalley")
def benchgalley() -> None:
    """Turn a bench tester's raw trials into a site on which every number is recomputed from them.

    SITE is the folder that holds content/; it defaults to the current folder. Exit codes: 0 all claims
    agree, 1 problems in the content, 2 wrong usage or unreadable input.
    """


@benchgalley.command()
@SITE
@click.option("--to", "target", type=click.Path(path_type=Path), help="Folder to publish into. Default: SITE/site.")
@REPORT
def build(site: Path, target: Path | None, form: str) -> None:
    """Check everything, then publish the site. Nothing is written unless every claim agrees."""
    _must_hold_content(site)
    from benchgalley import pipeline

    target = target or site / "site"
    with _Progress() as progress:
        try:
            built = pipeline.build(site, target, progress)
        except OSError as error:
            _stop(f"{target}: {error.strerror or error}. What was published before is unchanged.")
    _report(built.problems, form)
    _finish(built, f"published in {target}")


@benchgalley.command()
@SITE
@ONLY
@REPORT
def check(site: Path, only: str | None, form: str) -> None:
    """Recompute every number and judge every claim; write nothing."""
    _must_hold_content(site)
    from benchgalley import pipeline

    with _Progress() as progress:
        checked = pipeline.check(site, only, progress)
    _report(checked.problems, form)
    _finish(checked, "every claim agrees with its trials")


@benchgalley.command()
@click.argument("where", nargs=-1, metavar="[SITE] [ADDRESS]...")
@ONLY
@click.option("--json", "as_json", is_flag=True, help="Everything behind each number, for scripts.")
def numbers(where: tuple[str, ...], only: str | None, as_json: bool) -> None:
    """Print every address with value, interval and runs; the whole working for each ADDRESS given."""
    site, wanted = _site_and_addresses(where)
    _must_hold_content(site)
    from benchgalley import pipeline

    from . import report_numbers

    with _Progress() as progress:
        checked = pipeline.check(site, only, progress)
    unreadable = [p for p in checked.problems if p.rule not in report.CLAIM_RULES]
    click.echo(report.as_text(unreadable), err=True, nl=False)
    if checked.site is None or checked.results is None:
        sys.exit(UNREADABLE)
    found, unknown = report_numbers.select(checked.site, checked.results, only, wanted)
    if as_json:
        click.echo(report_numbers.as_json(found))
    elif wanted:
        click.echo("\n".join(report_numbers.as_working(n) for n in found), nl=False)
    else:
        click.echo(report_numbers.as_table(found))
    for text in unknown:
        click.echo(report.plain(text), err=True)
    if unknown:
        sys.exit(UNREADABLE)
    sys.exit(PROBLEMS if unreadable else AGREED)


def _site_and_addresses(where: tuple[str, ...]) -> tuple[Path, tuple[str, ...]]:
    # A folder first, if it is one: an address never names an existing folder with content in it.
    if where and (Path(where[0]) / "content").is_dir():
        return Path(where[0]), where[1:]
    if where and ("/" not in where[0] or Path(where[0]).is_dir()):
        return Path(where[0]), where[1:]
    return Path("."), where


def _must_hold_content(site: Path) -> None:
    if not (site / "content" / "site.yaml").is_file():
        _stop(f"{site}: no content/site.yaml there. SITE is the folder that holds content/.")


def _stop(message: str) -> None:
    click.echo(f"benchgalley: {report.plain(message)}", err=True)
    sys.exit(UNREADABLE)


def _report(problems: Iterable[Problem], form: str) -> None:
    found = tuple(problems)
    if form == "sarif":
        from .report_sarif import as_sarif

        click.echo(as_sarif(found))
    elif form == "json":
        click.echo(report.as_json(found))
    elif found:
        click.echo(report.as_text(found), nl=False)


def _finish(checked: Checked, success: str) -> None:
    claims = [claim for reading in checked.readings.values() for claim in reading.claims]
    errors = sum(p.severity is Severity.ERROR for p in checked.problems)
    if checked.site is None:
        click.echo("benchgalley: content could not be read", err=True)
        sys.exit(UNREADABLE)
    plural = "" if errors == 1 else "s"
    outcome = success if checked.passes else f"{errors} problem{plural}; nothing was written"
    click.echo(f"benchgalley: {len(claims)} claims in {len(checked.readings)} write-ups: {outcome}", err=True)
    sys.exit(AGREED if checked.passes else PROBLEMS)


class _Progress:
    """A line on standard error that says what is being done; silent when nobody watches a terminal."""

    def __init__(self) -> None:
        self._shown = sys.stderr.isatty()
        self._width = 0

    def __enter__(self) -> "_Progress":
        return self

    def __call__(self, what: str, done: int, of: int) -> None:
        if self._shown:
            line = f"{what} ({done + 1} of {of})" if of > 1 else what
            click.echo("\r" + line.ljust(self._width), err=True, nl=False)
            self._width = len(line)

    def __exit__(self, *_: object) -> None:
        if self._width:
            click.echo("\r" + " " * self._width + "\r", err=True, nl=False)
