"""One run's readings of one sensor reduced to a window with its mean and diagnostics."""

import numpy as np

from .. import metrology
from ..records.bench import Window
from .log_file import Floats

LARGEST_GAP_SHARE = 0.05
"""A gap may be bridged up to this share of the window ..."""
LARGEST_GAP_INTERVALS = 3.0
"""... or up to so many usual intervals between readings, whichever is longer."""
EDGE_INTERVALS = 1.5
"""The log may begin so many usual intervals after the window does; the window then begins with it."""
FEWEST_READINGS = 3
TRACE_POINTS = 240


class NotReducibleError(Exception):
    """A log does not give a figure; `rule` names the problem, the text says why."""

    def __init__(self, rule: str, message: str, mend: str) -> None:
        super().__init__(message)
        self.rule, self.mend = rule, mend


def in_order(time_s: Floats, value: Floats) -> tuple[Floats, Floats]:
    """Readings by time; those of one instant averaged."""
    if time_s.size and not (np.diff(time_s) > 0).all():
        instants, inverse, counts = np.unique(time_s, return_inverse=True, return_counts=True)
        means = np.bincount(inverse, weights=value) / counts
        return instants, means
    return time_s, value


def reduce_run(
    column: str, log: str, time_s: Floats, value: Floats, duration_s: float, rule: dict[str, object]
) -> Window:
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

    Raises
    ------
    NotReducibleError
        The log does not cover the window, has a gap in it, or too few readings.
    """
    inside = (time_s >= 0) & (time_s <= duration_s)
    if int(inside.sum()) < FEWEST_READINGS:
        raise NotReducibleError(
            "log-does-not-cover-run",
            f"the log has {int(inside.sum())} readings in the run; at least {FEWEST_READINGS} are needed",
            "Check `started`, `duration_s`, `logs.time` and `logs.time_zone`.",
        )
    interval_s = float(np.median(np.diff(time_s[inside])))
    start_s, end_s = _window(rule, time_s[inside], value[inside], duration_s)
    start_s, end_s = _covered(time_s, start_s, end_s, interval_s)
    _refuse_gaps(time_s, start_s, end_s, interval_s)
    within = (time_s >= start_s) & (time_s <= end_s)
    kept_time, kept = time_s[within], value[within]
    if kept.size < FEWEST_READINGS:
        raise NotReducibleError(
            "log-too-coarse",
            f"the window holds {kept.size} readings; at least {FEWEST_READINGS} are needed",
            "Log more often, run longer, or skip less.",
        )
    integral = metrology.window_integral(time_s, value, start_s, end_s)
    return Window(
        column=column,
        log=log,
        start_s=start_s,
        end_s=end_s,
        readings=int(kept.size),
        effective_readings=_effective(kept),
        mean=integral / (end_s - start_s),
        minimum=float(kept.min()),
        maximum=float(kept.max()),
        percentile_95=float(np.quantile(kept, 0.95)),
        integral=integral,
        coverage_pct=100.0 * (end_s - start_s) / duration_s,
        repeated_pct=100.0 * metrology.repeated_share(kept),
        step=_step(kept),
        largest_gap_s=float(np.diff(kept_time).max()),
        slope_per_min=60.0 * _slope(kept_time, kept),
        trace=_trace(time_s[inside], value[inside]),
    )


def _window(rule: dict[str, object], time_s: Floats, value: Floats, duration_s: float) -> tuple[float, float]:
    if rule["rule"] == "steady":
        try:
            cut = metrology.mser(value)
        except metrology.NotDetermined as reason:
            raise NotReducibleError("log-too-coarse", str(reason), "Log more often, or use a fixed window.") from None
        if cut.at_limit:
            raise NotReducibleError(
                "log-not-settled",
                "the readings have not settled by the middle of the run",
                "Run longer, or use a fixed window and say so.",
            )
        return float(time_s[cut.readings]), duration_s
    start_s, skipped_s = rule["skip_start_s"], rule["skip_end_s"]
    assert isinstance(start_s, float) and isinstance(skipped_s, float)
    if duration_s - skipped_s <= start_s:
        raise NotReducibleError(
            "window-empty",
            f"skipping {start_s:g} s at the start and {skipped_s:g} s at the end leaves nothing of {duration_s:g} s",
            "Skip less.",
        )
    return start_s, duration_s - skipped_s


def _covered(time_s: Floats, start_s: float, end_s: float, interval_s: float) -> tuple[float, float]:
    """The window, drawn in to the first and last reading where these are near enough."""
    slack_s = EDGE_INTERVALS * interval_s
    first, last = float(time_s[0]), float(time_s[-1])
    if first > start_s + slack_s or last < end_s - slack_s:
        raise NotReducibleError(
            "log-does-not-cover-run",
            f"the log has readings from {max(first, 0.0):.1f} s to {last:.1f} s of the run; "
            f"{start_s:.1f} s to {end_s:.1f} s are needed",
            "Check `started`, `duration_s`, `logs.time` and `logs.time_zone`.",
        )
    return max(start_s, first), min(end_s, last)


def _refuse_gaps(time_s: Floats, start_s: float, end_s: float, interval_s: float) -> None:
    left, right = np.clip(time_s[:-1], start_s, end_s), np.clip(time_s[1:], start_s, end_s)
    gaps = np.where(right > left, np.diff(time_s), 0.0)
    longest = float(gaps.max())
    if longest > max(LARGEST_GAP_INTERVALS * interval_s, LARGEST_GAP_SHARE * (end_s - start_s)):
        at = float(time_s[int(np.argmax(gaps))])
        raise NotReducibleError(
            "log-gap",
            f"the log has a gap of {longest:.1f} s from {at:.1f} s of the run on; "
            f"readings usually come every {interval_s:.2g} s",
            "Leave the run out with a reason, or choose a window without the gap.",
        )


def _effective(values: Floats) -> float:
    try:
        return metrology.effective_readings(values).effective_count
    except metrology.NotDetermined:
        # Equal readings: nothing shows that they are more than one.
        return 1.0


def _step(values: Floats) -> float | None:
    try:
        return float(f"{metrology.quantisation_step(values).step:.6g}")
    except metrology.NotDetermined:
        return None


def _slope(time_s: Floats, values: Floats) -> float:
    """Least-squares slope, unit of the values a second."""
    time = time_s - time_s.mean()
    square = float(time @ time)
    return float(time @ (values - values.mean())) / square if square > 0 else 0.0


def _trace(time_s: Floats, value: Floats) -> tuple[tuple[float, float], ...]:
    stride = max(1, -(-time_s.size // TRACE_POINTS))
    pairs = zip(time_s[::stride].tolist(), value[::stride].tolist(), strict=True)
    return tuple((round(t, 3), float(f"{v:.6g}")) for t, v in pairs)
