"""How many samples were run at a setpoint, and what share of all cards may manage it."""

from collections.abc import Callable

from benchgalley.metrology.between_samples import share_managing
from benchgalley.metrology.sample import NotDetermined
from benchgalley.metrology.stability import failure_share_at_least
from benchgalley.records import units
from benchgalley.records.quantity import Quantity
from benchgalley.records.results import Interval
from benchgalley.records.units import Unit

from .budget import EXACT_COUNT, Draft
from .sample_runs import Pool

SAMPLE_COUNT = Unit(symbol="samples", ucum="{sample}", dimension=units.RUNS.dimension)
"""Counts of samples; the same dimension as runs, so that "3 samples" reads either way."""

SAMPLES = Quantity(
    key="samples", name="samples", unit=SAMPLE_COUNT,
    definition="Samples of a card model that were run at a setpoint.", formula="n", source="Counted",
)  # fmt: skip
MANAGES = Quantity(
    key="manages", name="share of samples that manage a setting", unit=units.PERCENT,
    definition="Samples at which every run completed, in percent of the samples that were run there; the interval is "
    "about all cards of the model.",
    formula="100 × samples without a failed run / samples", source="Clopper and Pearson, Biometrika 26 (1934) 404-413",
)  # fmt: skip


def count_samples(found: Pool) -> Draft:
    """Samples with at least one run at the setpoint."""
    tried = _tried(found)
    return Draft(value=float(len(tried)), exact=True, groups=lambda: _run_groups(found), reason=found.left_out_note)


def manages(found: Pool) -> Draft:
    """Percent of samples at which every run completed, with the exact interval."""
    tried = _tried(found)
    managed = sum(tried.values())
    limits = share_managing(managed, len(tried), found.confidence_pct / 100)
    interval = Interval(
        low=100 * limits.low, high=100 * limits.high, confidence_pct=found.confidence_pct,
        method="exact binomial (Clopper-Pearson)",
    )  # fmt: skip
    return Draft(
        value=100 * managed / len(tried),
        interval=interval,
        repeatability_interval=interval,
        groups=lambda: _run_groups(found),
        substitution=f"100 × {managed} / {len(tried)}",
        no_budget=EXACT_COUNT,
        reason=found.left_out_note,
    )


def manages_at_least(found: Pool) -> Draft:
    """One-sided exact lower bound of the share of cards that manage the setting."""
    tried = _tried(found)
    managed = sum(tried.values())
    bound = 100 * failure_share_at_least(managed, len(tried), found.confidence_pct / 100)
    return Draft(
        value=bound,
        interval=Interval(
            low=bound, high=None, confidence_pct=found.confidence_pct, method="exact binomial (Clopper-Pearson)"
        ),
        groups=lambda: _run_groups(found),
        substitution=f"{managed} of {len(tried)} samples",
        no_budget=EXACT_COUNT,
        reason=found.left_out_note,
        spread_for_printing=bound or None,
    )


def _tried(found: Pool) -> dict[str, bool]:
    """Sample → whether every run completed, for samples with at least one run."""
    tried: dict[str, bool] = {}
    for name, sessions in found.by_sample().items():
        groups = [session.setpoints[found.setpoint] for session in sessions]
        if any(group.trials for group in groups):
            tried[name] = all(len(group.trials) == len(group.counted) for group in groups)
    if not tried:
        raise NotDetermined(f"no sample was run at {found.setpoint}")
    return tried


def _run_groups(found: Pool) -> tuple[tuple[str, tuple[str, ...]], ...]:
    return tuple(
        (f"sample {name}", tuple(t.id for s in sessions for t in s.setpoints[found.setpoint].trials))
        for name, sessions in found.by_sample().items()
    )


PoolLine = tuple[Quantity, str, Callable[[Pool], Draft], str]

POOL_LINES: tuple[PoolLine, ...] = (
    (SAMPLES, "", count_samples, "samples of {card} run at {setpoint}"),
    (MANAGES, "", manages, "share of samples of {card} that manage {setpoint}"),
    (MANAGES, "at-least", manages_at_least, "lower bound of the share of {card} cards that manage {setpoint}"),
)
"""Numbers about the samples themselves, in the order tables show them."""
