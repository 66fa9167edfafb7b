"""One run's readings of one sensor reduced to a window with its mean and diagnostics."""

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from .. import metrology
from ..records.bench import Window
from ..records.units import find_unit
from .log_rows import Floats

SAME_S = 1e-6
"""Readings this close to the edge of a run or window stand on it: seconds since 1970 have no finer digits."""
GAP_INTERVALS = 3.0
"""More than so many usual intervals between two readings are a gap ..."""
LARGEST_GAP_SHARE = 0.05
"""... which is bridged, and told, up to this share of the window."""
EDGE_INTERVALS = 1.5
"""The log may begin so many usual intervals after the window does; the window then begins with it."""
FEWEST_READINGS = 3
TRACE_POINTS = 240
"""Points a trace is thinned to; they are what a run costs in memory ..."""
ALL_TRACE_POINTS = 480_000
"""... so that the traces of a log with very many runs are thinned further, to so many points together ..."""
FEWEST_TRACE_POINTS = 24
"""... but not below this many each."""


class NotReducibleError(Exception):
    """A log does not give a figure; `rule` names the problem, the text says why."""

    def __init__(self, rule: str, message: str, mend: str) -> None:
        super().__init__(message)
        self.rule, self.mend = rule, mend


class Reduction(NamedTuple):
    """A window, and what it cannot say itself."""

    window: Window
    settled: bool
    """False: the steady rule would have cut more than half of the run away."""
    bridged: int
    """Gaps that were bridged by a straight line."""


def in_order(time_s: Floats, value: Floats) -> tuple[Floats, Floats]:
    """Readings by time; those of one instant averaged."""
    if time_s.size > 1 and not float((time_s[1:] - time_s[:-1]).min()) > 0:
        instants, inverse, counts = np.unique(time_s, return_inverse=True, return_counts=True)
        means = np.bincount(inverse, weights=value) / counts
        return instants, means
    return time_s, value


def reduce_run(
    column: str,
    log: str,
    time_s: Floats,
    value: Floats,
    duration_s: float,
    rule: dict[str, object],
    trace_points: int = TRACE_POINTS,
) -> Reduction:
    """The window of a run and what it holds.

    Parameters
    ----------
    column, log
        As recorded in the window.
    time_s
        Seconds after the start of the run, rising.
    value
        Readings in the column's canonical unit.
    duration_s
        Length of the run.
    rule
        `window` of the log rules.
    trace_points
        What the trace is thinned to.

    Raises
    ------
    NotReducibleError
        The log does not cover the window, has a gap in it, too few readings, or one too large to compute with.
    """
    _put_on_edges(time_s, 0.0, duration_s)
    # Times rise, so that everything between two of them is one slice and nothing is copied.
    inside = _between(time_s, 0.0, duration_s)
    run_time, run_value = time_s[inside], value[inside]
    if run_time.size < FEWEST_READINGS:
        raise NotReducibleError(
            "log-does-not-cover-run",
            f"the log has {run_time.size} readings in the run; at least {FEWEST_READINGS} are needed",
            "Check `started`, `duration_s`, `logs.time` and `logs.time_zone`.",
        )
    steps = time_s[1:] - time_s[:-1]
    interval_s = _usual_interval_s(run_time, steps[inside.start : inside.stop - 1])
    start_s, end_s, settled = _window(rule, run_time, run_value, duration_s)
    _put_on_edges(time_s, start_s, end_s)
    _refuse_uncovered(time_s, start_s, end_s, interval_s)
    bridged = _bridged_gaps(time_s, steps, start_s, end_s, interval_s)
    # A reading before or after the run shows the idle card: edges are interpolated between readings of the run only.
    start_s, end_s = max(start_s, float(run_time[0])), min(end_s, float(run_time[-1]))
    within = _between(run_time, start_s, end_s)
    if within.stop - within.start < FEWEST_READINGS:
        raise NotReducibleError(
            "log-too-coarse",
            f"the window holds {within.stop - within.start} readings; at least {FEWEST_READINGS} are needed",
            "Log more often, run longer, or skip less.",
        )
    try:
        figures = metrology.window_figures(run_time, run_value, start_s, end_s)
    except metrology.NotDetermined as reason:
        raise _without_figures(run_value, reason) from None
    window = Window(
        column=column,
        log=log,
        start_s=start_s,
        end_s=end_s,
        readings=figures.count,
        effective_readings=figures.effective_count,
        mean=figures.mean,
        minimum=figures.smallest,
        maximum=figures.largest,
        percentile_95=figures.percentile_95,
        integral=figures.integral,
        coverage_pct=100.0 * (end_s - start_s) / duration_s,
        repeated_pct=100.0 * figures.repeated_share,
        step=figures.step,
        largest_gap_s=figures.longest_gap_s,
        slope_per_min=60.0 * figures.slope_per_s,
        trace=_trace(run_time, run_value, trace_points),
    )
    return Reduction(window, settled, bridged)


COUNTER_STEPS = 3
"""So many steps of an energy counter inside a window make it worth comparing."""


def counted_energy(window: Window, time_s: Floats, counter: Floats, unit: str) -> Window:
    """The window with the energy its counter gives, in J; as it is when the counter cannot tell.

    Taken from the first to the last step of the counter inside the window and scaled to the window's length, so
    that neither the counter's resolution nor the edges matter. A counter that falls was reset: it tells nothing.
    """
    found = find_unit(unit)
    within = _between(time_s, window.start_s, window.end_s)
    steps = np.flatnonzero(np.diff(counter)) + 1
    steps = steps[(steps >= within.start) & (steps < within.stop)]
    if found is None or steps.size < COUNTER_STEPS or (np.diff(counter[within]) < 0).any():
        return window
    first, last = int(steps[0]), int(steps[-1])
    power_w = (counter[last] - counter[first]) * found.factor / (time_s[last] - time_s[first])
    return replace(window, counter_j=float(power_w) * (window.end_s - window.start_s))


def _window(rule: dict[str, object], time_s: Floats, value: Floats, duration_s: float) -> tuple[float, float, bool]:
    """Start and end of the window, and whether the run had settled (a fixed window does not ask)."""
    if rule["rule"] == "steady":
        try:
            cut = metrology.mser(value)
        except metrology.NotDetermined as reason:
            raise _without_figures(value, reason) from None
        return float(time_s[cut.readings]), duration_s, not cut.at_limit
    # The steady rule has looked at every reading.
    _refuse_too_large(value)
    start_s, skipped_s = rule["skip_start_s"], rule["skip_end_s"]
    assert isinstance(start_s, float) and isinstance(skipped_s, float)
    if duration_s - skipped_s <= start_s:
        raise NotReducibleError(
            "window-empty",
            f"skipping {start_s:g} s at the start and {skipped_s:g} s at the end leaves nothing of {duration_s:g} s",
            "Skip less.",
        )
    return start_s, duration_s - skipped_s, True


def _without_figures(value: Floats, reason: metrology.NotDetermined) -> NotReducibleError:
    """Why readings give no figure: they are too large, or there are too few."""
    _refuse_too_large(value)
    return NotReducibleError("log-too-coarse", str(reason), "Log more often, or use a fixed window.")


def _refuse_too_large(value: Floats) -> None:
    worst = float(value[np.argmax(np.abs(value))])
    if not abs(worst) <= metrology.LARGEST:
        raise NotReducibleError(
            "out-of-range", f"the log gives a reading of {worst:g}, too large to compute with", "Mend the log."
        )


def _usual_interval_s(time_s: Floats, steps: Floats) -> float:
    """Median of the steps between readings; of evenly spaced ones the mean, which is the same and quicker."""
    mean = float(time_s[-1] - time_s[0]) / steps.size
    even = float(steps.max()) < 1.001 * mean and float(steps.min()) > 0.999 * mean
    return mean if even else float(np.median(steps))


def _between(time_s: Floats, low_s: float, high_s: float) -> slice:
    """Readings from one time to another, both included."""
    return slice(int(np.searchsorted(time_s, low_s, "left")), int(np.searchsorted(time_s, high_s, "right")))


def _refuse_uncovered(time_s: Floats, start_s: float, end_s: float, interval_s: float) -> None:
    """The log must begin and end near enough to the window, or beyond it."""
    slack_s = EDGE_INTERVALS * interval_s
    first, last = float(time_s[0]), float(time_s[-1])
    if first > start_s + slack_s or last < end_s - slack_s:
        raise NotReducibleError(
            "log-does-not-cover-run",
            f"the log has readings from {max(first, 0.0):.1f} s to {last:.1f} s of the run; "
            f"{start_s:.1f} s to {end_s:.1f} s are needed",
            "Check `started`, `duration_s`, `logs.time` and `logs.time_zone`.",
        )


def _bridged_gaps(time_s: Floats, steps: Floats, start_s: float, end_s: float, interval_s: float) -> int:
    """How many gaps the window has; a long one is refused. How long the log pauses beyond it does not matter."""
    # The steps that reach into the window: from the last reading before it to the first after it.
    first = max(int(np.searchsorted(time_s, start_s, "right")) - 1, 0)
    last = int(np.searchsorted(time_s, end_s, "left"))
    told_s = GAP_INTERVALS * interval_s + SAME_S
    allowed_s = max(told_s, LARGEST_GAP_SHARE * (end_s - start_s))
    if float(steps[first:last].max(initial=0.0)) <= told_s:
        return 0
    reach = np.clip(time_s[first : last + 1], start_s, end_s)
    gaps = np.diff(reach)
    longest = float(gaps.max(initial=0.0))
    if longest > allowed_s:
        at = float(reach[int(np.argmax(gaps))])
        raise NotReducibleError(
            "log-gap",
            f"the log has a gap of {longest:.1f} s from {at:.1f} s of the run on; "
            f"readings usually come every {interval_s:.2g} s",
            "Leave the run out with a reason, or choose a window without the gap.",
        )
    return int(np.count_nonzero(gaps > told_s))


def _put_on_edges(time_s: Floats, *edges_s: float) -> None:
    """Readings that miss an edge by rounding alone are put on it, in place, where they then still rise."""
    for edge_s in edges_s:
        near = slice(*np.searchsorted(time_s, (edge_s - SAME_S, edge_s + SAME_S)).tolist())
        if near.stop - near.start == 1:
            time_s[near] = edge_s


def points_of_trace(runs: int) -> int:
    """Points that the trace of each run of a log is thinned to."""
    return min(TRACE_POINTS, max(FEWEST_TRACE_POINTS, ALL_TRACE_POINTS // max(runs, 1)))


def _trace(time_s: Floats, value: Floats, points: int) -> tuple[tuple[float, float], ...]:
    stride = max(1, -(-time_s.size // points))
    times, values = np.round(time_s[::stride], 3), value[::stride]
    # Six significant digits: a whole number over a power of ten is the nearest float to its decimal writing.
    magnitude = np.floor(np.log10(np.maximum(np.abs(values), 1e-9)))
    scale = 10.0 ** np.minimum(np.maximum(5 - magnitude, 0), 15)
    return tuple(zip(times.tolist(), (np.rint(values * scale) / scale).tolist(), strict=True))
