"""Relations of a setpoint to the baseline, and what a mean says of itself: spread, runs, bounds."""

from collections.abc import Callable
from dataclasses import dataclass

from benchgalley.metrology.comparison_by_parts import equivalence_by_parts
from benchgalley.metrology.sample import NotDetermined
from benchgalley.records import units
from benchgalley.records.quantity import Quantity
from benchgalley.records.results import Equivalence, Interval
from benchgalley.records.units import Unit

from . import budget, expanding
from .budget import Draft
from .estimating import with_unit
from .pair_sheet import FROM_RUNS
from .pairs import Pair, PairBudget
from .relating import (
    bound_draft,
    difference_draft,
    difference_unit,
    limits_said,
    mean_draft,
    relative_draft,
)
from .sheet import NO_SPREAD


@dataclass(frozen=True, kw_only=True, slots=True)
class Relation:
    """One relation: everything said of it stands in its line of the table."""

    key: str
    """As in addresses; empty for the mean itself."""
    words: str
    """Name in words, with {quantity}, {setpoint} and {baseline}."""
    compute: Callable[[Pair], Draft]
    unit_of: Callable[[Quantity], Unit]
    against_baseline: bool
    """Whether it needs the baseline, and so does not exist at the baseline itself."""
    definition: str
    formula: str
    source: str
    direction: int = 1
    """1: good news as for the quantity, -1: turned round, 0: neither good nor bad."""


def the_mean(both: Pair) -> Draft:
    """Mean with its expanded uncertainty."""
    return mean_draft(both)


def of_baseline(both: Pair) -> Draft:
    """100 · setpoint / baseline."""
    return relative_draft(both, "of-baseline", "100 × {at} / {base}")


def change(both: Pair) -> Draft:
    """Setpoint less baseline."""
    return difference_draft(both, "change")


def change_percent(both: Pair) -> Draft:
    """100 · (setpoint - baseline) / baseline."""
    return relative_draft(both, "change-percent", "100 × ({at} \u2212 {base}) / {base}")


def saved(both: Pair) -> Draft:
    """Baseline less setpoint."""
    return difference_draft(both, "saved")


def saved_percent(both: Pair) -> Draft:
    """100 · (baseline - setpoint) / baseline."""
    return relative_draft(both, "saved-percent", "100 × ({base} \u2212 {at}) / {base}")


def ratio(both: Pair) -> Draft:
    """Setpoint over baseline."""
    return relative_draft(both, "ratio", "{at} / {base}")


def spread(both: Pair) -> Draft:
    """Repeatability standard deviation with its chi-square interval."""
    at = both.at
    if at.deviation is None:
        # also where others lend their spread: that is not what was seen here
        raise NotDetermined(f"one run at {at.group}: repeatability cannot be determined")
    cell = both.cell("spread")
    interval = both.interval(cell, budget.CHI_SQUARE_METHOD)
    return Draft(
        value=cell.value,
        interval=interval,
        repeatability_interval=interval,
        groups=both.groups,
        substitution=lambda: f"√(Σ(x \u2212 {both.at_text})² / {at.count - 1})",
        degrees_of_freedom=cell.degrees_of_freedom,
        no_budget=budget.CHI_SQUARE_SPREAD if interval is not None else "",
        reason="" if at.deviation > 0 else f"all {at.count} runs gave the same value",
        decimals=lambda: at.typed_decimals,
        # two digits of the spread itself: its interval is far too wide to govern them
        spread_for_printing=at.deviation,
    )


def runs(both: Pair) -> Draft:
    """Number of completed runs that have a value."""
    return Draft(value=both.cell("runs").value, groups=both.groups, exact=True, substitution=str(both.at.count))


def at_most(both: Pair) -> Draft:
    """One-sided upper bound of the mean."""
    return bound_draft(both, "at-most")


def at_least(both: Pair) -> Draft:
    """One-sided lower bound of the mean."""
    return bound_draft(both, "at-least")


def equivalent(both: Pair) -> Draft:
    """Two one-sided tests of the change against the margin declared in the front matter."""
    key, name = both.quantity.key, both.quantity.name
    margin = both.session.write_up.margins.by_quantity.get(key)
    if margin is None:
        raise NotDetermined(f"no margin declared for {name}")
    if not both.repeated:
        raise NotDetermined(both.single_run_note)
    size, in_percent = margin
    relation, cancelled = ("change-percent", budget.GAIN) if in_percent else ("change", budget.OFFSET)
    unit = units.PERCENT if in_percent else difference_unit(both.quantity)
    cell = both.cell(relation)
    value, u, dof = cell.value, cell.standard_uncertainty, cell.degrees_of_freedom
    if not u > 0:
        raise NotDetermined(NO_SPREAD)
    terms = both.parts(relation)
    parts, freedoms = zip(*terms, strict=True)
    found = equivalence_by_parts(value, parts, freedoms, -size, size, 1 - both.confidence_pct / 100)
    pct = 100 - 2 * (100 - both.confidence_pct)
    repeats = expanding.pieces_from(terms[:FROM_RUNS])
    return Draft(
        value=value,
        combined=PairBudget(both, relation),
        standard_uncertainty=u,
        degrees_of_freedom=dof,
        interval=Interval(low=found.low, high=found.high, confidence_pct=pct, method=EQUIVALENCE_METHOD),
        repeatability_interval=expanding.around(value, repeats, both.confidence_pct, repeats_only=True),
        groups=both.groups,
        substitution=lambda: f"margin ±{with_unit(budget.figure(size), unit)}, p = {found.p:.2g}",
        reason=lambda: limits_said(both, cancelled),
        finding=Equivalence(found.decision.value),
    )


EQUIVALENCE_METHOD = "two one-sided t tests: the interval must lie within the margin"

DIFFERENCE_SOURCE = (
    "Welch, Biometrika 34 (1947) 28-35; Banerjee, Sankhya 22 (1960) 357-358; JCGM 100:2008, 5.2 and G.4.1"
)

RELATIONS: tuple[Relation, ...] = (
    Relation(
        key="", words="{quantity} at {setpoint}", compute=the_mean, unit_of=lambda q: q.unit,
        against_baseline=False, definition="Mean over completed runs that are not excluded.", formula="Σx / n",
        source="JCGM 100:2008, 4.2; expanded uncertainty 6.2 and G.4.1",
    ),
    Relation(
        key="of-baseline", words="{quantity} at {setpoint} in percent of {baseline}", compute=of_baseline,
        unit_of=lambda q: units.PERCENT, against_baseline=True, definition="Percent of baseline.",
        formula="100 × setpoint / baseline", source="Fieller, J. R. Stat. Soc. B 16 (1954) 175-185",
    ),
    Relation(
        key="change", words="change of {quantity} from {baseline} to {setpoint}", compute=change,
        unit_of=lambda q: difference_unit(q), against_baseline=True, definition="Setpoint less baseline.",
        formula="setpoint \u2212 baseline", source=DIFFERENCE_SOURCE,
    ),
    Relation(
        key="change-percent", words="change of {quantity} from {baseline} to {setpoint} in percent of {baseline}",
        compute=change_percent, unit_of=lambda q: units.PERCENT, against_baseline=True,
        definition="Setpoint less baseline, in percent of baseline.",
        formula="100 × (setpoint \u2212 baseline) / baseline", source="Fieller, J. R. Stat. Soc. B 16 (1954) 175-185",
    ),
    Relation(
        key="saved", words="{quantity} saved by {setpoint} against {baseline}", compute=saved,
        unit_of=lambda q: difference_unit(q), against_baseline=True, definition="Baseline less setpoint.",
        formula="baseline \u2212 setpoint", source=DIFFERENCE_SOURCE,
        direction=-1,
    ),
    Relation(
        key="saved-percent", words="{quantity} saved by {setpoint} in percent of {baseline}", compute=saved_percent,
        unit_of=lambda q: units.PERCENT, against_baseline=True,
        definition="Baseline less setpoint, in percent of baseline.",
        formula="100 × (baseline \u2212 setpoint) / baseline", source="Fieller, J. R. Stat. Soc. B 16 (1954) 175-185",
        direction=-1,
    ),
    Relation(
        key="ratio", words="{quantity} at {setpoint} over that at {baseline}", compute=ratio,
        unit_of=lambda q: units.RATIO, against_baseline=True, definition="Setpoint divided by baseline.",
        formula="setpoint / baseline", source="Fieller, J. R. Stat. Soc. B 16 (1954) 175-185",
    ),
    Relation(
        key="spread", words="run-to-run spread of {quantity} at {setpoint}", compute=spread,
        unit_of=lambda q: difference_unit(q), against_baseline=False,
        definition="Repeatability standard deviation of single runs, divisor n - 1.",
        formula="√(Σ(x \u2212 mean)² / (n \u2212 1))",
        source="VIM 2.21; JCGM 100:2008, 4.2.2; interval by chi-square, NIST/SEMATECH e-Handbook 1.3.5.8",
        direction=0,
    ),
    Relation(
        key="runs", words="completed runs at {setpoint} with {quantity}", compute=runs, unit_of=lambda q: units.RUNS,
        against_baseline=False, definition="Number of completed runs that enter the mean.", formula="n",
        source="Counted", direction=0,
    ),
    Relation(
        key="at-most", words="upper bound of {quantity} at {setpoint}", compute=at_most, unit_of=lambda q: q.unit,
        against_baseline=False, definition="One-sided upper bound of the mean at the site's confidence.",
        formula="mean + t u", source="JCGM 100:2008, G.3; one-sided t",
    ),
    Relation(
        key="at-least", words="lower bound of {quantity} at {setpoint}", compute=at_least, unit_of=lambda q: q.unit,
        against_baseline=False, definition="One-sided lower bound of the mean at the site's confidence.",
        formula="mean \u2212 t u", source="JCGM 100:2008, G.3; one-sided t",
    ),
    Relation(
        key="equivalent", words="{quantity} at {setpoint} the same as at {baseline}", compute=equivalent,
        unit_of=lambda q: difference_unit(q), against_baseline=True,
        definition="Whether setpoint and baseline are equal within the margin that was declared before.",
        formula="setpoint \u2212 baseline, within ± margin",
        source="Two one-sided tests: Schuirmann, J. Pharmacokinet. Biopharm. 15 (1987) 657-680; "
        "half-width: Banerjee, Sankhya 22 (1960) 357-358",
    ),
)  # fmt: skip
"""In the order tables show them."""

RELATION_BY_KEY = {relation.key: relation for relation in RELATIONS}
