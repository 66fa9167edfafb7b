"""One statement laid before its number."""

from dataclasses import dataclass

from benchgalley.records.address import Address
from benchgalley.records.results import Number, Results
from benchgalley.records.write_up import Verdict

from .judgement import Judgement
from .mentions import NumberMention
from .vocabulary import Bound

DIFFERENCES = frozenset({"change", "change-percent", "saved", "saved-percent"})
SIGNED_QUANTITIES = frozenset(
    {
        "fan-sound-change",
        "voltage-offset",
        "core-offset",
        "memory-offset",
        "deepest-completed",
        "first-failed",
    }
)
"""Differences from stock by themselves: "130 mV below stock" states −130 mV."""
PRICED = frozenset({"run-energy", "energy-per-score", "running-energy", "running-cost", "run-time"})
"""What something costs: "a run costs 19 kJ" states no difference."""
LOWER_BOUNDS = frozenset({Bound.AT_LEAST, Bound.MORE_THAN})


@dataclass(frozen=True, kw_only=True, slots=True)
class Case:
    """One statement before its number."""

    stated: str
    mention: NumberMention
    address: Address
    number: Number
    results: Results
    scope: str
    """The write-up it stands in."""
    baseline: str
    """Name of the baseline setpoint of the address's write-up; empty when unknown."""
    hedge_share_pct: float
    in_table: bool
    labelled: bool
    """Whether the sentence calls its figures an estimate, or none of them is one."""
    margin: float | None = None
    """Declared margin of equivalence of the quantity, in percent or its unit."""

    def told(self, verdict: Verdict, message: str, mend: str = "", word: str = "") -> Judgement:
        """A judgement that begins with the address."""
        return Judgement(
            verdict=verdict, message=f"{self.address.within(self.scope)}: {message}", mend=mend,
            computed=self.number.printed.text, word=word,
        )  # fmt: skip


def is_difference(address: Address) -> bool:
    return address.relation in DIFFERENCES | {"equivalent"} or (
        not address.relation and address.quantity in SIGNED_QUANTITIES
    )
