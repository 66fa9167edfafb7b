"""A site to print: the small sample site, read and computed, with every claim taken as agreeing."""

from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

from benchgalley.derive import evaluate, glossary
from benchgalley.intake import read_site
from benchgalley.publish import pages
from benchgalley.publish.edition import target
from benchgalley.publish.prose import walk
from benchgalley.records.figure import Figure
from benchgalley.records.findings import Caveat, Hazard, Location, SignalWord
from benchgalley.records.results import Results
from benchgalley.records.site import Reading, Site, Warnings
from benchgalley.records.write_up import Claim, Verdict, WriteUp

SMALL_SITE = Path(__file__).parents[1] / "fixtures" / "small_site"

HAZARD = Hazard(
    code="undervolting",
    word=SignalWord.NOTICE,
    source="A lower voltage than the maker set.",
    consequence="Crashes, silently wrong results and loss of data.",
    avoidance="Keep backups; these runs show stability for this load only.",
)
CAVEATS = (
    Caveat(
        code="single-sample",
        title="One sample of this card",
        missing="One card was measured.",
        effect="Other cards of the model may differ.",
        remedy="Measure a second sample.",
        standing=True,
    ),
    Caveat(
        code="own-sensor",
        title="Power from the card's own sensor",
        missing="The sensor's gain is not calibrated.",
        effect="Watts saved carry its gain error.",
        remedy="Use a meter between slot, cable and card.",
        addresses=("tuned/board-power/saved", "eco/"),
        source="common practice, no published source",
    ),
)


def small_site(root: Path = SMALL_SITE) -> Site:
    """The sample site; fails loudly when intake has something against it."""
    site, problems = read_site(root)
    assert site is not None and not problems, problems
    return site


def reading_of(write_up: WriteUp) -> Reading:
    """A reading in which every bound statement agrees."""
    claims = []
    links = [t for t in walk(write_up.tokens, into_images=False) if t.type == "link_open"]
    stated = {link.token: text.text[link.start : link.end] for text in write_up.texts for link in text.links}
    for number, token in enumerate(links):
        destination = str(token.attrs.get("href", ""))
        if destination.startswith("claim:"):
            claims.append(_claim(write_up, destination, stated.get(number, "?"), number, -1))
    for index, text in enumerate(write_up.texts):
        for link in text.links:
            if link.token < 0 and link.destination.startswith("claim:"):
                claims.append(_claim(write_up, link.destination, text.text[link.start : link.end], -1, index))
    return Reading(claims=tuple(claims), exemptions=(), problems=())


def _claim(write_up: WriteUp, destination: str, stated: str, token: int, index: int) -> Claim:
    return Claim(
        write_up=write_up.slug,
        where=Location(file=write_up.file),
        place=write_up.texts[index].place if index >= 0 else "paragraph",
        stated=stated,
        sentence=f"It was {stated}.",
        address=target(write_up, destination),
        verdict=Verdict.AGREES,
        message="",
        token=token,
        text_index=index,
    )


def figure_of(slug: str, kind: str = "score-against-power") -> Figure:
    """A plain figure."""
    return Figure(
        id=kind,
        kind=kind,
        title="Score against board power",
        caption="Means of two settings; bars: 95 % interval.",
        alternative="At the tuned setting the score is a little lower and the power much lower.",
        columns=("Setting", "Score"),
        rows=(("Stock", "8005"), ("Tuned", "7725")),
        svg=f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 640 300"><g id="{slug}-{kind}-0">'
        '<circle cx="40" cy="40" r="5" class="chart-fill-series-1"/></g></svg>',
        spec='{"marks":[],"title":"</script><!--<script>"}',
    )


def print_site(
    site: Site, results: Results | None = None, record: Mapping[str, Any] | None = None, **changes: Any
) -> dict[str, bytes]:
    """Every file of the site; asserts that nothing forbids it unless `problems` is asked for."""
    files, problems = print_with_problems(site, results, record, **changes)
    assert not problems, problems
    return files


def print_with_problems(
    site: Site, results: Results | None = None, record: Mapping[str, Any] | None = None, **changes: Any
) -> tuple[dict[str, bytes], tuple[Any, ...]]:
    """Files and what forbids publishing them."""
    results = results or evaluate(site)
    warnings = Warnings(caveats=CAVEATS, hazards=(HAZARD,))
    parts: dict[str, Any] = {
        "readings": {slug: reading_of(w) for slug, w in site.write_ups.items()},
        "warnings": dict.fromkeys(site.write_ups, warnings),
        "figures": {slug: (figure_of(slug), figure_of(slug, "log-window")) for slug in site.write_ups},
        "shared_figures": {"comparison": (figure_of("site", "comparison"),)},
    } | changes
    return pages(site, results, glossary(site), record=record, **parts)


@cache
def printed() -> dict[str, bytes]:
    """The small site printed once for every test that only looks."""
    return print_site(small_site())


def without_address(site: Site) -> Site:
    """The same site with no address of its own."""
    return replace(site, settings=replace(site.settings, address=""))
