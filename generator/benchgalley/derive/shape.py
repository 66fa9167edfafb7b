"""What the runs of a setpoint look like where a mean hides it: two groups, a long tail."""

import math
from collections.abc import Sequence

from benchgalley.metrology.distribution_free import skewness, two_groups
from benchgalley.metrology.sample import NotDetermined

from . import budget

FEWEST_FOR_SHAPE = 8
"""Runs from which the shape of their distribution is spoken of (rule of thumb, ours)."""

FEWEST_ON_A_SIDE = 3
"""Runs in the smaller group: two that lie apart are as easily chance (rule of thumb, ours)."""

STEPS_APART = 5
"""Steps of the last digit typed that two groups lie apart at least: neighbouring readings of a coarse sensor are no
groups (rule of thumb, ours)."""


def shape_said(per_run: Sequence[float], decimals: int | None) -> str:
    """One sentence where runs fall in two groups or are skewed; empty otherwise."""
    if len(per_run) < FEWEST_FOR_SHAPE:
        return ""
    try:
        step = 0.0 if decimals is None else 10.0**-decimals
        if (split := two_groups(per_run, least_side=FEWEST_ON_A_SIDE)) is not None and split.gap > STEPS_APART * step:
            lower, upper = _figure(split.lower_mean, decimals), _figure(split.upper_mean, decimals)
            return (
                f"the runs fall in two groups, {split.lower_count} about {lower} and {split.upper_count} about "
                f"{upper}: the mean describes neither"
            )
        # twice the standard error of the skewness of normal runs, sqrt(6/n)
        if abs(skewness(per_run)) > 2 * math.sqrt(6 / len(per_run)):
            return "the runs are skewed: see the median beside the mean"
    except NotDetermined:
        return ""
    return ""


def _figure(value: float, decimals: int | None) -> str:
    return budget.figure(value) if decimals is None else f"{value:.{decimals}f}".replace("-", "\u2212")
