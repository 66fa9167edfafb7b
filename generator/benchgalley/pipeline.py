"""From content to site: the only module that imports several rooms, and the whole flow on one screen.

content/ -> intake -> derive -+-> claims  -+
                              +-> caveats -+-> publish -> site
                              +-> charts  -+
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

from .claims import Suggestion, bind, judge, judge_settings, left_over, restate, suggest
from .derive import evaluate
from .intake import Reductions, SchedulerError, read_site
from .records.findings import Location
from .records.site import Checked
from .records.write_up import Claim

__all__ = [
    "Reductions",
    "SchedulerError",
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
    site, problems = read_site(root, only, progress, _reductions(root, reductions or Reductions(), keeps=keeps))
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


def build(root: Path, target: Path, progress: Progress = silent, reductions: Reductions | None = None) -> Checked:
    """Check, and if all claims agree publish the site into `target`; otherwise touch nothing there."""
    checked = check(root, None, progress, reductions, keeps=True)
    site, results = checked.site, checked.results
    if site is None or results is None or not checked.passes:
        return checked
    from .caveats import examine
    from .charts import draw, draw_card, draw_comparison
    from .derive import glossary
    from .publish import kept_pictures, pages, published_record, write_site

    pictures = kept_pictures(root)
    warnings, figures, shared = {}, {}, {"comparison": draw_comparison(site, results, pictures)}
    for done, (slug, write_up) in enumerate(site.write_ups.items()):
        progress("drawing charts", done, len(site.write_ups))
        warnings[slug] = examine(write_up, site, results, checked.readings[slug].claims)
        figures[slug] = draw(write_up, site, results, pictures)
    for card in site.cards.values():
        shared[card.id] = draw_card(card, site, results, pictures)
    progress("writing pages", 0, 1)
    files, problems = pages(
        site, results, glossary(site), checked.readings, warnings, figures, shared, published_record(target)
    )
    if not problems:
        write_site(files, target)
    return Checked(site=site, results=results, readings=checked.readings, problems=(*checked.problems, *problems))


def _reductions(root: Path, how: Reductions, *, keeps: bool) -> Reductions:
    """How logs are reduced, with what earlier builds of this site have kept."""

    def keep(name: str, figures: bytes) -> None:
        from .publish import keep_reduction  # loads the templates' library, which a check does without

        keep_reduction(root, name, figures)

    return replace(how, kept_in=root / ".benchgalley", keep=keep if keeps else None)


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
