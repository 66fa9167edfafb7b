"""The methods section of a write-up: what was used for the numbers it states, and on what grounds."""

from collections.abc import Iterable
from dataclasses import dataclass

from markupsafe import Markup

from benchgalley.records.results import Number
from benchgalley.records.write_up import WriteUp

from .assumptions import ASSUMPTIONS
from .edition import Edition
from .formulae import FORMULAE, Formula, as_mathml
from .run_evidence import evidence, sessions


@dataclass(frozen=True, kw_only=True, slots=True)
class FormulaUsed:
    """A formula with the numbers of the page it was used for."""

    formula: Formula
    mathml: Markup
    count: int
    """How many of the stated numbers."""
    example: str
    """Address of the first of them."""


@dataclass(frozen=True, kw_only=True, slots=True)
class AssumptionChecked:
    """An assumption with what the runs say of it."""

    says: str
    verdict: str
    """`held`, `doubtful`, `partly tested` or `not tested`."""
    found: str
    formulae: tuple[str, ...]
    """Titles of the formulae that rest on it."""


@dataclass(frozen=True, kw_only=True, slots=True)
class MethodsUsed:
    """Ready for the template."""

    formulae: tuple[FormulaUsed, ...]
    assumptions: tuple[AssumptionChecked, ...]
    sessions: int | None
    """None: not every run has a start time."""
    samples: int
    """Samples of the card whose runs the stated numbers use."""


def methods_used(edition: Edition, write_up: WriteUp, stated: Iterable[Number]) -> MethodsUsed:
    """What stands behind the numbers a write-up states, and nothing else."""
    numbers = tuple(n for n in stated if n.value is not None and not n.exact)
    asked = [(formula, [n for n in numbers if formula.used(n)]) for formula in FORMULAE]
    used = [(formula, fed) for formula, fed in asked if fed]
    checked = []
    for assumption in ASSUMPTIONS:
        resting = [(formula, fed) for formula, fed in used if assumption.key in formula.assumes]
        if resting:
            fed = dict.fromkeys(id(n) for _, group in resting for n in group)
            found = evidence(edition, write_up, (n for n in numbers if id(n) in fed))
            verdict, words = assumption.check(found)
            checked.append(
                AssumptionChecked(
                    says=assumption.says,
                    verdict=verdict,
                    found=words,
                    formulae=tuple(formula.title for formula, _ in resting),
                )
            )
    return MethodsUsed(
        formulae=tuple(
            FormulaUsed(
                formula=f, mathml=as_mathml(f.latex), count=len(fed), example=fed[0].address.within(write_up.slug)
            )
            for f, fed in used
        ),
        assumptions=tuple(checked),
        sessions=sessions(t for t in write_up.trials if t.counts),
        samples=_samples_used(edition, write_up, numbers),
    )


def _samples_used(edition: Edition, write_up: WriteUp, numbers: Iterable[Number]) -> int:
    scopes = {n.address.scope for n in numbers} | {write_up.slug}
    if write_up.card.id in scopes:
        return len({w.sample.id for w in edition.write_ups_of(write_up.card.id)})
    return len({w.sample.id for w in edition.write_ups_of(write_up.card.id) if w.slug in scopes})
