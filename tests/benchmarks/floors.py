"""Floors of a build: the work that nobody can leave out, on all cores, by the libraries a build uses."""

import csv
import gc
import io
import itertools
import json
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

from benchgalley.caveats import examine
from benchgalley.charts import across_cards, draw, draw_card, picture, templates, theme
from benchgalley.charts.draw import OF_WRITE_UP
from benchgalley.claims import judge
from benchgalley.derive import evaluate
from benchgalley.intake import cores, read_site

from .many_write_ups import OF_A_CARD

Work = Callable[[Sequence[str]], Iterable[Callable[[], object]]]
"""Write-ups → the pieces of the work on them. What is done to find the next piece is not measured."""


def floor_of(root: Path, name: str, slugs: Sequence[str], warm: str) -> tuple[float, float]:
    """(CPU, wall) seconds of one of FLOORS for some write-ups of the site at `root`, shared among all cores.

    Each process makes ready what it needs, does the work on the write-up `warm`, unmeasured, then its share, once:
    figures and texts that come again are kept, and who did the same write-up a second time would find them all.
    """
    cards = -(-len(slugs) // OF_A_CARD)
    processes = min(cores(), cards)
    cuts = [OF_A_CARD * (place * cards // processes) for place in range(processes + 1)]
    shares = [slugs[first:last] for first, last in itertools.pairwise(cuts)]  # whole cards, as a build deals them out
    context = get_context("spawn")
    with context.Manager() as manager, ProcessPoolExecutor(len(shares), mp_context=context) as pool:
        together = manager.Barrier(len(shares))
        spent = [pool.submit(_share, root, name, share, warm, together) for share in shares]
        found = [future.result() for future in spent]
    return sum(cpu for cpu, _ in found), max(wall for _, wall in found)


def _share(root: Path, name: str, slugs: Sequence[str], warm: str, together) -> tuple[float, float]:
    """(CPU, wall) seconds of one process for its share of a floor."""
    ready = FLOORS[name](root)
    for piece in ready([warm]):
        piece()
    work = iter(ready(slugs))
    gc.collect()
    gc.disable()  # as in a build
    together.wait()  # every core is at work, as in a build
    cpu = wall = 0.0
    for piece in work:
        before, start = time.process_time(), time.perf_counter()
        piece()
        cpu += time.process_time() - before
        wall += time.perf_counter() - start
    return cpu, wall


def _parsing(root: Path) -> Work:
    return lambda slugs: [lambda folder=root / "content" / "write-ups" / slug: _parse(folder) for slug in slugs]


def _parse(folder: Path) -> None:
    import yaml
    from markdown_it import MarkdownIt

    text = (folder / "write-up.md").read_bytes().decode()
    front = yaml.load(text.split("---\n", 2)[1], yaml.CSafeLoader)
    tokens = MarkdownIt().enable("table").parse(text.split("---\n", 2)[2])
    values = 0
    for row in csv.DictReader(io.StringIO((folder / "trials.csv").read_bytes().decode())):
        values += sum(float(row[c]) > -1e9 for c in ("score", "board_power_w", "core_clock_mhz", "core_temp_c"))
    assert front and tokens and values


def _computing(root: Path) -> Work:
    site, _ = read_site(root)
    assert site is not None
    results = evaluate(site)

    def compute(slug: str) -> None:
        scopes = (slug, site.write_ups[slug].card.id) if _stands_for_its_card(site, slug) else (slug,)
        size = sum(len(text) for scope in scopes for a in results.addresses(scope) for text in _texts(results.find(a)))
        assert size

    def one_card_after_the_other(slugs: Sequence[str]) -> Iterator[Callable[[], object]]:
        for _, same in itertools.groupby(slugs, key=lambda slug: site.write_ups[slug].card.id):
            yield from (lambda slug=slug: compute(slug) for slug in same)
            results.forget()  # as a build does, so that memory is used again and stays near

    return one_card_after_the_other


def _checking(root: Path) -> Work:
    site, results, computed = _computed(root)

    def check(slug: str) -> None:
        write_up = site.write_ups[slug]
        reading = judge(write_up, site, results)
        assert reading.claims and examine(write_up, site, results, reading.claims).caveats

    return lambda slugs: [lambda slug=slug: check(slug) for slug in computed(slugs)]


def _charting(root: Path) -> Work:
    site, results, computed = _computed(root)

    def chart(slug: str) -> None:
        write_up = site.write_ups[slug]
        found = [prepare(write_up, site, results) for _, prepare in OF_WRITE_UP]
        if _stands_for_its_card(site, slug):
            found += [d for _, prepare in across_cards.OVER_CARD for d in prepare(write_up.card, site, results)]
        assert len([drawing for drawing in found if drawing is not None]) >= 5

    return lambda slugs: [lambda slug=slug: chart(slug) for slug in computed(slugs)]


def _stands_for_its_card(site, slug: str) -> bool:
    """One write-up of each card does, so that the card's own work is counted once."""
    return min(w.slug for w in site.of_card(site.write_ups[slug].card.id)) == slug


def _computed(root: Path):
    """The site, its ledger, and what computes every number of some write-ups and their cards in it."""
    site, _ = read_site(root)
    assert site is not None
    results = evaluate(site)

    def computed(slugs: Sequence[str]) -> Sequence[str]:
        for scope in (*slugs, *sorted({site.write_ups[slug].card.id for slug in slugs})):
            assert sum(len(text) for address in results.addresses(scope) for text in _texts(results.find(address)))
        return slugs

    return site, results, computed


def _texts(number):
    """All that is published of a number."""
    printed = number.printed
    yield from (number.name, printed.text, printed.interval, printed.plus_minus, number.formula, number.substitution)
    yield from (number.source, number.reason, number.no_budget, *(runs for _, runs in number.groups))
    for part in number.components:
        yield from (part.name, part.origin)


def _drawing(root: Path) -> Work:
    import vl_convert

    def draw(spec: dict) -> None:
        vl_convert.vegalite_to_svg(spec, vl_version="6.4")

    return lambda slugs: [lambda spec=spec: draw(spec) for spec in specs(root, slugs, _uncompiled)]


def _drawing_compiled(root: Path) -> Work:
    import vl_convert

    return lambda slugs: [lambda s=s: vl_convert.vega_to_svg(s) for s in specs(root, slugs, _compiled)]


def specs(root: Path, slugs: Sequence[str], form) -> list[dict]:
    """The charts of some write-ups and of their cards, as specifications with their data."""
    site, _ = read_site(root)
    results, found = evaluate(site), []
    real = picture.bind, picture._drawn

    def noting(template, drawing):
        found.append(form(template, drawing))
        return real[0](template, drawing)

    picture.bind, picture._drawn = noting, lambda spec: '<svg xmlns="http://www.w3.org/2000/svg"/>'
    try:
        for slug in slugs:
            draw(site.write_ups[slug], site, results)
            if _stands_for_its_card(site, slug):
                draw_card(site.write_ups[slug].card, site, results)
    finally:
        picture.bind, picture._drawn = real
    assert len(found) >= 5 * len(slugs)
    return found


_bind = picture.bind


def _compiled(template, drawing) -> dict:
    return json.loads(json.dumps(_bind(template, drawing)))


def _uncompiled(template, drawing) -> dict:
    """As the chart library has it before it compiles it."""
    import altair

    chart = dict(templates.TEMPLATES)[drawing.template](altair).properties(
        width=theme.WIDTH, autosize=altair.AutoSizeParams(type="fit-x", contains="padding")
    )
    spec = _filled(chart.to_dict(), drawing.signals)
    for parameter in spec["params"]:
        parameter["value"] = drawing.signals.get(parameter["name"], parameter.get("value"))
    data = {name: [dict(row) for row in rows] for name, rows in drawing.data.items()}
    return {**spec, "config": theme.configuration(), "datasets": data}


def _filled(part, signals):
    if isinstance(part, dict):
        return {key: _filled(value, signals) for key, value in part.items()}
    if isinstance(part, list):
        return [_filled(value, signals) for value in part]
    return signals.get(part[1:], "") if isinstance(part, str) and part.startswith("@") else part


def _writing(root: Path) -> Work:
    folder = tempfile.TemporaryDirectory()
    places = itertools.count()
    every, cards = (sorted((root / "site" / kind).iterdir()) for kind in ("write-ups", "cards"))
    number_of = {page.name: number for number, page in enumerate(every)}

    def write(files: dict[Path, bytes]) -> None:
        target = Path(folder.name) / str(next(places))
        for path, content in files.items():
            (target / path).parent.mkdir(parents=True, exist_ok=True)
            (target / path).write_bytes(content)

    def pages_of(slugs: Sequence[str]) -> Iterator[Callable[[], object]]:
        pages = [root / "site" / "write-ups" / slug for slug in slugs]
        numbers = [number_of[slug] for slug in slugs]
        pages += [cards[number // OF_A_CARD] for number in numbers if number % OF_A_CARD == 0]
        for page in pages:
            files = {p.relative_to(page): p.read_bytes() for p in page.rglob("*") if p.is_file()}
            yield lambda files=files: write(files)

    return pages_of


FLOORS = {
    "draw": _drawing, "draw compiled": _drawing_compiled, "parse": _parsing, "compute": _computing,
    "check": _checking, "chart": _charting, "write": _writing,
}  # fmt: skip
"""Name → what makes a process ready for such work on the site in a folder."""
