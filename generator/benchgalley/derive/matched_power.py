"""Score of a sweep where it draws as much power as the baseline."""

import math

from benchgalley.metrology.curve import monotone_curve
from benchgalley.metrology.distribution import normal_quantile
from benchgalley.metrology.sample import NotDetermined
from benchgalley.metrology.sweep_fit import value_on_curve

from . import budget, expanding
from .budget import Draft
from .combining import Combined
from .sequence_runs import Walk, baseline_estimate, repeat_errors, run_groups


def score_at_matched_power(walk: Walk) -> Draft:
    """Score on the curve of score against board power, read where the baseline's board power lies.

    The baseline's power and the curve's own have uncertainties too; through the slope of the curve they
    become part of the score's: u² = u(curve)² + slope² (u(baseline power)² + u(curve power)²).
    """
    scores = dict(walk.measured_points("score"))
    powers = dict(walk.measured_points("board-power"))
    settings = [setting for setting in scores if setting in powers]
    base = baseline_estimate(walk, "board-power")
    points = tuple((setting, scores[setting]) for setting in settings)
    power_points = [powers[setting] for setting in settings]
    watts = [estimate.value for estimate in power_points]
    errors = repeat_errors(tuple(e for _, e in points))
    power_errors = repeat_errors(tuple(power_points))
    if base.deviation is None:
        raise NotDetermined("the baseline was run once: repeatability of its power cannot be determined")
    nearest = min(range(len(watts)), key=lambda i: abs(watts[i] - base.value))
    base_error = base.deviation / math.sqrt(base.count)
    read_at, end_note = _inside(walk, watts, base.value, math.hypot(base_error, power_errors.errors[nearest]))
    better_up = walk.session.write_up.load.higher_is_better
    means, weights = [e.value for _, e in points], [float(e.count) for _, e in points]
    curve = monotone_curve(watts, means, weights, increasing=better_up)
    read = value_on_curve(curve, errors.errors, errors.freedoms, read_at, walk.confidence_pct / 100)
    slope = curve.slope_at(read_at)
    terms = (
        _read_term("repeatability of the score curve", read.standard_error, read.degrees_of_freedom),
        _read_term(
            f"repeatability of board power at {base.group}",
            slope * base_error, float(base.count - 1),
        ),
        _read_term(
            "repeatability of board power along the curve",
            slope * power_errors.errors[nearest], power_errors.freedoms[nearest],
        ),
    )  # fmt: skip
    combined = Combined(terms)
    u, dof = combined.standard_uncertainty, combined.degrees_of_freedom
    method = f"monotone curve, {expanding.words_of(expanding.pieces(combined))}"
    interval = expanding.two_sided(read.value, combined, walk.confidence_pct, method)
    return Draft(
        value=read.value,
        combined=combined,
        standard_uncertainty=u,
        degrees_of_freedom=dof,
        interval=interval,
        repeatability_interval=interval,
        groups=run_groups(points, base),
        substitution=f"score curve read at {budget.figure(read_at)}\u00a0W",
        reason="; ".join(note for note in dict.fromkeys((end_note, errors.note, power_errors.note)) if note),
    )


def _inside(walk: Walk, watts: list[float], wanted_w: float, error_w: float) -> tuple[float, str]:
    """Power to read the curve at: the end of the range where the baseline cannot be told from it."""
    low, high = min(watts), max(watts)
    if low <= wanted_w <= high:
        return wanted_w, ""
    end = low if wanted_w < low else high
    if abs(wanted_w - end) > normal_quantile(0.5 + walk.confidence_pct / 200) * error_w:
        raise NotDetermined("the baseline's board power lies outside the range that was run")
    return end, "the baseline draws as much as the end of the range, within the spread of runs"


def _read_term(name: str, contribution: float, freedom: float) -> budget.Term:
    return budget.Term(name, budget.REPEATABILITY, contribution, freedom, "runs of the sweep")
