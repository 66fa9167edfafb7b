"""Estimates at a setpoint or over any group of runs: value, repeats, instrument limits, sensitivities."""

from collections.abc import Mapping
from functools import partial

from benchgalley.metrology.column_statistics import deviation_of
from benchgalley.metrology.sample import NotDetermined
from benchgalley.records.quantity import BY_COLUMN
from benchgalley.records.site import Running
from benchgalley.records.units import Unit

from . import budget
from .at_setpoint import DERIVED_BY_KEY, MEASURED_BY_KEY, Derivation, Readings, columns_needed
from .estimate import Estimate, row_of
from .runs import Runs
from .session import Group, Session, channel, column_estimate, instrument_row, why_empty

_STEP = 1e-30
"""Imaginary step of the complex-step derivative; far below the real part, so nothing is subtracted."""


def estimate_group(session: Session, group: Group, key: str) -> Estimate:
    """Estimate of a quantity over a group of runs, kept for the next question.

    Raises
    ------
    NotDetermined
        No run to take it from, or arithmetic without a result; the reason is fit for a page.
    """
    if (found := group.estimates.get(key)) is None:
        try:
            found = _estimate(session, group, key)
        except NotDetermined as problem:
            found = problem.reason
        group.estimates[key] = found
    if isinstance(found, str):
        raise NotDetermined(found)
    return found


def estimate_at(session: Session, setpoint: str, key: str) -> Estimate:
    """Estimate of a quantity at a setpoint; see `estimate_group`."""
    return estimate_group(session, session.setpoints[setpoint], key)


def _estimate(session: Session, group: Group, key: str) -> Estimate | str:
    if not session.columns.issuperset(needed := columns_needed(key)):
        missing = [BY_COLUMN[column].name for column in needed if column not in session.columns]
        return f"no run of this write-up recorded {' or '.join(missing)}"
    if (measured := MEASURED_BY_KEY.get(key)) is not None:
        return column_estimate(session, group, measured.column)
    return _derived_estimate(session, group, DERIVED_BY_KEY[key])


def _derived_estimate(session: Session, group: Group, derivation: Derivation) -> Estimate | str:
    """Value, per-run influence and error terms of a derived quantity, to first order (JCGM 100:2008, 5.1.2).

    Readings of one run are linked (a run that draws more power scores more), so repeatability comes from
    the runs' own linearised values and not from the spreads of the readings one by one.
    """
    name = derivation.quantity.name
    if derivation.counts_work and not session.write_up.load.higher_is_better:
        return f"a lower score is better with this load, so {name} has no meaning"
    needs = derivation.needs
    runs = group.runs_with(needs)
    if not runs.trials:
        return why_empty(group, name)
    means = {column: runs.mean(column) for column in needs}
    value, sensitivities = _value_and_sensitivities(derivation, means, session.site.settings.running)
    deviations = _linearised(runs, needs, sensitivities)
    deviation = deviation_of(deviations, value) if len(runs.trials) > 1 else None
    # what rounding leaves of readings that never changed is no spread
    if deviation is not None and deviation <= 1e-15 * abs(value):
        deviation = 0.0
    channels = tuple([channel(session, column) for column in needs])
    shared, steps = instrument_row(channels, means.values(), sensitivities.values(), runs, deviation == 0)
    return Estimate(
        value=value,
        group=group.name,
        quantity=name,
        runs=runs,
        deviations=deviations,
        deviation=deviation,
        channels=channels,
        row=row_of(value, deviation, len(runs.trials), shared, steps),
        working_of=partial(_working, session, derivation, means),
    )


def _linearised(runs: Runs, needs: tuple[str, ...], sensitivities: Mapping[str, float]) -> list[float]:
    """Deviation of each run's value from that of the means, to first order."""
    found = [0.0] * len(runs.trials)
    for column in needs:
        slope = sensitivities[column]
        found = [sum_ + slope * own for sum_, own in zip(found, runs.column(column).deviations, strict=True)]
    return found


def _value_and_sensitivities(
    derivation: Derivation, means: Mapping[str, float], running: Running | None
) -> tuple[float, dict[str, float]]:
    """The value and its partial derivatives by the complex step (Squire and Trapp, SIAM Rev. 40 (1998) 110-112)."""
    slopes: dict[str, float] = {}
    value = 0.0
    shifted: dict[str, complex] = dict(means)
    readings, compute = Readings(shifted, running), derivation.compute
    try:
        for column, centre in means.items():
            step = _STEP * max(abs(centre), 1.0)
            shifted[column] = complex(centre, step)
            found = complex(compute(readings))
            shifted[column] = centre
            value, slopes[column] = found.real, found.imag / step
    except ZeroDivisionError:
        raise NotDetermined("the value below the fraction is zero") from None
    except OverflowError:
        raise NotDetermined("the values are too large to compute with") from None
    if not all(abs(number) < 1e300 for number in (value, *slopes.values())):
        raise NotDetermined("the values are too large to compute with")
    return value, slopes


def _working(session: Session, derivation: Derivation, means: Mapping[str, float]) -> str:
    running = session.site.settings.running
    figures = {c: with_unit(budget.figure(means[c]), column_unit(session, c)) for c in derivation.needs}
    if running is not None:
        figures["hours_a_year"] = f"{budget.figure(running.hours_a_day * running.days_a_year)}\u00a0h"
        figures["tariff_per_kwh"] = f"{budget.figure(running.tariff_per_kwh)}\u00a0{running.currency.symbol}/kW\u00a0h"
    return derivation.working.replace(" - ", " \u2212 ").format(**figures)


def column_unit(session: Session, column: str) -> Unit:
    """Unit of a measured column in this write-up."""
    return session.write_up.load.score_unit if column == "score" else BY_COLUMN[column].unit


def with_unit(text: str, unit: Unit) -> str:
    """Digits and unit with a no-break space."""
    return f"{text}\u00a0{unit.symbol}" if unit.symbol else text
