"""The room's door: every rule over one write-up, in the order pages show what they find."""

from collections.abc import Callable, Iterable
from dataclasses import replace

from ..records.findings import Caveat, Hazard
from ..records.results import Results
from ..records.site import Site, Warnings
from ..records.write_up import Claim, WriteUp
from . import channels, conditions, hazards, logs, order, protocol, repeats, selection, settings, stability
from .context import Context, look
from .wording import sentence, tied

Rule = Callable[[Context], Iterable[Caveat]]
HazardRule = Callable[[Context], Iterable[Hazard]]

RULES: tuple[Rule, ...] = (
    *protocol.RULES,
    *repeats.RULES,
    *order.RULES,
    *selection.RULES,
    *conditions.RULES,
    *channels.RULES,
    *logs.RULES,
    *stability.RULES,
    *settings.RULES,
)

HAZARD_RULES: tuple[HazardRule, ...] = hazards.RULES


def examine(write_up: WriteUp, site: Site, results: Results, claims: tuple[Claim, ...]) -> Warnings:
    """Every caveat and hazard note the data of a write-up call for.

    Parameters
    ----------
    write_up : WriteUp
        One of the site's.
    site : Site
        For the other samples, and for data the prose draws on from elsewhere.
    results : Results
        Where numbers are looked up; only those a rule needs are computed.
    claims : tuple of Claim
        The write-up's claims as judged: which addresses the prose states.

    Returns
    -------
    Warnings
        Caveats in the order of the rules, each code at most once. `Caveat.addresses` are written as inside
        the write-up (`Address.within`); one that ends in `/` stands for everything below it.
    """
    context = look(write_up, site, results, claims)
    return Warnings(
        caveats=tuple(_tied_caveat(caveat) for rule in RULES for caveat in rule(context)),
        hazards=tuple(_tied_hazard(hazard) for rule in HAZARD_RULES for hazard in rule(context)),
    )


def _tied_caveat(caveat: Caveat) -> Caveat:
    return replace(
        caveat,
        title=tied(caveat.title),
        missing=sentence(tied(caveat.missing)),
        effect=tied(caveat.effect),
        remedy=tied(caveat.remedy),
    )


def _tied_hazard(hazard: Hazard) -> Hazard:
    return replace(
        hazard,
        source=tied(hazard.source),
        consequence=tied(hazard.consequence),
        avoidance=tied(hazard.avoidance),
    )
