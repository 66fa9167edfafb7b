"""The commands that help to write: offer addresses for unbound numbers, state numbers anew after the data changed.

Both show first what they would do, and touch nothing in a file but the numbers concerned.
"""

import difflib
import os
import sys
from pathlib import Path

import click

from benchgalley.records.findings import Location, Severity
from benchgalley.records.write_up import Verdict

from . import report
from .console import AGREED, ONLY, PROBLEMS, SITE, UNREADABLE, must_hold_content, stop

_BYTE_ORDER_MARK = b"\xef\xbb\xbf"


@click.command()
@SITE
@ONLY
@click.option("--ask", is_flag=True, help="Ask for each number which address to link, then write the links.")
@click.option(
    "--write-first", is_flag=True, help="Write the best address of each number, where it is the write-up's own."
)
def suggest(site: Path, only: str | None, ask: bool, write_first: bool) -> None:
    """List for each number bound to nothing the addresses that fit it, best first."""
    must_hold_content(site, only)
    from benchgalley import pipeline

    checked, offered = pipeline.suggestions(site, only)
    if checked.site is None:
        click.echo(report.as_text(checked.problems), nl=False)
        sys.exit(UNREADABLE)
    for slug, suggestions in offered.items():
        chosen: dict[Location, str] = {}
        for offer in suggestions:
            where = offer.where
            click.echo(report.plain(f"{where.file}:{where.line}:{where.column}: {offer.text}"))
            for rank, candidate in enumerate(offer.candidates, start=1):
                click.echo(report.plain(f"  {rank}  {candidate.address}  {candidate.printed}  {candidate.name}"))
            if not offer.candidates:
                click.echo("  nothing computed fits: check the number, or name its source as (given:...)")
                continue
            rank = int(offer.first is not None) if write_first else _asked(len(offer.candidates)) if ask else 0
            if rank:
                chosen[where] = offer.candidates[rank - 1].address
        if chosen:
            write_up = checked.site.write_ups[slug]
            _rewrite(site / write_up.file, write_up.source, pipeline.with_links(write_up.source, chosen))
            click.echo(f"benchgalley: {len(chosen)} links written in {write_up.file}", err=True)
    unbound = sum(map(len, offered.values()))
    click.echo(f"benchgalley: {unbound} numbers bound to nothing", err=True)
    sys.exit(PROBLEMS if unbound else AGREED)


def _asked(most: int) -> int:
    answer: int = click.prompt("  which (0 for none)", type=click.IntRange(0, most), default=0, err=True)
    return answer


@click.command()
@SITE
@ONLY
@click.option("--write", is_flag=True, help="Write the files. Without it the difference is shown and nothing written.")
def restate(site: Path, only: str | None, write: bool) -> None:
    """State numbers anew that no longer agree with the trials; shown as a difference first."""
    must_hold_content(site, only)
    from benchgalley import pipeline

    checked, fresh = pipeline.restatements(site, only)
    if checked.site is None:
        click.echo(report.as_text(checked.problems), nl=False)
        sys.exit(UNREADABLE)
    for slug, text in fresh.items():
        write_up = checked.site.write_ups[slug]
        click.echo(report.plain(_difference(write_up.file, write_up.source, text)), nl=False)
        if write:
            _rewrite(site / write_up.file, write_up.source, text)
    what = "rewritten" if write else "would change; --write writes them"
    click.echo(f"benchgalley: {len(fresh)} write-up{'' if len(fresh) == 1 else 's'} {what}", err=True)
    left = pipeline.left_to_authors(checked)
    for claim in left:
        where = f"{claim.where.file}:{claim.where.line}:{claim.where.column}"
        click.echo(report.plain(f"{where}: left to you: {claim.stated}\n  {claim.message}\n  {claim.mend}".rstrip()))
    if left:
        many = "" if len(left) == 1 else "s"
        click.echo(f"benchgalley: {len(left)} statement{many} that other digits do not mend, left to you", err=True)
    others = sum(p.severity is Severity.ERROR for p in checked.problems if p.rule not in _OF_CLAIMS)
    if others:
        click.echo(f"benchgalley: {others} other problem{'' if others == 1 else 's'}: see check", err=True)
    sys.exit(PROBLEMS if left or (fresh and not write) else AGREED)


_OF_CLAIMS = frozenset(verdict.value for verdict in Verdict)


def _difference(file: str, old: str, new: str) -> str:
    lines = difflib.unified_diff(
        old.splitlines(keepends=True), new.splitlines(keepends=True), f"{file} (as it stands)", f"{file} (restated)"
    )
    return "".join(line if line.endswith("\n") else line + "\n" for line in lines)


def _rewrite(path: Path, old: str, new: str) -> None:
    """Replace a file whole, never half, and only if it still holds what was read."""
    raw = path.read_bytes()
    mark = _BYTE_ORDER_MARK if raw.startswith(_BYTE_ORDER_MARK) else b""
    if raw[len(mark) :] != old.encode("utf-8"):
        stop(f"{path}: changed while it was being read; nothing was written to it")
    beside = path.with_name(path.name + ".new")
    beside.write_bytes(mark + new.encode("utf-8"))
    os.replace(beside, path)
