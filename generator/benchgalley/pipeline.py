"""From content to site: the whole flow on one screen. `check` goes through it at once; `build` hands its pieces of
work (see `making`, which imports the rooms as well) to `building`, which does those that are not done yet.

content/ -> intake -> derive -+-> claims  -+
                              +-> caveats -+-> publish -> site
                              +-> charts  -+
"""

from collections.abc import Callable, Mapping
from pathlib import Path

from .claims import Suggestion, bind, judge, judge_settings, left_over, restate, suggest
from .derive import evaluate
from .intake import Reductions, SchedulerError, read_site
from .records.findings import Location, Problem
from .records.site import Built, Checked
from .records.write_up import Claim
from .reducing import WorkersError, kept_reductions

__all__ = [
    "Reductions",
    "SchedulerError",
    "WorkersError",
    "build",
    "check",
    "left_to_authors",
    "restatements",
    "suggestions",
    "with_links",
]

Progress = Callable[[str, int, int], None]
"""Told (what is being done, how many are done, how many there are)."""


def silent(what: str, done: int, of: int) -> None:
    """Progress nobody watches."""


def check(
    root: Path,
    only: str | None = None,
    progress: Progress = silent,
    reductions: Reductions | None = None,
    *,
    keeps: bool = False,
) -> Checked:
    """Read the content tree and judge every claim in it, or those of one write-up.

    `keeps`: figures of logs are kept for the next build; else nothing is written.
    """
    site, problems = read_site(root, only, progress, kept_reductions(root, reductions or Reductions(), keeps=keeps))
    if site is None:
        return Checked(site=None, results=None, problems=problems)
    results = evaluate(site)
    found = [*problems, *judge_settings(site, results)]
    readings = {}
    slugs = [slug for slug in sorted(site.write_ups) if only in (None, slug)]
    for done, slug in enumerate(slugs):
        progress("judging claims", done, len(slugs))
        readings[slug] = judge(site.write_ups[slug], site, results)
        found += readings[slug].problems
    found.sort(key=lambda p: (p.where, p.rule, p.message))
    return Checked(site=site, results=results, readings=readings, problems=tuple(found))


def build(
    root: Path,
    target: Path,
    progress: Progress = silent,
    reductions: Reductions | None = None,
    *,
    kept_as: str = "",
) -> Built:
    """Publish the site into `target` if all claims agree; otherwise touch nothing there.

    What did not change since the last build is not made again. `kept_as`: name under which this build leaves what
    the next one needs; empty: one for each target.
    """
    from .building import UnbuildableError, build_site

    how = reductions or Reductions()
    try:
        return build_site(root, target, progress, how, kept_as)
    except UnbuildableError:
        checked = check(root, None, progress, how, keeps=True)
    return Built(
        problems=checked.problems if not checked.passes else (*checked.problems, _CHANGED),
        readable=checked.site is not None,
        write_ups=len(checked.readings),
        claims=sum(len(reading.claims) for reading in checked.readings.values()),
    )


_CHANGED = Problem(
    rule="changed-while-read", where=Location(file="content"), message="files changed while they were read",
    mend="Build again.",
)  # fmt: skip


def suggestions(root: Path, only: str | None = None) -> tuple[Checked, dict[str, tuple[Suggestion, ...]]]:
    """For each write-up, what its unbound numbers may be."""
    checked = check(root, only)
    site, results = checked.site, checked.results
    if site is None or results is None:
        return checked, {}
    return checked, {slug: suggest(site.write_ups[slug], site, results) for slug in checked.readings}


def restatements(root: Path, only: str | None = None) -> tuple[Checked, dict[str, str]]:
    """For each write-up whose numbers no longer agree, its text with the numbers the trials give."""
    checked = check(root, only)
    site, results = checked.site, checked.results
    if site is None or results is None:
        return checked, {}
    fresh = {slug: restate(site.write_ups[slug], site, results) for slug in checked.readings}
    return checked, {slug: text for slug, text in fresh.items() if text != site.write_ups[slug].source}


def left_to_authors(checked: Checked) -> tuple[Claim, ...]:
    """The statements that may not stand and that other digits do not mend."""
    site, results = checked.site, checked.results
    if site is None or results is None:
        return ()
    return tuple(claim for slug in checked.readings for claim in left_over(site.write_ups[slug], site, results))


def with_links(source: str, chosen: Mapping[Location, str]) -> str:
    """A write-up's text with the chosen addresses written as links; everything else byte for byte as it was."""
    return bind(source, chosen)
