"""What the invented tester ran, session by session: the scenario of the demo."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta, timezone

from .bench_model import LoadModel, Setting
from .instruments import DESK_BENCH, RISER_BENCH, BenchModel
from .invented_cards import GLASSHOUSE, MILLRACE

SUMMER = timezone(timedelta(hours=2))


@dataclass(frozen=True, kw_only=True, slots=True)
class PlannedRun:
    """One run to make."""

    setting: Setting
    duration_s: int
    sequence: str = ""
    """Written into trials.csv: keeps soak runs out of the setpoints' means."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Session:
    """Runs made in one go, the machine warm: baseline, block, baseline."""

    start: datetime
    before: tuple[PlannedRun, ...]
    block: tuple[PlannedRun, ...]
    after: tuple[PlannedRun, ...]
    shuffled: bool = True
    """False: in the order given, as when an offset is walked down step by step."""
    ambient_c: float = 22.0
    log: str = ""
    """File of the sensor log, relative to the write-up; empty: figures typed."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Plan:
    """One write-up's trials."""

    slug: str
    card: str
    sample: str
    load: LoadModel
    bench: BenchModel
    seed: int
    driver: str
    sessions: tuple[Session, ...]
    columns: tuple[str, ...]
    """Columns of trials.csv, canonical names, in order."""
    decimals: Mapping[str, int]
    score_noise: float = 0.0021
    """Relative standard deviation from run to run."""
    headers: Mapping[str, str] = field(default_factory=dict)
    """Canonical column → the header this tester writes."""
    divisors: Mapping[str, float] = field(default_factory=dict)
    """Canonical column → divide by this before writing (1000 for watts written as kilowatts)."""
    excluded: Mapping[str, str] = field(default_factory=dict)
    """Trial → reason, for runs left out."""
    disturbed: Mapping[str, float] = field(default_factory=dict)
    """Trial → extra kelvins of room temperature during that run."""


def _at(day: int, hour: int, minute: int) -> datetime:
    return datetime(2026, 9, day, hour, minute, tzinfo=SUMMER)


def _runs(count: int, limit: float, offset: float = 0.0, seconds: int = 120, sequence: str = "", **more: object):
    setting = Setting(power_limit_pct=limit, voltage_offset_mv=offset, **more)  # type: ignore[arg-type]
    return (PlannedRun(setting=setting, duration_s=seconds, sequence=sequence),) * count


_TYPED = (
    "trial", "started", "power_limit_pct", "voltage_offset_mv", "sequence", "outcome", "score", "board_power_w",
    "wall_power_w", "core_clock_mhz", "core_temp_c", "hotspot_temp_c", "ambient_c", "fan_rpm", "duration_s",
    "driver", "excluded", "note",
)  # fmt: skip
_PLACES = {
    "score": 0, "board_power_w": 1, "wall_power_w": 0, "core_clock_mhz": 0, "core_temp_c": 1, "hotspot_temp_c": 1,
    "ambient_c": 1, "fan_rpm": -1, "sound_dba": 1, "duration_s": 0,
}  # fmt: skip

_STOCK = _runs(1, 100)

SCONCE_A = Plan(
    slug="sconce-a", card="fernhythe-sconce", sample="a", load=GLASSHOUSE["fernhythe-sconce"], bench=RISER_BENCH,
    seed=31, driver="5.18.2", columns=_TYPED, decimals=_PLACES,
    sessions=(
        Session(start=_at(5, 9, 10), before=_STOCK * 4, after=_STOCK * 4, ambient_c=21.6,
                block=_runs(4, 100) + _runs(6, 88) + _runs(8, 76) + _runs(6, 64)),
        Session(start=_at(6, 10, 5), before=_STOCK * 2, after=_STOCK * 2, ambient_c=21.9, shuffled=False,
                block=_runs(5, 100, -30) + _runs(5, 100, -60) + _runs(5, 100, -75) + _runs(5, 100, -90)
                + _runs(5, 100, -105) + _runs(3, 100, -120)),
        Session(start=_at(12, 9, 30), before=_STOCK * 3, after=_STOCK * 3, ambient_c=21.3,
                block=_runs(3, 100) + _runs(3, 100, -75) + _runs(5, 94, -75) + _runs(10, 88, -75)
                + _runs(5, 82, -75) + _runs(12, 76, -75) + _runs(5, 70, -75)),
        Session(start=_at(13, 13, 0), before=(), after=(), ambient_c=22.4, shuffled=False,
                block=_runs(8, 76, -75, 1800, "soak")),
    ),
)  # fmt: skip

SCONCE_B = Plan(
    slug="sconce-b", card="fernhythe-sconce", sample="b", load=GLASSHOUSE["fernhythe-sconce"], bench=RISER_BENCH,
    seed=47, driver="5.18.2", columns=_TYPED, decimals=_PLACES,
    excluded={"b22": "window opened during the run"}, disturbed={"b22": 3.6},
    sessions=(
        Session(start=_at(19, 9, 20), before=_STOCK * 4, after=_STOCK * 4, ambient_c=21.8,
                block=_runs(2, 100) + _runs(8, 76) + _runs(8, 88, -75) + _runs(9, 76, -75)),
    ),
)  # fmt: skip

SCONCE_C = Plan(
    slug="sconce-c", card="fernhythe-sconce", sample="c", load=GLASSHOUSE["fernhythe-sconce"], bench=RISER_BENCH,
    seed=60, driver="5.18.2", columns=_TYPED, decimals=_PLACES,
    sessions=(
        Session(start=_at(20, 9, 45), before=_STOCK * 4, after=_STOCK * 4, ambient_c=21.5,
                block=_runs(2, 100) + _runs(8, 76) + _runs(10, 76, -75) + _runs(8, 76, -45)),
        Session(start=_at(20, 15, 10), before=_STOCK * 2, after=_STOCK * 2, ambient_c=22.2, shuffled=False,
                block=_runs(4, 100, -30) + _runs(4, 100, -45) + _runs(4, 100, -60) + _runs(4, 100, -75)
                + _runs(3, 100, -90)),
    ),
)  # fmt: skip

PLOVER_GLASSHOUSE = Plan(
    slug="plover-glasshouse", card="tarnbeck-plover", sample="p", load=GLASSHOUSE["tarnbeck-plover"],
    bench=RISER_BENCH, seed=73, driver="5.18.2", columns=_TYPED, decimals=_PLACES,
    sessions=(
        Session(start=_at(26, 9, 5), before=_STOCK * 4, after=_STOCK * 4, ambient_c=21.2,
                block=_runs(2, 100) + _runs(6, 94) + _runs(6, 88) + _runs(6, 82) + _runs(8, 94, -20)
                + _runs(6, 88, -20)),
        Session(start=_at(26, 14, 40), before=_STOCK * 2, after=_STOCK * 2, ambient_c=21.9, shuffled=False,
                block=_runs(4, 100, -10) + _runs(5, 100, -20) + _runs(5, 100, -30) + _runs(4, 100, -40)),
    ),
)  # fmt: skip

_LOGGED = (
    "trial", "started", "power_limit_pct", "voltage_offset_mv", "memory_offset_mhz", "fan_mode", "sequence",
    "outcome", "score", "wall_power_w", "ambient_c", "sound_dba", "duration_s", "driver", "log", "excluded", "note",
)  # fmt: skip
_CURLEW_STOCK = _runs(1, 100, seconds=150)

CURLEW_MILLRACE = Plan(
    slug="curlew-millrace", card="tarnbeck-curlew", sample="k", load=MILLRACE["tarnbeck-curlew"], bench=DESK_BENCH,
    seed=88, driver="5.19.0", columns=_LOGGED, decimals={**_PLACES, "wall_power_w": 3, "score": 1},
    score_noise=0.0026, headers={"wall_power_w": "Wall kW", "ambient_c": "Room", "sound_dba": "Level A"},
    divisors={"wall_power_w": 1000.0},
    sessions=(
        Session(start=_at(8, 9, 0), before=_CURLEW_STOCK * 3, after=_CURLEW_STOCK * 3, ambient_c=22.6,
                log="logs/tuesday.csv",
                block=_runs(2, 100, seconds=150) + _runs(5, 90, seconds=150) + _runs(5, 80, seconds=150)
                + _runs(6, 72, seconds=150) + _runs(8, 72, -65, 150)),
        Session(start=_at(10, 9, 15), before=_CURLEW_STOCK * 2, after=_CURLEW_STOCK * 2, ambient_c=22.9,
                log="logs/thursday.csv",
                block=_runs(6, 72, -65, 150, fan_mode="quiet") + _runs(3, 100, 0, 150, fan_mode="quiet")
                + _runs(5, 72, -65, 150, memory_offset_mhz=300.0) + _runs(4, 72, -65, 150, memory_offset_mhz=500.0)),
        Session(start=_at(10, 14, 20), before=_CURLEW_STOCK * 2, after=_CURLEW_STOCK * 2, ambient_c=23.3,
                log="logs/thursday-ladder.csv", shuffled=False,
                block=_runs(4, 100, -45, 150) + _runs(4, 100, -65, 150) + _runs(4, 100, -85, 150)
                + _runs(4, 100, -95, 150)),
    ),
)  # fmt: skip

PLOVER_MILLRACE = Plan(
    slug="plover-millrace", card="tarnbeck-plover", sample="p", load=MILLRACE["tarnbeck-plover"], bench=DESK_BENCH,
    seed=97, driver="5.19.0",
    columns=tuple(c for c in _LOGGED if c not in ("memory_offset_mhz", "fan_mode", "sound_dba")),
    decimals={**_PLACES, "score": 1}, score_noise=0.0026,
    sessions=(
        Session(start=_at(27, 9, 0), before=_CURLEW_STOCK * 4, after=_CURLEW_STOCK * 4, ambient_c=22.1,
                log="logs/sunday.csv",
                block=_runs(2, 100, seconds=150) + _runs(8, 94, -20, 150) + _runs(6, 82, 0, 150)),
        Session(start=_at(27, 13, 30), before=(), after=(), ambient_c=22.7, log="logs/sunday-soak.csv",
                shuffled=False, block=_runs(6, 94, -20, 1200, "soak")),
    ),
)  # fmt: skip

PLANS: tuple[Plan, ...] = (
    SCONCE_A, SCONCE_B, SCONCE_C, PLOVER_GLASSHOUSE, CURLEW_MILLRACE, PLOVER_MILLRACE,
)  # fmt: skip
"""In the order they were made known."""
