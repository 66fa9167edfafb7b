"""The commands. Heavy libraries load inside them, so that `--help` answers at once."""

import sys
from datetime import datetime
from pathlib import Path

import click

from benchgalley import __version__

from . import report
from .console import (
    AGREED,
    ONLY,
    PROBLEMS,
    REPORT,
    SITE,
    UNREADABLE,
    Progress,
    finish,
    must_hold_content,
    show,
    stop,
)
from .editing import restate, suggest


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
@click.option("--workers", type=click.IntRange(1), help="Processes that do the work. Default: as many as pay.")
@click.option("--scheduler", default="", metavar="ADDRESS", help="A Dask scheduler whose workers do the work.")
@REPORT
def build(site: Path, target: Path | None, workers: int | None, scheduler: str, form: str) -> None:
    """Check everything, then publish the site. Nothing is written unless every claim agrees."""
    must_hold_content(site)
    from benchgalley import pipeline

    target = target or site / "site"
    with Progress() as progress:
        try:
            how = pipeline.Reductions(workers=workers, scheduler=scheduler)
            built = pipeline.build(site, target, progress, how)
        except pipeline.SchedulerError as error:
            stop(f"--scheduler: {error}. Nothing was written.")
        except pipeline.WorkersError as error:
            stop(f"{error}. Nothing was written.")
        except OSError as error:
            stop(f"{target}: {error.strerror or error}. What was published before is unchanged.")
    show(built.problems, form)
    finish(built, f"published in {target}")


@benchgalley.command()
@SITE
@ONLY
@REPORT
def check(site: Path, only: str | None, form: str) -> None:
    """Recompute every number and judge every claim; write nothing."""
    must_hold_content(site, only)
    from benchgalley import pipeline

    with Progress() as progress:
        checked = pipeline.check(site, only, progress)
    show(checked.problems, form)
    finish(checked, "every claim agrees with its trials")


@benchgalley.command()
@click.argument("where", nargs=-1, metavar="[SITE] [ADDRESS]...")
@ONLY
@click.option("--json", "as_json", is_flag=True, help="Everything behind each number, for scripts.")
def numbers(where: tuple[str, ...], only: str | None, as_json: bool) -> None:
    """Print every address with value, interval and runs; the whole working for each ADDRESS given."""
    site, wanted = _site_and_addresses(where)
    must_hold_content(site, only)
    from benchgalley import pipeline

    from . import report_numbers

    with Progress() as progress:
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


@benchgalley.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
def begin(folder: Path) -> None:
    """Make a starter site in DIR, a new or empty folder: it builds as it stands and holds a trial plan."""
    from . import starter

    try:
        made = starter.begin(folder)
    except OSError as error:
        stop(str(error) if isinstance(error, starter.OccupiedFolderError) else f"{folder}: {error.strerror or error}")
    click.echo("\n".join(report.plain(f"{folder / path}") for path in made))
    click.echo(report.plain(f"benchgalley: made {folder}. See it with: benchgalley preview {folder}"), err=True)


@benchgalley.command()
@SITE
@click.option("--port", type=click.IntRange(0, 65535), default=8640, show_default=True, help="0 takes a free one.")
def preview(site: Path, port: int) -> None:
    """Build, show the site to this machine only, and do so again whenever something is saved."""
    must_hold_content(site)
    from watchfiles import watch

    from benchgalley import pipeline

    from . import preview as showing

    try:
        showing.run(
            build=lambda target: pipeline.build(site, target, kept_as="preview"),
            changes=lambda: watch(site / "content"),
            port=port,
            say=lambda text: click.echo(report.plain(text)),
        )
    except OSError as error:
        stop(f"preview: {error.strerror or error}. If the port is taken, name another one: --port 0 takes a free one.")


@benchgalley.command()
@click.argument("files", nargs=-1, required=True, metavar="FILE...", type=click.Path(path_type=Path))
@click.option("--site", type=click.Path(path_type=Path), default=Path("."), help="Default: the current folder.")
@click.option("--card", default="", metavar="ID", help="The card, when the file does not say it.")
@click.option("--load", default="", metavar="ID", help="The load, when the file does not say it.")
@click.option("--by", default="", metavar="NAME", help="Who sent it, as printed. Default: the alias in the file.")
@click.option("--sample", default="", metavar="ALIAS", help="Name of the sample. Default: the next free letter.")
@click.option("--on", type=click.DateTime(["%Y-%m-%d"]), help="Day it came in. Default: today.")
@click.option("--despite", default="", metavar="REASON", help="Take it in although it looks doubtful; published.")
def receive(
    files: tuple[Path, ...], site: Path, card: str, load: str, by: str, sample: str, on: datetime | None, despite: str
) -> None:
    """Take in worksheet files that readers sent: each becomes one more sample of its card, or none does."""
    must_hold_content(site)
    from . import receiving

    day = (on or datetime.now()).date().isoformat()
    wishes = receiving.Wishes(card=card, load=load, by=by, sample=sample, on=day, despite=despite)
    try:
        came = receiving.receive(site, files, wishes)
    except OSError as error:
        stop(f"{error.filename or site}: {error.strerror or error}. Nothing was taken in.")
    show(came.problems, "text")
    if came.problems:
        click.echo("benchgalley: nothing was taken in", err=True)
        sys.exit(PROBLEMS)
    click.echo("\n".join(report.plain(path) for path in came.written))
    if came.moved:
        click.echo("\nThe new figures over samples change what these statements may say:\n")
        show(came.moved, "text")
    click.echo(f"benchgalley: took in {len(files)}. Look at it with: benchgalley preview {site}", err=True)


def _site_and_addresses(where: tuple[str, ...]) -> tuple[Path, tuple[str, ...]]:
    # A folder first, if it is one: an address never names an existing folder with content in it.
    if where and (Path(where[0]) / "content").is_dir():
        return Path(where[0]), where[1:]
    if where and ("/" not in where[0] or Path(where[0]).is_dir()):
        return Path(where[0]), where[1:]
    return Path("."), where


benchgalley.add_command(suggest)
benchgalley.add_command(restate)
