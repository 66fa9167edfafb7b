"""A setpoint that was run once, with the spread of the others: for planning only."""

from benchgalley.metrology.sample import NotDetermined
from benchgalley.records.quantity import Quantity

from .allowance import pooled_spread
from .budget import REPEATABILITY, Term, figure
from .estimate import Estimate
from .estimating import estimate_at
from .session import Session

FEWEST_BORROWED = 4
"""Degrees of freedom from which other setpoints lend their spread to one that was run once (rule of thumb, ours)."""


def with_borrowed_spread(session: Session, quantity: Quantity, setpoint: str) -> Estimate:
    """Estimate at a setpoint; one that was run once takes the spread pooled over the others, where they agree in it.

    At least two other setpoints must have been run repeatedly, with spreads of one size and four degrees of freedom
    between them (ISO 5725-2, 7.4.5.1: one repeatability for all); one alone could not show that they agree. For
    planning only: one run of a setpoint supports no statement about it.

    Raises
    ------
    NotDetermined
        As `estimate_at`.
    """
    found = estimate_at(session, setpoint, quantity.key)
    if found.deviation is not None:
        return found
    spreads: list[tuple[float, int]] = []
    for other in session.write_up.setpoints:
        try:
            estimate = estimate_at(session, other, quantity.key)
        except NotDetermined:
            continue
        if estimate.deviation is not None:
            spreads.append((estimate.deviation, estimate.count - 1))
    pooled = pooled_spread(spreads)
    if pooled is None or len(spreads) < 2 or pooled[1] < FEWEST_BORROWED:
        return found
    deviation, freedom = pooled
    note = f"one run at {found.group}: its repeatability is that of {len(spreads)} other setpoints together"
    term = Term(
        f"repeatability of {quantity.name} at {found.group}", REPEATABILITY, deviation, float(freedom),
        f"one run at {found.group}, s = {figure(deviation)} pooled over {len(spreads)} other setpoints",
    )  # fmt: skip
    return found.with_terms([term], f"{note} ({freedom} degrees of freedom)")
