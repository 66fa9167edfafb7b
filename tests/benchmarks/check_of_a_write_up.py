"""How long `check` on one write-up takes, beside parsing its Markdown and computing its numbers alone.

The write-up has 2 000 words and 60 claims at 60 addresses; every claim agrees. All parts are measured in turn in one
process, in CPU time, after every module is loaded; the figures are the best of many rounds, for other work on the
machine only adds to a time. Two ratios are printed:

strict
    (check − reading the files) ÷ (parser + numbers). "Reading the files" is `read_site` on the same content tree with
    a body of one sentence: the YAML files, front matter and trials that both sides need before they can begin.
whole
    check ÷ (parser + numbers + reading the files).

The parser is markdown-it-py alone, CommonMark with tables, on the same body; the numbers are `derive.evaluate` and
`Results.find` at the 60 addresses: value, interval and printed form of each, for a number is computed on demand.
The cyclic garbage collector is off on both sides, as the command line has it.

Run as `python -m tests.benchmarks.check_of_a_write_up [rounds]` from the root of the repository.
"""

import gc
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from itertools import cycle
from pathlib import Path
from tempfile import TemporaryDirectory

from markdown_it import MarkdownIt

from benchgalley import pipeline
from benchgalley.claims import judge, judge_settings
from benchgalley.derive import evaluate
from benchgalley.intake import read_site
from benchgalley.records.address import Address
from benchgalley.records.site import Site
from tests.claims.world import SLUG, write_site

WORDS, CLAIMS = 2000, 60
SUBJECTS = ("tuned", "stock", "eased", "twin")
QUANTITIES = ("score", "board-power", "wall-power", "core-clock", "core-temperature", "fan-speed", "sound-level")
RELATIONS = ("", "saved", "of-baseline", "change")

PLAIN = (
    "I took the case off and put the meter beside the slot, where the cable can be reached without a mirror.",
    "The window was shut and the room had the morning to itself, which suits a bench that has no other guests.",
    "Nobody has to agree with how I read the curve, and the table below lets you read it in another way.",
    "The screen was left on one picture for as long as the load ran.",
    "What comes next is a short walk along the limit, then back to where the afternoon began.",
    "I wrote the plan on paper before the first run and kept the paper, crossings-out and all.",
)
"""Prose without a claim in it: what most of a page is."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Part:
    """One line of the table."""

    name: str
    run: Callable[[], object]


def chosen(site: Site) -> list[tuple[Address, str]]:
    """Addresses with a value, and the printed number that prose copies."""
    results, found = evaluate(site), []
    for relation in RELATIONS:
        for quantity in QUANTITIES:
            for subject in SUBJECTS:
                address = Address(scope=SLUG, subject=subject, quantity=quantity, relation=relation)
                number = results.find(address) if not (relation and subject == "stock") else None
                if number is not None and number.value is not None:
                    found.append((address, number.printed.text))
    return found[:CLAIMS]


def body_of(addresses: list[tuple[Address, str]]) -> str:
    """Prose of about `WORDS` words that states every one of the numbers, in paragraphs, lists and a table."""
    plain, blocks, words = cycle(PLAIN), [], 0
    for k, (address, printed) in enumerate(addresses):
        stated = (
            f"For {address.subject} the figure of that kind came to [{printed}](claim:{address.local()}) on this bench."
        )
        if k % 12 == 0:
            blocks.append(f"## Part {k // 12 + 1} against stock")
        if k % 12 == 6:
            blocks.append(
                f"| what | figure |\n| --- | ---: |\n| of {address.subject} | [{printed}](claim:{address.local()}) |"
            )
        elif k % 12 == 9:
            blocks.append(f"- {stated}\n- {next(plain)}")
        else:
            blocks.append(f"{next(plain)} {stated}")
        words = len("\n".join(blocks).split())
        while words < WORDS * (k + 1) / len(addresses):
            blocks[-1] += ("\n\n" if blocks[-1].startswith("|") else "\n") + next(plain)
            words = len("\n".join(blocks).split())
    return "\n\n".join(blocks) + "\n"


def parts(folder: Path) -> list[Part]:
    """What is measured, in the order of the table."""
    (folder / "bare").mkdir()
    (folder / "full").mkdir()
    bare = write_site(folder / "bare")
    site, problems = read_site(bare)
    assert site is not None and not problems, problems
    addresses = chosen(site)
    body = body_of(addresses)
    full = write_site(folder / "full", body=body)
    checked = pipeline.check(full, SLUG)
    claims = checked.readings[SLUG].claims
    assert checked.passes and len({c.address for c in claims}) == len(claims) == CLAIMS, checked.problems
    print(f"{len(body.split())} words, {len(claims)} claims, {len(checked.site.write_ups[SLUG].trials)} runs")
    parser = MarkdownIt("commonmark", {"html": False}).enable("table")
    known = evaluate(checked.site)

    def numbers() -> None:
        results = evaluate(checked.site)
        for address, _ in addresses:
            number = results.find(address)
            assert number is not None and number.interval is not None and number.printed.text

    def judging() -> None:
        judge_settings(checked.site, known)
        judge(checked.site.write_ups[SLUG], checked.site, known)

    judging()
    return [
        Part(name="parser alone", run=lambda: parser.parse(body)),
        Part(name="numbers at the addresses", run=numbers),
        Part(name="reading the files without the prose", run=lambda: read_site(bare, SLUG)),
        Part(name="reading the files with the prose", run=lambda: read_site(full, SLUG)),
        Part(name="judging, numbers known", run=judging),
        Part(name="check", run=lambda: pipeline.check(full, SLUG)),
    ]


def measured(rounds: int) -> dict[str, float]:
    """Least CPU seconds of each part."""
    with TemporaryDirectory() as folder:
        every = parts(Path(folder))
        times: dict[str, list[float]] = {part.name: [] for part in every}
        gc.disable()
        for _ in range(rounds):
            for part in every:
                start = time.process_time()
                part.run()
                times[part.name].append(time.process_time() - start)
            gc.collect()
        gc.enable()
    return {name: min(values) for name, values in times.items()}


def ratios(times: dict[str, float]) -> tuple[float, float]:
    """The strict and the whole ratio."""
    floor = times["parser alone"] + times["numbers at the addresses"]
    files = times["reading the files without the prose"]
    return (times["check"] - files) / floor, times["check"] / (floor + files)


def main() -> None:
    """Measure and print."""
    times = measured(int(sys.argv[1]) if len(sys.argv) > 1 else 60)
    for name, seconds in times.items():
        print(f"{name:<40}{seconds * 1000:8.2f} ms")
    strict, whole = ratios(times)
    print(f"strict ratio {strict:.2f}, whole ratio {whole:.2f}")


if __name__ == "__main__":
    main()
