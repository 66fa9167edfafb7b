"""How the logged figures were reduced: windows, readings, settling."""

from collections.abc import Callable, Iterable
from typing import NamedTuple

from ..records.bench import Instrument, MeasuringPoint, Trial, Window
from ..records.findings import Caveat
from ..records.quantity import BY_COLUMN
from .context import POWER_COLUMNS, Context, of_columns
from .wording import agree, counted, exact, figure, listed, unique

COVERAGE = "T. R. W. Scogland et al., SC '15, doi:10.1145/2807591.2807653"
TIMING = "T. Ilsche, Power measurement methodology, decision note of 2023-06-27"
STEADY = "A. Georges, D. Buytaert and L. Eeckhout, OOPSLA '07, doi:10.1145/1297027.1297033"
OWN_SENSORS = "Z. Yang, K. Adamek and W. Armour, SC '24, doi:10.1109/SC41406.2024.00028"

LEAST_WINDOW_S = 60.0
"""R41: a core phase of at least a minute."""
LEAST_READINGS = 10
"""R41: at least ten readings in the core phase, and none missing for longer than a tenth of it."""
LEAST_COVERAGE_PCT = 95.0
"""R40 asks for the whole phase; the limit of 95 % is ours."""
STEADY_SHARE = 0.02
"""R26: a run counts as steady below a variation of 0.01 or 0.02; here the trend over the window."""
STEADY_K = 1.0
"""Ours: for temperatures, whose zero is arbitrary, the trend over the window in kelvin."""
REPEATED_PCT = 50.0
"""Ours: when more than half the readings repeat the one before, the sensor is slower than the log (R46)."""
COUNTER_SHARE = 0.02
"""Ours: the trend a steady window may have (R26) is also how far two accounts of its energy may be apart."""
SHORT_WORK_S = 5.0
"""R47: at least five seconds of work for a card's own sensor."""
OWN_SENSOR_PERIODS = 50
"""R46: fewer readings than this by a sensor that may look part of the time only are not enough."""

STEADY_COLUMNS = (*POWER_COLUMNS, "core_clock_mhz", "core_temp_c", "hotspot_temp_c", "memory_temp_c")
TEMPERATURES = ("core_temp_c", "hotspot_temp_c", "memory_temp_c")


class Logged(NamedTuple):
    """One window of one run that counts."""

    trial: Trial
    window: Window


def _windows(context: Context, columns: tuple[str, ...]) -> list[Logged]:
    return [
        Logged(trial, trial.windows[column])
        for trial in context.logged
        for column in columns
        if column in trial.windows
    ]


def _bearing(context: Context, found: list[Logged]) -> tuple[str, ...]:
    """Addresses of the setpoints and quantities whose runs are concerned."""
    ids = {item.trial.id for item in found}
    names = [n for n in context.write_up.setpoints if any(t.id in ids for t in context.counting(n))]
    along = [n for n, runs in context.along.items() if any(t.id in ids for t in runs) and n not in names]
    columns = unique(item.window.column for item in found)
    return (*of_columns(names, columns), *(f"{n}/" for n in along))


def _raise(
    context: Context,
    of: list[Logged],
    concerned: Callable[[Window], bool],
    told: Callable[[list[Logged]], str],
    *,
    code: str,
    title: str,
    effect: str,
    remedy: str,
    source: str,
) -> Iterable[Caveat]:
    found = [item for item in of if concerned(item.window)]
    if not found:
        return
    runs, logged = len({i.trial.id for i in found}), len({i.trial.id for i in of})
    yield Caveat(
        code=code,
        title=title,
        missing=f"In {runs} of {counted(logged, 'logged run')} {told(found)}.",
        effect=effect,
        remedy=remedy,
        standing=not _bearing(context, found),
        addresses=_bearing(context, found),
        source=source,
    )


def short_window(context: Context) -> Iterable[Caveat]:
    """Raised by a power window of less than a minute (R41)."""
    yield from _raise(
        context,
        _windows(context, POWER_COLUMNS),
        lambda w: w.end_s - w.start_s < LEAST_WINDOW_S * (1 - 1e-9),
        lambda f: (
            f"the window is shorter than {exact(LEAST_WINDOW_S)} s (shortest "
            f"{figure(min(w.end_s - w.start_s for _, w in f))} s)"
        ),
        code="short-window",
        title="Short measuring window",
        effect="A mean over part of a minute depends on which part. Windows chosen by timing alone moved results by "
        "up to 20 %.",
        remedy="Runs long enough for a window of a minute or more.",
        source=TIMING,
    )


def coarse_log(context: Context) -> Iterable[Caveat]:
    """Raised by fewer than ten power readings a window, or a gap longer than a tenth of it (R41)."""
    yield from _raise(
        context,
        _windows(context, POWER_COLUMNS),
        _too_coarse,
        lambda f: (
            f"the window holds fewer than {LEAST_READINGS} readings or lacks more than a tenth at a stretch "
            f"(fewest readings {min(w.readings for _, w in f)}, longest gap "
            f"{figure(max(w.largest_gap_s for _, w in f))} s)"
        ),
        code="coarse-log",
        title="Log coarser than needed",
        effect="The mean may be off by several percent: 5 to 9 % was found with 5 readings a run, 2 to 3.3 % with 10.",
        remedy="A shorter logging interval or longer runs.",
        source=TIMING,
    )


def _too_coarse(window: Window) -> bool:
    length = window.end_s - window.start_s
    return window.readings < LEAST_READINGS or window.largest_gap_s > length / LEAST_READINGS * (1 + 1e-9)


def partial_window(context: Context) -> Iterable[Caveat]:
    """Raised when power covers less than 95 % of a run (R40)."""
    yield from _raise(
        context,
        _windows(context, POWER_COLUMNS),
        lambda w: w.coverage_pct < LEAST_COVERAGE_PCT,
        lambda f: (
            f"power covers less than {exact(LEAST_COVERAGE_PCT)} % of the run (least "
            f"{figure(min(w.coverage_pct for _, w in f))} %)"
        ),
        code="partial-window",
        title="Power covers part of the run",
        effect="The score is for the whole run, the watts for a part of it; energy and score per watt take the part "
        "for the whole.",
        remedy="Log from start to end of the run; or state why the cut parts do not belong to the work.",
        source=COVERAGE,
    )


def not_steady(context: Context) -> Iterable[Caveat]:
    """Raised when a trend over the window exceeds 2 % of the mean, for temperatures 1 K (R26)."""
    yield from _raise(
        context,
        _windows(context, STEADY_COLUMNS),
        lambda w: _trend(w) > _trend_limit(w),
        _steepest,
        code="not-steady",
        title="Still settling in the window",
        effect="The figure depends on when the window starts; a longer run would give another one.",
        remedy="Longer warm-up or a window that starts later.",
        source=STEADY,
    )


def _trend(window: Window) -> float:
    return abs(window.slope_per_min) * (window.end_s - window.start_s) / 60


def _trend_limit(window: Window) -> float:
    limit = STEADY_K if window.column in TEMPERATURES else STEADY_SHARE * abs(window.mean)
    return limit * (1 + 1e-9)


def _steepest(found: list[Logged]) -> str:
    worst = max((w for _, w in found), key=lambda w: _trend(w) / max(_trend_limit(w), 1e-300))
    quantity = BY_COLUMN[worst.column]
    unit = (quantity.difference_unit or quantity.unit).symbol
    move = "rises" if worst.slope_per_min > 0 else "falls"
    return (
        f"{listed(unique(BY_COLUMN[w.column].name for _, w in found))} still {agree(1, 'moves', 'move')}; at most "
        f"{quantity.name} {move} by {figure(abs(worst.slope_per_min))} {unit} a minute"
    )


def stale_readings(context: Context) -> Iterable[Caveat]:
    """Raised when more than half the power readings repeat the one before (R46)."""
    yield from _raise(
        context,
        _windows(context, POWER_COLUMNS),
        lambda w: w.repeated_pct > REPEATED_PCT,
        lambda f: (
            f"more than {exact(REPEATED_PCT)} % of the readings repeat the one before (most "
            f"{figure(max(w.repeated_pct for _, w in f))} %)"
        ),
        code="stale-readings",
        title="Sensor slower than its log",
        effect="There are fewer independent readings than lines in the log, and changes show later than they happen.",
        remedy="Log at the sensor's own rate, over longer runs.",
        source=OWN_SENSORS,
    )


def counter_disagrees(context: Context) -> Iterable[Caveat]:
    """Raised when the log's own energy counter and the integral of its power differ by more than 2 %."""
    yield from _raise(
        context,
        [item for item in _windows(context, POWER_COLUMNS) if item.window.counter_j is not None],
        lambda w: _counted_share(w) > COUNTER_SHARE * (1 + 1e-9),
        lambda f: (
            "the energy counter and the integral of the logged power differ by more than "
            f"{exact(100 * COUNTER_SHARE)} % (most {figure(max(100 * _counted_share(w) for _, w in f))} %)"
        ),
        code="counter-disagrees",
        title="Energy counter and power disagree",
        effect="One of the two is wrong: readings too far apart to follow the power, a sensor that averages, or a "
        "counter of something else. The watts here are the integral's.",
        remedy="A shorter logging interval; or find out what the counter counts.",
        source=OWN_SENSORS,
    )


def _counted_share(window: Window) -> float:
    """Difference between counter and integral as a share of the integral."""
    if window.counter_j is None or window.integral == 0:
        return 0.0
    return abs(window.counter_j - window.integral) / abs(window.integral)


def runs_too_short(context: Context) -> Iterable[Caveat]:
    """Raised by runs under 5 s on a card's own sensor, or too few of the sensor's periods long (R41, R46, R47)."""
    for column in POWER_COLUMNS:
        instrument = context.write_up.bench.instrument_for(column)
        runs = [t for t in context.counted if column in t.measured]
        if instrument is None or not runs:
            continue
        needed = _needed_s(instrument)
        lengths = {t.id: _length_s(context, t) for t in runs}
        short = {i: s for i, s in lengths.items() if s is not None and s < needed * (1 - 1e-9)}
        if not short:
            continue
        names = [n for n in context.write_up.setpoints if any(t.id in short for t in context.counting(n))]
        yield Caveat(
            code="runs-too-short",
            title="Runs too short for the sensor",
            missing=f"{len(short)} of {counted(len(runs))} last less than the {figure(needed)} s that "
            f"{instrument.name} needs (shortest {figure(min(short.values()))} s).",
            effect="The sensor has not seen enough of the work; its mean may miss rise and fall.",
            remedy="Longer runs, or the work repeated within one run.",
            standing=not names,
            addresses=of_columns(names, [column]),
            source=OWN_SENSORS if instrument.measures_at is MeasuringPoint.CARD_SENSOR else TIMING,
        )
        return


def _needed_s(instrument: Instrument) -> float:
    """Shortest run that gives the sensor enough of its own periods."""
    own = instrument.measures_at is MeasuringPoint.CARD_SENSOR
    periods = OWN_SENSOR_PERIODS if own else LEAST_READINGS
    sampled = periods * instrument.sampling_interval_s if instrument.sampling_interval_s else 0.0
    return max(sampled, SHORT_WORK_S if own else 0.0)


def _length_s(context: Context, trial: Trial) -> float | None:
    return trial.measured.get("duration_s", context.write_up.load.run_length_s)


RULES = (
    short_window,
    coarse_log,
    partial_window,
    not_steady,
    stale_readings,
    counter_disagrees,
    runs_too_short,
)
