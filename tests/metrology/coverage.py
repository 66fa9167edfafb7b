"""Synthetic sessions from a known truth, and how often the room's intervals hold it.

`coverage_table.py` lists the conditions; each is a function of (generator, sessions) that returns the share of
sessions in which the statement was right. Data are drawn for all sessions at once; the intervals are
those of the room, one session at a time.
"""

import math
from dataclasses import dataclass

import numpy as np

from benchgalley.metrology import propagation
from benchgalley.metrology.between_samples import next_run_interval, next_sample_interval
from benchgalley.metrology.by_parts import expanded_by_parts, half_widths
from benchgalley.metrology.comparison import paired_difference, welch_difference
from benchgalley.metrology.comparison_by_parts import (
    difference_by_parts,
    fieller_by_parts,
    mean_difference_by_parts,
    ratio_by_parts,
)
from benchgalley.metrology.distribution import normal_cdf
from benchgalley.metrology.distribution_free import median_interval
from benchgalley.metrology.drift import baseline_at, fit_drift
from benchgalley.metrology.mean_interval import mean_interval
from benchgalley.metrology.ratio_of_means import RatioShape
from benchgalley.metrology.repeatability import mean, pooled_standard_deviation, standard_deviation
from benchgalley.metrology.several_against_baseline import dunnett_critical
from benchgalley.metrology.sweep_fit import Reach, matching_setting
from benchgalley.metrology.tolerance import tolerance_at_least, tolerance_interval
from benchgalley.metrology.uncertainty import combine, expanded, gain_error

STOCK, TUNED = 300.0, 250.0
GAIN = 0.02
NUMBERS = (2, 3, 5, 10)


@dataclass(frozen=True)
class Condition:
    """One row of the table."""

    name: str
    claim: float
    """share claimed, as a fraction"""
    kind: str
    """"near": within 1 point; "least": at least, 1 point allowed; "most": at most; "short": a method the site
    does not use, shown for contrast: it falls short of the claim by more than a point"""
    share: object
    """function of (generator, sessions)"""
    draws: int = 1
    """sessions drawn for each that is asked for: more where all are computed at once"""


def holds(low, truth, high):
    return low <= truth <= high


def share_of(hits):
    return sum(hits) / len(hits)


def of_mean(n):
    def share(draw, sessions):
        runs = STOCK + 2 * draw.standard_normal((sessions, n))
        return share_of([holds(e.low, STOCK, e.high) for e in map(mean_interval, runs)])

    return share


def of_difference(n_a, n_b, spread_a, spread_b, compare=mean_difference_by_parts):
    def share(draw, sessions):
        a = TUNED + spread_a * draw.standard_normal((sessions, n_a))
        b = STOCK + spread_b * draw.standard_normal((sessions, n_b))
        return share_of(
            [holds(d.low, TUNED - STOCK, d.high) for d in (compare(x, y) for x, y in zip(a, b, strict=True))]
        )

    return share


def in_ratio(found, truth):
    """Is a ratio in Fieller's set?"""
    if found.shape is RatioShape.BOUNDED:
        return holds(found.low, truth, found.high)
    if found.shape is RatioShape.OUTSIDE:
        return truth <= found.low or truth >= found.high
    return True


def of_ratio(n_a, n_b, relative_a, relative_b):
    def share(draw, sessions):
        a = TUNED * (1 + relative_a * draw.standard_normal((sessions, n_a)))
        b = STOCK * (1 + relative_b * draw.standard_normal((sessions, n_b)))
        return share_of([in_ratio(ratio_by_parts(x, y), TUNED / STOCK) for x, y in zip(a, b, strict=True)])

    return share


def of_drift(n, corrected):
    """Baseline before and after, or before only; the setting in between; power falls 0.4 W a run."""

    def share(draw, sessions):
        first, middle, last = np.arange(n), n + np.arange(n), 2 * n + np.arange(n)
        position = np.concatenate([first, middle, last]).astype(float)
        runs = STOCK - 0.4 * position + draw.standard_normal((sessions, 3 * n))
        runs[:, n : 2 * n] += TUNED - STOCK
        hits = []
        for row in runs:
            if corrected:
                at = float(middle.mean())
                ends = np.r_[0:n, 2 * n : 3 * n]
                base = baseline_at(fit_drift(position[ends], row[ends]), at)
                tuned = mean_interval(row[n : 2 * n])
                found = difference_by_parts(
                    tuned.value, tuned.standard_error, tuned.degrees_of_freedom,
                    base.value, base.standard_error, base.degrees_of_freedom,
                )  # fmt: skip
            else:
                found = welch_difference(row[n : 2 * n], row[:n])
            hits.append(holds(found.low, TUNED - STOCK, found.high))
        return share_of(hits)

    return share


def of_blocks(n):
    """Baseline and setting run in pairs: drift is shared by both halves of a pair."""

    def share(draw, sessions):
        drift = -0.8 * np.arange(n)
        a = TUNED + drift + draw.standard_normal((sessions, n))
        b = STOCK + drift + draw.standard_normal((sessions, n))
        found = (paired_difference(x, y) for x, y in zip(a, b, strict=True))
        return share_of([holds(d.low, TUNED - STOCK, d.high) for d in found])

    return share


def of_shared_gain(n_a, n_b, relation, by_parts=True, spread=1.0):
    """One meter with a gain error within +- GAIN measures both settings; it enters as a named component."""

    def share(draw, sessions):
        gain = 1 + GAIN * draw.uniform(-1, 1, size=sessions)
        a = (TUNED + spread * draw.standard_normal((sessions, n_a))) * gain[:, None]
        b = (STOCK + 1.0 * draw.standard_normal((sessions, n_b))) * gain[:, None]
        hits = []
        for x, y in zip(a, b, strict=True):
            tuned, stock = mean(x), mean(y)
            runs_a, runs_b = standard_deviation(x) / math.sqrt(n_a), standard_deviation(y) / math.sqrt(n_b)
            if relation == "ratio":
                # the gain error cancels in the ratio: it is left out of both sides
                found = fieller_by_parts(tuned, [runs_a, 0.0], stock, [0.0, runs_b], [n_a - 1, n_b - 1])
                hits.append(in_ratio(found, TUNED / STOCK))
                continue
            of_tuned = {"runs tuned": runs_a, "gain": gain_error(tuned, GAIN)}
            of_stock = {"runs stock": runs_b, "gain": gain_error(stock, GAIN)}
            found = propagation.difference(stock, of_stock, tuned, of_tuned)
            nu = {"runs tuned": n_a - 1, "runs stock": n_b - 1, "gain": math.inf}
            parts, freedoms = list(found.contributions.values()), [nu[name] for name in found.contributions]
            if by_parts:
                half = expanded_by_parts(parts, freedoms).expanded_uncertainty
            else:
                whole = combine(parts, freedoms)
                half = expanded(whole.standard_uncertainty, whole.degrees_of_freedom).expanded_uncertainty
            hits.append(abs(found.value - (STOCK - TUNED)) <= half)
        return share_of(hits)

    return share


SETTINGS = np.array([50.0, 60.0, 70.0, 80.0, 90.0, 100.0])


def score_at(setting):
    """True power-scaling curve: concave, still rising at the top."""
    return 100 * (1 - np.exp(-setting / 32))


def of_matching(n, truth, spread=0.5, unequal=False, target_runs=0):
    """The setting at which the score is back at a separately measured target, of as many runs unless said otherwise."""
    of_target = target_runs or n

    def share(draw, sessions):
        spreads = spread * (np.array([1, 3, 1, 3, 1, 3]) if unequal else np.ones(SETTINGS.size))
        runs = score_at(SETTINGS)[:, None] + spreads[:, None] * draw.standard_normal((sessions, SETTINGS.size, n))
        target = score_at(truth) + spread * draw.standard_normal((sessions, of_target))
        means, errors = runs.mean(axis=2), runs.std(axis=2, ddof=1) / math.sqrt(n)
        target_mean, target_error = target.mean(axis=1), target.std(axis=1, ddof=1) / math.sqrt(of_target)
        freedom = np.full(SETTINGS.size, n - 1.0)
        hits = []
        for row in range(sessions):
            found = matching_setting(
                SETTINGS, means[row], errors[row], freedom, target_mean[row], target_error[row], of_target - 1
            )
            low = -math.inf if found.low is None or found.low_open else found.low
            high = math.inf if found.high is None or found.high_open else found.high
            # nothing but the range end left: the statement is "beyond this end", right when truth is not inside
            if found.low is None:
                low, high = (100.0, math.inf) if found.reach is Reach.ABOVE_RANGE else (-math.inf, 50.0)
            hits.append(holds(low, truth, high))
        return share_of(hits)

    return share


def of_tolerance(n, sides):
    def share(draw, sessions):
        cards = STOCK + 4 * draw.standard_normal((sessions, n))
        hits = []
        for row in cards:
            if sides == 1:
                bound = tolerance_at_least(row, 0.90)
                hits.append(1 - normal_cdf((bound - STOCK) / 4) >= 0.90)
            else:
                found = tolerance_interval(row, 0.90)
                hits.append(normal_cdf((found.high - STOCK) / 4) - normal_cdf((found.low - STOCK) / 4) >= 0.90)
        return share_of(hits)

    return share


def of_next_sample(k, single_run):
    def share(draw, sessions):
        runs = 4
        cards = STOCK + 3 * draw.standard_normal((sessions, k + 1))
        values = cards[:, :, None] + 2 * draw.standard_normal((sessions, k + 1, runs))
        hits = []
        for row in values:
            groups = list(row[:k])
            if single_run:
                found, seen = next_run_interval(groups), float(row[k, 0])
            else:
                found, seen = next_sample_interval(groups), float(row[k].mean())
            hits.append(holds(found.low, seen, found.high))
        return share_of(hits)

    return share


EDGE_DRAWS = 10


def of_edge(n_a, n_b, spread_a, spread_b, margin=100.0):
    """The true difference lies on the margin: how often equivalence is called shown.

    The margin is wide beside the spreads unless said otherwise: then only one of the two tests decides, the worst case.
    All sessions at once; `test_edge_is_decided_as_one_session_is` compares with `equivalence_by_parts`.
    """

    def share(draw, sessions):
        a = margin + spread_a * draw.standard_normal((EDGE_DRAWS * sessions, n_a))
        b = spread_b * draw.standard_normal((EDGE_DRAWS * sessions, n_b))
        return float(shown(a, b, margin).mean())

    return share


def shown(a, b, margin):
    """Row by row: the interval of 90 % lies within the margins."""
    errors = np.column_stack([x.std(axis=1, ddof=1) / math.sqrt(x.shape[1]) for x in (a, b)])
    half = half_widths(errors, np.array([a.shape[1] - 1.0, b.shape[1] - 1.0]), 0.90)
    difference = a.mean(axis=1) - b.mean(axis=1)
    return (difference - half > -margin) & (difference + half < margin)


def of_several(n):
    """All three true differences are zero; right when no adjusted interval excludes it."""
    factor = dunnett_critical([math.sqrt(0.5)] * 3, 4 * (n - 1))
    error = math.sqrt(2 / n)

    def share(draw, sessions):
        hits = []
        for row in draw.standard_normal((sessions, 4, n)):
            spread, _ = pooled_standard_deviation(list(row))
            means = [mean(group) for group in row]
            hits.append(all(abs(centre - means[0]) <= factor * spread * error for centre in means[1:]))
        return share_of(hits)

    return share


def of_median(n):
    def share(draw, sessions):
        runs = np.exp(draw.standard_normal((sessions, n)))
        return share_of([holds(i.low, 1.0, i.high) for i in map(median_interval, runs)])

    return share


def judged(condition, found, sessions, noise=0.0):
    """Is the share found within what is claimed? So many standard errors of the simulation are allowed on top.

    "At most" is a claim without a point of leeway, so two standard errors are allowed there in any case.
    """
    error = math.sqrt(condition.claim * (1 - condition.claim) / (sessions * condition.draws))
    if condition.kind == "short":
        return found < condition.claim - 0.01
    if condition.kind == "most":
        return found <= condition.claim + max(noise, 2) * error
    if condition.kind == "least":
        return found >= condition.claim - 0.01 - noise * error
    return abs(found - condition.claim) <= 0.01 + noise * error


WORDS = {"near": "95 % ± 1", "least": "at least 95 % - 1", "most": "at most 5 %", "short": "95 % (falls short)"}


def markdown(results, sessions):
    """The tables as Markdown."""
    lines = [
        f"Share of {sessions:,} simulated sessions a row in which the statement was right.".replace(",", " "),
        "For equivalence: share in which it was wrongly called shown, the true difference lying on the margin, of "
        + f"{EDGE_DRAWS * sessions:,} sessions.".replace(",", " "),
        "A share of 95 % has a standard error of 0.15 points here, one of 5 % in the rows on equivalence of 0.05.",
        "",
        *_rows([(c, found) for c, found in results if c.kind != "short"]),
        "",
        "For contrast, methods the site does not use:",
        "",
        *_rows([(c, found) for c, found in results if c.kind == "short"]),
    ]
    return "\n".join(lines) + "\n"


def _rows(results):
    head = ["| condition | wanted | found |", "| --- | --- | --- |"]
    return head + [f"| {c.name} | {WORDS[c.kind]} | {100 * found:.2f} % |" for c, found in results]
