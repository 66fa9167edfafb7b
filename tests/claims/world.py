"""One invented bench with known numbers, written as content files: what every corpus case is judged against.

Values follow fixed patterns of noise, so the numbers below hold for good; `test_world.py` pins them.
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory

from benchgalley.derive import evaluate
from benchgalley.intake import read_site
from benchgalley.intake.files import SourceText
from benchgalley.intake.problem_list import ProblemList
from benchgalley.intake.prose import read_body
from benchgalley.records.results import Results
from benchgalley.records.site import Site
from benchgalley.records.write_up import WriteUp

SLUG = "brackwater-skiff"

SITE = """\
title: Brackwater bench
summary: One invented card on one invented bench.
author: {name: Orla Fenn, contact: "https://bench.example/orla"}
licences: {text: CC-BY-4.0, data: CC0-1.0}
language: en
confidence_pct: 95
hedge_share_pct: 5
running: {hours_a_day: 3, days_a_year: 300, tariff_per_kwh: 0.30, currency: EUR}
notice: All data are invented.
"""
BENCH = """\
name: Loft bench
facts: {Host: "Six-core host, 16 GB", Supply: 550 W supply, Room: Closed loft}
instruments:
  clamp: {name: Clamp meter, columns: [board_power_w], measures_at: slot and cable, gain_error_pct: 1,
    offset_error: 0.2, resolution: 0.1, sampling_interval_s: 1, reading: average, calibrated: 2026-02-01,
    channel_spread: bench}
  plug: {name: Plug meter, columns: [wall_power_w], measures_at: wall, gain_error_pct: 1, resolution: 0.1,
    sampling_interval_s: 1, reading: average, calibrated: "no", channel_spread: bench}
  level: {name: Level meter, columns: [sound_dba], measures_at: air, offset_error: 1, resolution: 0.1, reading: average,
    calibrated: "no", channel_spread: bench}
"""
LOAD = """\
name: Tidal loop
version: 2.1
preset: deep, 1440 lines
score: {unit: points, better: higher}
run_length_s: 90
output_checked: true
facts: {Kind: Fluid solver}
"""
CARD = """\
maker: Brackwater
model: Skiff 7
stock_board_power_w: 255
power_limit_range_pct: [50, 110]
connectors: [8-pin]
ratings: {Memory: 8 GB}
samples:
  a: {note: Bought new}
  b: {note: Lent for a week}
"""
FRONT = """\
---
title: Skiff 7
summary: An invented card.
published: 2026-10-02
card: skiff-7
sample: a
bench: loft
load: tidal-loop
setpoints:
  stock: {label: Stock}
  tuned: {power_limit_pct: 84, voltage_offset_mv: -130, label: Tuned}
  eased: {power_limit_pct: 90, label: Eased}
  twin: {power_limit_pct: 84, voltage_offset_mv: -125, label: Twin}
  boosted: {memory_offset_mhz: 200, label: Boosted}
baseline: stock
sequences:
  power-walk: {kind: walk, setting: power_limit_pct, held: {voltage_offset_mv: -130}, order: shuffled,
    label: Power walk}
  offset-ladder: {kind: ladder, setting: voltage_offset_mv, order: falling, label: Offset ladder}
  soak: {kind: soak, setpoint: tuned, label: Soak}
  short-soak: {kind: soak, setpoint: eased, label: Short soak}
margins: {score: 1 %, board-power: 2 W, core-temperature: 2 K}
claims: {saving: tuned/board-power/saved}
stopping_rule: Fixed before the first run.
invented: true
---
"""

COLUMNS = (
    "trial,power_limit_pct,voltage_offset_mv,memory_offset_mhz,sequence,outcome,score,board_power_w,wall_power_w,"
    "core_clock_mhz,core_temp_c,ambient_c,fan_rpm,sound_dba,duration_s,started,driver"
)
NOISE = (-0.9, 0.4, 0.2, -0.3, 0.6, 0.1, -0.5, 0.8, -0.2, -0.2)
SHIFTED = NOISE[3:] + NOISE[:3]


@dataclass(frozen=True, kw_only=True)
class Plan:
    """Runs at one setting: their means, and the noise laid over them."""

    name: str
    settings: tuple[float, float, float]
    runs: int
    score: float
    power_w: float
    temp_c: float
    fan_rpm: float
    sound_dba: float
    clock_mhz: float
    failed: int = 0


PLANS = (
    Plan(name="s", settings=(100, 0, 0), runs=10, score=6260, power_w=255.3, temp_c=68.0, fan_rpm=1205, sound_dba=34.2,
         clock_mhz=2431),
    Plan(name="t", settings=(84, -130, 0), runs=8, score=6248, power_w=214.1, temp_c=63.0, fan_rpm=1003,
         sound_dba=31.0, clock_mhz=2428),
    Plan(name="e", settings=(90, 0, 0), runs=8, score=6150, power_w=231.6, temp_c=67.8, fan_rpm=1201, sound_dba=34.1,
         clock_mhz=2376),
    Plan(name="w", settings=(84, -125, 0), runs=8, score=6246, power_w=214.4, temp_c=63.2, fan_rpm=1004,
         sound_dba=31.1, clock_mhz=2427),
    Plan(name="b", settings=(100, 0, 200), runs=1, score=6391, power_w=258.9, temp_c=69.0, fan_rpm=1230, sound_dba=34.7,
         clock_mhz=2429),
    Plan(name="p", settings=(100, -130, 0), runs=4, score=6390, power_w=238.2, temp_c=65.5, fan_rpm=1100,
         sound_dba=32.6, clock_mhz=2480),
    Plan(name="q", settings=(92, -130, 0), runs=4, score=6330, power_w=227.0, temp_c=64.2, fan_rpm=1050,
         sound_dba=31.8, clock_mhz=2456),
    Plan(name="r", settings=(76, -130, 0), runs=4, score=6040, power_w=194.3, temp_c=60.9, fan_rpm=940, sound_dba=29.8,
         clock_mhz=2352),
    Plan(name="l", settings=(100, -50, 0), runs=3, score=6305, power_w=249.0, temp_c=67.0, fan_rpm=1170,
         sound_dba=33.7, clock_mhz=2448),
    Plan(name="m", settings=(100, -110, 0), runs=3, score=6370, power_w=241.0, temp_c=66.0, fan_rpm=1120,
         sound_dba=32.9, clock_mhz=2471),
    Plan(name="n", settings=(100, -150, 0), runs=0, score=0, power_w=0, temp_c=0, fan_rpm=0, sound_dba=0, clock_mhz=0,
         failed=2),
)  # fmt: skip


def _row(plan: Plan, i: int, name: str, outcome: str, sequence: str, length_s: int, minute: int) -> str:
    a, b = NOISE[i % 10], SHIFTED[i % 10]
    limit, offset, memory = plan.settings
    started = f"2026-09-{5 + minute // 1200:02d}T{minute % 1200 // 60:02d}:{minute % 60:02d}:00+02:00"
    measured = ["", "", "", "", "", "22.0", "", ""]
    if outcome == "completed":
        measured = [
            f"{plan.score + 20 * a:.0f}", f"{plan.power_w + 2 * b:.1f}", f"{plan.power_w * 1.11 + 58 + 2 * b:.1f}",
            f"{plan.clock_mhz + 6 * a:.0f}", f"{plan.temp_c + b:.1f}", "22.0", f"{plan.fan_rpm + 10 * a:.0f}",
            f"{plan.sound_dba + 0.5 * a:.1f}",
        ]  # fmt: skip
    cells = [
        name,
        f"{limit:g}",
        f"{offset:g}",
        f"{memory:g}",
        sequence,
        outcome,
        *measured,
        str(length_s),
        started,
        "5.2",
    ]
    return ",".join(cells)


def trials_csv(plans: tuple[Plan, ...] = PLANS) -> str:
    """The trials file: runs in an order that mixes the settings, baseline first and last, then the soaks."""
    runs = [(i / max(plan.runs, 1), plan, i) for plan in plans for i in range(plan.runs)]
    runs.sort(key=lambda run: (run[0], run[1].name != "s", run[1].name))
    rows = [
        _row(plan, i, f"{plan.name}{i + 1}", "completed", "", 90, 480 + 3 * k) for k, (_, plan, i) in enumerate(runs)
    ]
    ladder = next(p for p in plans if p.name == "n")
    rows += [_row(ladder, i, f"n{i + 1}", "crashed", "", 40, 700 + 3 * i) for i in range(ladder.failed)]
    tuned = next(p for p in plans if p.name == "t")
    eased = next(p for p in plans if p.name == "e")
    rows += [_row(tuned, i, f"k{i + 1}", "completed", "soak", 3600, 1200 + 61 * i) for i in range(12)]
    rows += [
        _row(eased, i, f"h{i + 1}", "crashed" if i == 2 else "completed", "short-soak", 1800, 2400 + 31 * i)
        for i in range(4)
    ]
    return "\n".join([COLUMNS, *rows]) + "\n"


def write_site(
    folder: Path,
    front: str = FRONT,
    site: str = SITE,
    body: str = "Nothing is said yet.\n",
    plans: tuple[Plan, ...] = PLANS,
) -> Path:
    """The content tree in a folder."""
    files = {
        "site.yaml": site, "benches/loft.yaml": BENCH, "loads/tidal-loop.yaml": LOAD, "cards/skiff-7.yaml": CARD,
        f"write-ups/{SLUG}/write-up.md": front + body, f"write-ups/{SLUG}/trials.csv": trials_csv(plans),
    }  # fmt: skip
    for name, text in files.items():
        path = folder / "content" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder


@dataclass(frozen=True)
class World:
    """The site as read, its numbers, and a way to put other prose into it."""

    site: Site
    results: Results

    @property
    def write_up(self) -> WriteUp:
        """The one write-up."""
        return self.site.write_ups[SLUG]

    def with_prose(self, body: str) -> WriteUp:
        """The write-up with another body, and nothing else to read."""
        whole = FRONT + body
        source = SourceText(f"content/write-ups/{SLUG}/write-up.md", whole)
        problems = ProblemList()
        prose = read_body(source, FRONT.count("\n"), problems)
        assert not problems.sorted(), problems.sorted()
        return replace(self.write_up, texts=(*prose.texts, *prose.attached), tokens=tuple(prose.tokens), source=whole)


@lru_cache(maxsize=2)
def world(language: str = "en") -> World:
    """The world, read once."""
    with TemporaryDirectory() as folder:
        site, problems = read_site(write_site(Path(folder), site=SITE.replace("language: en", f"language: {language}")))
    assert site is not None and not problems, problems
    return World(site, evaluate(site))
