"""Synthetic sites of any number of write-ups: 30 runs, 5 charts and a few judged statements each, all invented.

The runs come from a plain model with noise of a fixed seed; the statements are the numbers the site computes from
them, so that every claim agrees. Four write-ups, of four samples, share a card.
"""

import random
from pathlib import Path

from benchgalley.derive import evaluate
from benchgalley.intake import read_site
from benchgalley.records.address import Address

RUNS = 30
OF_A_CARD = 4
"""Write-ups, each of a sample of its own, that share a card."""
SETTINGS = (
    *((100, 0),) * 6, *((80, 0),) * 6, *((80, -80),) * 6, *((60, 0),) * 4, *((70, 0),) * 4, *((90, 0),) * 4,
)  # fmt: skip
"""(power limit in percent, voltage offset in millivolts) of every run, before they are shuffled."""
LOADS = ("orchard", "tideway", "kilnyard", "saltmarsh")
STATED = (
    ("tuned", "board-power", "saved"), ("tuned", "score", "of-baseline"), ("stock", "board-power", ""),
    ("stock", "score", ""), ("tuned", "board-power", ""), ("eco", "score", "of-baseline"),
)  # fmt: skip
"""(setpoint, quantity, relation) of the numbers the prose states."""

SITE = """\
title: A bench of many cards
summary: Invented cards, one after the other, on one invented bench.
author: {name: Isa Fennimore, contact: ""}
licences: {text: CC-BY-4.0, data: CC0-1.0}
language: en
confidence_pct: 95
hedge_share_pct: 5
notice: All data on this site are invented.
"""
BENCH = """\
name: Long bench
facts: {Host: An eight-core machine, Supply: "750 W", Case: Open frame, Room: Cellar}
instruments:
  clamp:
    name: Cable clamp
    columns: [board_power_w]
    measures_at: slot and cable
    gain_error_pct: 1.5
    offset_error: 0.5
    resolution: 0.1
    sampling_interval_s: 0.1
    reading: average
    calibrated: "2026-02-01"
  sensors:
    name: Sensors of the card
    columns: [core_clock_mhz, core_temp_c]
    measures_at: card sensor
    resolution: 1
    sampling_interval_s: 1
    reading: instant
    calibrated: "no"
  thermometer:
    name: Room thermometer
    columns: [ambient_c]
    measures_at: air
    offset_error: 0.3
    resolution: 0.1
    calibrated: "2026-01-10"
"""
LOAD = """\
name: {name}
version: "2.1"
preset: standard
score: {{unit: points, better: higher}}
run_length_s: 60
output_checked: true
"""
CARD = """\
maker: {maker}
model: {model}
stock_board_power_w: {power}
power_limit_range_pct: [50, 110]
connectors: [8-pin]
ratings: {{Memory: 8 GB}}
samples:
  a: {{note: Bought new}}
  b: {{note: Lent for a week}}
  c: {{note: Two years old}}
  d: {{contributed: A reader}}
"""
PAGE = """\
---
title: "{title}"
summary: "A limit and a voltage offset saved {0} at a score of {1} of stock."
published: {published}
card: {card}
sample: {sample}
bench: long-bench
load: {load}
setpoints:
  stock: {{label: Stock}}
  eco: {{power_limit_pct: 80, label: Eco}}
  tuned: {{power_limit_pct: 80, voltage_offset_mv: -80, label: Tuned}}
baseline: stock
sequences:
  power-sweep: {{kind: sweep, setting: power_limit_pct, order: shuffled, label: Power sweep}}
margins: {{score: 2 %}}
stopping_rule: The number of runs was fixed before the first one.
invented: true
---

The card was set up on the long bench and left to warm up before the first run. At stock it drew
{2} and scored {3}. Nothing else was changed between the runs, and their order was shuffled.

## What was set

With the limit lowered and the voltage lowered as well the card drew {4}, which saved {0}. It kept
{1} of its stock score. With the limit alone it kept {5} of it.

![Score against board power](chart:score-against-power "Score against board power of every setting")

## What it means

The saving holds for this load on this sample. Another sample may want another voltage, and another load may find
an error that this one does not. The runs are in the table below, and every number is worked out from them.

![Score per watt](chart:score-per-watt "Score per watt of every setting")
"""


def make_site(root: Path, write_ups: int, first: int = 0) -> None:
    """Write the content of a site of `write_ups` write-ups into `root`."""
    content = root / "content"
    for name in ("benches", "loads", "cards", "write-ups"):
        (content / name).mkdir(parents=True)
    (content / "site.yaml").write_text(SITE, "utf-8")
    (content / "benches" / "long-bench.yaml").write_text(BENCH, "utf-8")
    for load in LOADS:
        (content / "loads" / f"{load}.yaml").write_text(LOAD.format(name=load.capitalize()), "utf-8")
    numbers = range(first, first + write_ups)
    for number in numbers:
        _write(content, number, ["0"] * len(STATED))
    for number, stated in zip(numbers, _stated(root, numbers), strict=True):
        _write(content, number, stated)


def slug_of(number: int) -> str:
    """Name of the folder of a write-up."""
    return f"bench-day-{_letters(number)}"


def trials_of(number: int) -> str:
    """trials.csv of a write-up."""
    draw = random.Random(20261101 + number)
    card = random.Random(77 + number // OF_A_CARD)
    power_w, score, gain = card.uniform(120, 320), card.uniform(4000, 12000), 1 + draw.gauss(0, 0.01)
    settings = list(SETTINGS)
    draw.shuffle(settings)
    lines = ["trial,power_limit_pct,voltage_offset_mv,outcome,score,board_power_w,core_clock_mhz,core_temp_c,ambient_c,"
             "duration_s,started,driver"]  # fmt: skip
    for run, (limit, offset) in enumerate(settings):
        drawn = power_w * limit / 100 * draw.gauss(1, 0.004)
        speed = (limit / 100) ** 0.35 * (1 - offset / 2600)
        lines.append(
            f"r{run + 1:02d},{limit},{offset},completed,{score * gain * speed * draw.gauss(1, 0.003):.0f},{drawn:.1f},"
            f"{2300 * speed * draw.gauss(1, 0.002):.0f},{41 + drawn / 12 + draw.gauss(0, 0.4):.0f},"
            f"{20.5 + draw.gauss(0, 0.2):.1f},60.0,"
            f"2026-09-{1 + number % 28:02d}T{9 + run // 12:02d}:{run % 12 * 5:02d}:00+02:00,6.1"
        )
    return "\n".join(lines) + "\n"


def _letters(number: int) -> str:
    text = ""
    for _ in range(3):
        number, place = divmod(number, 26)
        text = chr(ord("a") + place) + text
    return text


def _write(content: Path, number: int, stated: list[str]) -> None:
    card = f"card-{_letters(number // OF_A_CARD)}"
    power = random.Random(77 + number // OF_A_CARD).uniform(120, 320)
    maker = ("Ternhollow", "Oxbow Works", "Gannet")[number // OF_A_CARD % 3]
    text = CARD.format(maker=maker, model=f"Model {_letters(number // OF_A_CARD).upper()}", power=f"{power:.0f}")
    (content / "cards" / f"{card}.yaml").write_text(text, "utf-8")
    folder = content / "write-ups" / slug_of(number)
    folder.mkdir(exist_ok=True)
    (folder / "trials.csv").write_text(trials_of(number), "utf-8")
    links = [
        f"[{text}](claim:{'/'.join(part for part in parts if part)})"
        for text, parts in zip(stated, STATED, strict=True)
    ]
    page = PAGE.format(
        *links, title=f"A day with sample {'abcd'[number % 4].upper()} of card {_letters(number // OF_A_CARD).upper()}",
        published=f"2026-10-{1 + number % 28:02d}", card=card, sample="abcd"[number % 4],
        load=LOADS[number // OF_A_CARD % 4],
    )  # fmt: skip
    (folder / "write-up.md").write_text(page, "utf-8")


def _stated(root: Path, numbers: range) -> list[list[str]]:
    """The numbers as the site prints them."""
    site, problems = read_site(root)
    assert site is not None and len(site.write_ups) == len(numbers), problems[:3]
    results = evaluate(site)
    found = []
    for number in numbers:
        slug = slug_of(number)
        printed = [results.find(Address(scope=slug, subject=s, quantity=q, relation=r)) for s, q, r in STATED]
        found.append([n.printed.text.replace("\u00a0", " ") for n in printed])
    return found
