"""The lowest power limit of a sweep at which the score is still as good as the baseline's."""

import math
from dataclasses import dataclass, replace

from benchgalley.metrology.curve import sensitivities
from benchgalley.metrology.sample import NotDetermined
from benchgalley.metrology.sweep_fit import MatchingSetting, Reach, matching_setting
from benchgalley.records.results import Interval

from . import budget
from .at_setpoint import quantity_of
from .budget import Draft, Term
from .combining import Combined
from .drifting import drift_of
from .estimate import Estimate
from .pairs import shifted
from .sequence_runs import Errors, Walk, baseline_estimate, repeat_errors, run_groups

INVERSE_METHOD = "inverse prediction on the monotone curve"


@dataclass(frozen=True, kw_only=True, slots=True)
class Match:
    """A matching setting with what it was found from."""

    found: MatchingSetting
    points: tuple[tuple[float, Estimate], ...]
    base: Estimate
    errors: Errors
    """Of the points, drift since the baseline among them."""
    sign: float
    """1 where a higher score is better, -1 otherwise."""
    note: str


def _same_runs(points: tuple[tuple[float, Estimate], ...], base: Estimate) -> int | None:
    """Place of the point that is the baseline itself, run for run."""
    wanted = set(base.run_ids)
    return next((i for i, (_, e) in enumerate(points) if set(e.run_ids) == wanted), None)


def _margin(walk: Walk, base: float) -> tuple[float, str]:
    """Declared margin of the score in its unit, and what to say of it."""
    declared = walk.session.write_up.margins.by_quantity.get("score")
    if declared is None:
        return 0.0, "no margin is declared for score, so the score must be back at the baseline's mean"
    size, in_percent = declared
    return (abs(base) * size / 100 if in_percent else size), ""


def _match(walk: Walk) -> Match:
    points = walk.measured_points("score")
    base = baseline_estimate(walk, "score")
    errors = repeat_errors(tuple(e for _, e in points))
    sign = 1.0 if walk.session.write_up.load.higher_is_better else -1.0
    if base.deviation is None:
        raise NotDetermined(f"the baseline was run once, so there is nothing to match within: {base.group}")
    margin, margin_note = _margin(walk, base.value)
    errors = with_drift(walk, "score", points, base, errors)
    found = matching_setting(
        [setting for setting, _ in points],
        [sign * e.value for _, e in points],
        errors.errors,
        errors.freedoms,
        sign * base.value,
        base.deviation / math.sqrt(base.count),
        float(base.count - 1),
        margin=margin,
        confidence=walk.confidence_pct / 100,
        target_index=_same_runs(points, base),
        weights=[float(e.count) for _, e in points],
    )
    note = "; ".join(note for note in (margin_note, errors.note) if note)
    return Match(found=found, points=points, base=base, errors=errors, sign=sign, note=note)


def contributions(match: Match, setting: float) -> tuple[Term, ...]:
    """What the scatter of each point, and of the baseline, contributes to a matching setting.

    The setting where the curve meets the baseline's score less the margin moves by -w/slope when a point moves by
    one, w the sensitivity of the curve to that point (JCGM 100:2008, 5.1.4, of the implicit function), and by 1/slope
    when the baseline does. A point's error holds what may have drifted since the baseline. Empty where the curve is
    level.
    """
    points, base, errors, curve = match.points, match.base, match.errors, match.found.curve
    slope = curve.slope_at(setting)
    if not slope > 0:
        return ()
    weights = sensitivities(curve, [setting])[0]
    same = _same_runs(points, base)
    if same is not None:
        weights[same] -= 1
    terms = [
        Term(
            f"{_said_of(estimate, error)} of score at {estimate.group}", budget.REPEATABILITY,
            -float(weight) * error / slope, freedom,
            f"{estimate.count} runs at {estimate.group}, standard error {budget.figure(error, 3)}; read through the "
            f"slope of the curve, {budget.figure(slope, 3)} for 1\u00a0%",
        )
        for (_, estimate), weight, error, freedom in zip(points, weights, errors.errors, errors.freedoms, strict=True)
        if abs(weight) > 1e-9
    ]  # fmt: skip
    if same is None:
        terms.append(
            Term(
                f"repeatability of score at {base.group}", budget.REPEATABILITY, base.error / slope,
                float(base.count - 1),
                f"{base.count} runs at {base.group}, standard error {budget.figure(base.error, 3)}",
            )
        )  # fmt: skip
    return tuple(terms)


def _said_of(estimate: Estimate, error: float) -> str:
    return "repeatability" if error <= estimate.error * (1 + 1e-9) else "repeatability and drift"


def with_drift(
    walk: Walk, key: str, points: tuple[tuple[float, Estimate], ...], base: Estimate, errors: Errors
) -> Errors:
    """Errors of the points with what may have drifted between the baseline's runs and theirs.

    Each point gets its own contribution, as a difference from the baseline has it (see `drift_term`); the point
    that is the baseline itself gets none.
    """
    quantity = quantity_of(walk.session, key)
    assert quantity is not None
    same = _same_runs(points, base)
    found, freedoms, missing = list(errors.errors), list(errors.freedoms), 0
    for place, (_, estimate) in enumerate(points):
        if place == same:
            continue
        drift, note = drift_of(walk.session, quantity, estimate, base)
        if drift is None:
            missing += 1
            reason = note
            continue
        repeats = Term("repeats", budget.REPEATABILITY, found[place], freedoms[place], "")
        both = Combined((repeats, drift.term()))
        found[place], freedoms[place] = both.standard_uncertainty, both.degrees_of_freedom
    if missing:
        told = (
            reason
            if missing == 1
            else f"drift since the baseline cannot be estimated at {missing} settings: no "
            "baseline runs on both sides of them"
        )
        if "fewer than three" in reason:
            told = reason
        note = "; ".join(part for part in (errors.note, told) if part)
    else:
        note = errors.note
    return Errors(errors=tuple(found), freedoms=tuple(freedoms), note=note)


def matching_power_limit(walk: Walk) -> Draft:
    """Lowest limit at which the score is not below the baseline's by more than the margin."""
    return walk.once(_matching_limit)


def _matching_limit(walk: Walk) -> Draft:
    match = _match(walk)
    found, points, base, note = match.found, match.points, match.base, match.note
    low, high = points[0][0], points[-1][0]
    if found.reach is Reach.ABOVE_RANGE or (found.setting is None and found.reach is not Reach.BELOW_RANGE):
        raise NotDetermined(f"no limit that was run reaches the score; the highest was {walk.point_name(high)}")
    if found.setting is None:
        raise NotDetermined(f"the lowest limit that was run, {walk.point_name(low)}, reaches the score already")
    open_ends = [name for name, is_open in (("low", found.low_open), ("high", found.high_open)) if is_open]
    if open_ends:
        note = "; ".join(
            part for part in (f"the interval ends at the {' and '.join(open_ends)} end of what was run", note) if part
        )
    interval = Interval(low=found.low, high=found.high, confidence_pct=walk.confidence_pct, method=INVERSE_METHOD)
    combined = Combined(contributions(match, found.setting))
    u = combined.standard_uncertainty
    return Draft(
        value=found.setting,
        combined=combined if u else None,
        standard_uncertainty=u or None,
        degrees_of_freedom=combined.degrees_of_freedom if u else None,
        no_budget="" if u else budget.FLAT_CURVE,
        interval=interval,
        repeatability_interval=interval,
        groups=run_groups(points, base),
        substitution=f"curve through {len(points)} limits from {walk.point_name(low)} to {walk.point_name(high)}, "
        f"target {budget.figure(base.value)}",
        reason=note,
    )


def matching_power_limit_watts(walk: Walk) -> Draft:
    """The matching power limit in watts of the card's stock board power."""
    found = matching_power_limit(walk)
    factor = walk.session.write_up.card.stock_board_power_w / 100
    stretched = shifted(found.interval, factor)
    return replace(
        found,
        value=found.value * factor,
        combined=found.combined.scaled(factor) if isinstance(found.combined, Combined) else None,
        standard_uncertainty=found.standard_uncertainty * factor if found.standard_uncertainty is not None else None,
        interval=stretched,
        repeatability_interval=stretched,
        substitution=f"{budget.figure(found.value)}\u00a0% × {budget.figure(factor * 100)}\u00a0W / 100",
    )
