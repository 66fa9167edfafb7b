"""The trade front: setpoints that no other one betters in both score and board power."""

import math

from benchgalley.metrology.front_chance import front_chance
from benchgalley.metrology.sample import NotDetermined
from benchgalley.records import units
from benchgalley.records.quantity import Quantity

from . import budget
from .budget import Draft
from .estimate import Estimate
from .estimating import estimate_at
from .session import Session

TRADE_FRONT = Quantity(
    key="trade-front", name="chance of lying on the trade front", unit=units.PERCENT,
    definition="Chance that no other setpoint of the write-up scores at least as much at no more board power, given "
    "the spread of runs; instrument errors shared by all setpoints do not bear on it.",
    formula="share of draws of the means in which no other setpoint is better in both",
    source="Propagation of distributions, JCGM 101:2008, 5.9, on a fixed sequence of 4096 points",
)  # fmt: skip

COLUMNS = ("score", "board_power_w")


def front_draft(session: Session, setpoint: str) -> Draft:
    """Chance, percent, that a setpoint lies on the trade front of its write-up.

    Raises
    ------
    NotDetermined
        The setpoint was not run twice with score and board power, or there is no other to compare with.
    """
    chances = session.kept.get(("front",))
    if not isinstance(chances, dict):
        chances = session.kept["front",] = _chances(session)
    if setpoint not in chances:
        estimate_at(session, setpoint, "score")
        estimate_at(session, setpoint, "board-power")
        raise NotDetermined(f"one run at {setpoint}: repeatability cannot be determined")
    if len(chances) < 2:
        raise NotDetermined("there is no other setpoint to compare with")
    pairs = [(name, estimate_at(session, name, "score")) for name in chances]
    return Draft(
        value=100 * chances[setpoint],
        groups=tuple((name, estimate.run_ids) for name, estimate in pairs),
        substitution=f"{len(pairs)} setpoints: "
        + ", ".join(
            f"{budget.figure(score.value)} at {budget.figure(estimate_at(session, name, 'board-power').value)}\u00a0W"
            for name, score in pairs
        ),
        decimals=0,
    )


def _chances(session: Session) -> dict[str, float]:
    """Setpoint → chance, for every setpoint with repeats of both readings."""
    found: list[tuple[str, Estimate, Estimate]] = []
    for name in session.setpoints:
        try:
            score, power = estimate_at(session, name, "score"), estimate_at(session, name, "board-power")
        except NotDetermined:
            continue
        if score.deviation is not None and power.deviation is not None:
            found.append((name, score, power))
    if not found:
        return {}
    # only the order matters, so values near overflow are brought into range first
    reach_w = max(abs(power.value) for _, _, power in found) or 1.0
    reach = max(abs(score.value) for _, score, _ in found) or 1.0
    sign = 1.0 if session.write_up.load.higher_is_better else -1.0
    chances = front_chance(
        [power.value / reach_w for _, _, power in found],
        [(power.deviation or 0.0) / reach_w / math.sqrt(power.count) for _, _, power in found],
        [sign * score.value / reach for _, score, _ in found],
        [(score.deviation or 0.0) / reach / math.sqrt(score.count) for _, score, _ in found],
        [float(min(score.count, power.count) - 1) for _, score, power in found],
        [sign * _correlation(score, power) for _, score, power in found],
    )
    return {name: chance for (name, *_), chance in zip(found, chances, strict=True)}


def _correlation(score: Estimate, power: Estimate) -> float:
    """Correlation of the two readings over the runs that have both; zero where there is no spread."""
    if not score.deviation or not power.deviation:
        return 0.0
    if score.run_ids == power.run_ids:
        if score.count < 3:
            return 0.0
        pairs = zip(score.deviations, power.deviations, strict=True)
        products = [first / score.deviation * (second / power.deviation) for first, second in pairs]
    else:
        drawn = dict(zip(power.run_ids, power.per_run, strict=True))
        both = [(v, drawn[run]) for run, v in zip(score.run_ids, score.per_run, strict=True) if run in drawn]
        if len(both) < 3:
            return 0.0
        products = [(s - score.value) / score.deviation * ((p - power.value) / power.deviation) for s, p in both]
    return max(-1.0, min(1.0, math.fsum(products) / (len(products) - 1)))
