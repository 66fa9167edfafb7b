"""What a sweep or walk of one setting gives: matching limit, score at matched power, best score per watt."""

from dataclasses import replace
from typing import NamedTuple

from benchgalley.metrology.choice import best_of_many
from benchgalley.metrology.sample import NotDetermined
from benchgalley.records import units
from benchgalley.records.quantity import Quantity
from benchgalley.records.results import Interval

from . import budget, expanding
from .at_setpoint import quantity_of
from .budget import Draft
from .combining import Combined
from .estimate import Estimate, say_unknown
from .estimating import estimate_group
from .matched_power import score_at_matched_power
from .matching_limit import matching_power_limit, matching_power_limit_watts
from .sequence_runs import (
    SWEEPS,
    SequenceLine,
    Walk,
    repeat_errors,
    run_groups,
)

BEST_METHOD = "settings that cannot be told from the best (multiple comparisons with the best)"


class Best(NamedTuple):
    """The best setting of a sequence in score per watt."""

    setting: float
    estimate: Estimate
    candidates: list[float]
    """Settings that may be the best as well."""
    draft: Draft
    """Of the score per watt there."""


def _best(walk: Walk) -> Best:
    points = walk.measured_points("score-per-watt")
    failed = {value for value, group in walk.points if len(group.trials) > len(group.counted)}
    whole = tuple((value, e) for value, e in points if value not in failed)
    if not whole:
        raise NotDetermined("at every setting a run failed, so none is called best")
    estimates = tuple(e for _, e in whole)
    place, names = max(range(len(whole)), key=lambda i: estimates[i].value), []
    candidates = [whole[place][0]]
    notes = [f"{len(points) - len(whole)} settings with a failed run are left out"] if len(whole) < len(points) else []
    if len(whole) > 1:
        try:
            errors = repeat_errors(estimates)
            found = best_of_many(
                [e.value for e in estimates], errors.errors, errors.freedoms, walk.confidence_pct / 100
            )
            place = found.index
            candidates = [whole[i][0] for i in found.candidates]
            names = [estimates[i].group for i in found.candidates if i != place]
            notes += [errors.note] if errors.note else []
        except NotDetermined as problem:
            notes.append(f"what else may be best cannot be told: {problem.reason}")
            candidates = [value for value, _ in whole]
    if names:
        notes.insert(0, f"cannot be told from {_listed(names)}")
    best = estimates[place]
    combined = Combined(best.terms)
    u, dof = combined.standard_uncertainty, combined.degrees_of_freedom
    repeated = best.deviation is not None
    draft = Draft(
        value=best.value,
        combined=combined,
        standard_uncertainty=u or None,
        degrees_of_freedom=dof if u else None,
        interval=expanding.two_sided(best.value, combined, walk.confidence_pct) if repeated else None,
        repeatability_interval=expanding.two_sided(
            best.value, combined, walk.confidence_pct, repeats_only=True
        ) if repeated else None,
        groups=run_groups(whole),
        substitution=f"greatest of {len(whole)}: {best.working} at {best.group}",
        reason="; ".join(note for note in (*notes, say_unknown(best.unknown)) if note),
    )  # fmt: skip
    return Best(whole[place][0], best, candidates, draft)


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def best_score_per_watt(walk: Walk) -> Draft:
    """Greatest score per watt among the settings at which every run completed."""
    return walk.once(_best).draft


def best_score_per_watt_setting(walk: Walk) -> Draft:
    """The setting of the greatest score per watt; its interval spans the settings that may be it as well."""
    value, best, candidates, draft = walk.once(_best)
    interval = None
    if len(candidates) > 1:
        interval = Interval(
            low=min(candidates), high=max(candidates), confidence_pct=walk.confidence_pct, method=BEST_METHOD
        )
    return Draft(
        value=value,
        interval=interval,
        repeatability_interval=interval,
        groups=draft.groups,
        substitution=f"{budget.figure(best.value)} at {best.group}",
        reason=draft.reason,
        no_budget=budget.CANDIDATES if interval is not None else "",
        exact=True,
    )


def lowest_run(walk: Walk) -> Draft:
    """Lowest setting that was run."""
    return _end(walk, 0)


def highest_run(walk: Walk) -> Draft:
    """Highest setting that was run."""
    return _end(walk, -1)


def _end(walk: Walk, place: int) -> Draft:
    if not walk.points:
        raise NotDetermined(f"no run belongs to {walk.label}")
    value, group = walk.points[place]
    return Draft(value=value, exact=True, groups=((group.name, tuple(t.id for t in group.trials)),))


def point_estimate(walk: Walk, setting: float, key: str) -> Estimate:
    """Estimate of a quantity at one setting of a sequence that was run."""
    for value, group in walk.points:
        if value == setting:
            return estimate_group(walk.session, group, key)
    raise NotDetermined(f"{walk.label} was not run at {walk.point_name(setting)}")


def _score_unit(walk: Walk) -> units.Unit:
    return walk.session.write_up.load.score_unit


def _per_watt_unit(walk: Walk) -> units.Unit:
    found = quantity_of(walk.session, "score-per-watt")
    return found.unit if found is not None else units.ONE


CURVE_SOURCE = "Monotone curve: isotonic regression, then Fritsch and Carlson, SIAM J. Numer. Anal. 17 (1980) 238-246; "
MATCHING = Quantity(
    key="matching-power-limit", name="matching power limit", unit=units.PERCENT,
    definition="Lowest power limit at which the score is not below the baseline's by more than the declared margin, "
    "read from a monotone curve through the limits that were run, never beyond them.",
    formula="lowest limit with curve(limit) ≥ baseline score \u2212 margin",
    source=CURVE_SOURCE + "interval by inversion of a test, after Fieller, J. R. Stat. Soc. B 16 (1954) 175-185",
)  # fmt: skip

SWEEP_LINES: tuple[SequenceLine, ...] = (
    SequenceLine(
        quantity=Quantity(
            key="lowest-setting", name="lowest setting run", unit=units.PERCENT,
            definition="Lowest setting of the sequence that was run.", formula="min", source="As set",
        ),
        compute=lowest_run, words="lowest setting of {sequence}", kinds=SWEEPS, unit_of=lambda w: w.unit,
    ),
    SequenceLine(
        quantity=Quantity(
            key="highest-setting", name="highest setting run", unit=units.PERCENT,
            definition="Highest setting of the sequence that was run.", formula="max", source="As set",
        ),
        compute=highest_run, words="highest setting of {sequence}", kinds=SWEEPS, unit_of=lambda w: w.unit,
    ),
    SequenceLine(
        quantity=MATCHING, compute=matching_power_limit, words="matching power limit of {sequence}", kinds=SWEEPS,
        setting="power_limit_pct", columns=("score",), higher_is_better=False,
    ),
    SequenceLine(
        quantity=replace(
            MATCHING, key="matching-power-limit-watts", name="matching power limit in watts", unit=units.WATT,
            definition="Matching power limit times the card's stock board power.",
            formula="matching power limit × stock board power / 100",
        ),
        compute=matching_power_limit_watts, words="matching power limit of {sequence} in watts", kinds=SWEEPS,
        setting="power_limit_pct", columns=("score",), higher_is_better=False,
    ),
    SequenceLine(
        quantity=Quantity(
            key="score-at-matched-power", name="score at matched power", unit=units.score_unit("points"),
            definition="Score where the sequence draws as much board power as the baseline, read from the monotone "
            "curve of score against board power, never beyond what was run.",
            formula="curve(board power of baseline)",
            source=CURVE_SOURCE + "uncertainty by linear propagation, JCGM 100:2008, 5.1.2",
        ),
        compute=score_at_matched_power, words="score of {sequence} at the baseline's board power", kinds=SWEEPS,
        columns=("score", "board_power_w"), unit_of=_score_unit,
    ),
    SequenceLine(
        quantity=Quantity(
            key="best-score-per-watt", name="best score per watt",
            unit=units.per(units.score_unit("points"), units.WATT),
            definition="Greatest mean score per watt among the settings at which every run completed.",
            formula="max(score / board power)",
            source="Multiple comparisons with the best: Hsu, Ann. Stat. 9 (1981) 1026-1034",
        ),
        compute=best_score_per_watt, words="best score per watt of {sequence}", kinds=SWEEPS,
        columns=("score", "board_power_w"), unit_of=_per_watt_unit, counts_work=True, higher_is_better=True,
    ),
    SequenceLine(
        quantity=Quantity(
            key="best-score-per-watt-setting", name="setting of the best score per watt", unit=units.PERCENT,
            definition="Setting with the greatest mean score per watt; the interval spans the settings that cannot be "
            "told from it.",
            formula="argmax(score / board power)",
            source="Multiple comparisons with the best: Hsu, Ann. Stat. 9 (1981) 1026-1034",
        ),
        compute=best_score_per_watt_setting, words="setting of {sequence} with the best score per watt", kinds=SWEEPS,
        columns=("score", "board_power_w"), unit_of=lambda w: w.unit, counts_work=True,
    ),
)  # fmt: skip
"""In the order tables show them."""
