"""Standard, combined and expanded uncertainty after JCGM 100:2008 (GUM)."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from .distribution import coverage_factor
from .sample import NotDetermined, Numbers, as_list, finite


@dataclass(frozen=True, kw_only=True, slots=True)
class Combined:
    """Combined standard uncertainty and its effective degrees of freedom."""

    standard_uncertainty: float
    """u_c, unit of the result"""
    degrees_of_freedom: float
    """nu_eff (Welch-Satterthwaite); infinite when every component is known exactly"""


@dataclass(frozen=True, kw_only=True, slots=True)
class Expanded:
    """Expanded uncertainty with what it was made from."""

    expanded_uncertainty: float
    """U = k u_c, unit of the result"""
    coverage_factor: float
    """k, the two-sided t factor"""
    degrees_of_freedom: float
    """degrees of freedom used for k"""
    confidence: float
    """level of confidence as a fraction"""


def combine(contributions: Numbers, degrees_of_freedom: Numbers | None = None) -> Combined:
    """Root sum of squares of contributions, with Welch-Satterthwaite degrees of freedom.

    Parameters
    ----------
    contributions : 1-D of float
        c_i u(x_i): standard uncertainties already multiplied by their sensitivity, unit of the result.
        Signs do not matter here.
    degrees_of_freedom : 1-D of float, optional
        One for each contribution, infinite for a type B value taken as known. All infinite when left out.

    Returns
    -------
    Combined
        u_c = sqrt(sum c_i^2 u_i^2), nu_eff = u_c^4 / sum(c_i^4 u_i^4 / nu_i).

    Raises
    ------
    NotDetermined
        No contribution, different lengths, or degrees of freedom not above zero.

    Notes
    -----
    JCGM 100:2008, 5.1.2 and G.4.1. nu_eff is not rounded here.

    Examples
    --------
    >>> c = combine([0.25, 0.57, 0.82], [9, 4, 14])
    >>> round(c.standard_uncertainty, 2), round(c.degrees_of_freedom, 1)
    (1.03, 19.0)
    """
    parts = as_list(contributions, noun="uncertainty component")
    if degrees_of_freedom is None:
        freedoms = [math.inf] * len(parts)
    else:
        freedoms = [float(nu) for nu in degrees_of_freedom]
    if len(freedoms) != len(parts):
        raise NotDetermined("each uncertainty component needs its degrees of freedom")
    if any(not nu > 0 for part, nu in zip(parts, freedoms, strict=True) if part):
        raise NotDetermined("an uncertainty component has no degrees of freedom")
    error, nu = effective(parts, freedoms)
    return Combined(standard_uncertainty=finite(error, "combined uncertainty"), degrees_of_freedom=nu)


def effective(parts: Sequence[float], freedoms: Sequence[float]) -> tuple[float, float]:
    """u_c and nu_eff of `combine` without its checks.

    Examples
    --------
    >>> effective([3.0, 4.0], [math.inf, math.inf])
    (5.0, inf)
    """
    largest = max(map(abs, parts))
    if largest == 0:
        return 0.0, math.inf
    shares = [(part / largest) ** 2 for part in parts]
    total = math.fsum(shares)
    # zero shares are left out: an unused component must not bring its degrees of freedom
    below = math.fsum([share * share / nu for share, nu in zip(shares, freedoms, strict=True) if share])
    return largest * math.sqrt(total), (total * total / below if below > 0 else math.inf)


def combine_named(
    contributions: Mapping[str, float], degrees_of_freedom: Mapping[str, float] | None = None
) -> Combined:
    """`combine` for named contributions; a name without degrees of freedom counts as known exactly.

    Parameters
    ----------
    contributions : mapping of name to float
        Signed contributions, unit of the result. Each name is one independent source.
    degrees_of_freedom : mapping of name to float, optional

    Raises
    ------
    NotDetermined
        As `combine`.

    Examples
    --------
    >>> combine_named({"repeatability": 3.0, "meter gain": -4.0}).standard_uncertainty
    5.0
    """
    freedoms = degrees_of_freedom or {}
    return combine(list(contributions.values()), [freedoms.get(name, math.inf) for name in contributions])


def expanded(
    standard_uncertainty: float,
    degrees_of_freedom: float,
    confidence: float = 0.95,
    *,
    truncate: bool = False,
) -> Expanded:
    """Expanded uncertainty U = k u_c.

    Parameters
    ----------
    standard_uncertainty : float
        u_c, not negative, any unit.
    degrees_of_freedom : float
        nu_eff, may be infinite.
    confidence : float
        Fraction.
    truncate : bool
        Truncate nu_eff to the next lower integer, as JCGM 100:2008, G.4.1 does for tables.

    Raises
    ------
    NotDetermined
        u_c negative or nu_eff not above zero (below one when truncating).

    Notes
    -----
    JCGM 100:2008, G.3.

    Examples
    --------
    >>> e = expanded(32.0, 16.7, 0.99, truncate=True)
    >>> round(e.coverage_factor, 2), round(e.expanded_uncertainty)
    (2.92, 93)
    """
    if not standard_uncertainty >= 0:
        raise NotDetermined("a standard uncertainty is not negative")
    nu = degrees_of_freedom
    if truncate and math.isfinite(nu):
        nu = float(math.floor(nu))
    factor = coverage_factor(confidence, nu)
    return Expanded(
        expanded_uncertainty=finite(factor * standard_uncertainty, "expanded uncertainty"),
        coverage_factor=factor,
        degrees_of_freedom=nu,
        confidence=confidence,
    )


def rectangular(half_width: float) -> float:
    """Standard uncertainty of a value known to lie within +- half_width: half_width / sqrt(3).

    Raises
    ------
    NotDetermined
        Negative or not finite.

    Notes
    -----
    JCGM 100:2008, 4.3.7.

    Examples
    --------
    >>> round(rectangular(1.0), 6)
    0.57735
    """
    return _not_negative(half_width, "half-width") / math.sqrt(3)


def triangular(half_width: float) -> float:
    """Standard uncertainty of a triangular distribution of +- half_width: half_width / sqrt(6).

    Notes
    -----
    JCGM 100:2008, 4.3.9.

    Examples
    --------
    >>> round(triangular(1.0), 6)
    0.408248
    """
    return _not_negative(half_width, "half-width") / math.sqrt(6)


def resolution(step: float) -> float:
    """Standard uncertainty from reading in steps: step / sqrt(12).

    Parameters
    ----------
    step : float
        Smallest change that shows, unit of the quantity.

    Notes
    -----
    JCGM 100:2008, F.2.2.1: 0.29 of the step.

    Examples
    --------
    >>> round(resolution(1.0), 3)
    0.289
    """
    return _not_negative(step, "resolution") / math.sqrt(12)


def gain_error(value: float, relative_limit: float) -> float:
    """Signed contribution of a gain error known within +- relative_limit, at a value.

    Parameters
    ----------
    value : float
        Reading, any unit.
    relative_limit : float
        Largest relative error as a fraction, 0.01 for 1 %.

    Returns
    -------
    float
        value * relative_limit / sqrt(3). It has the sign of the value, so that contributions of one
        instrument to several values add as they are correlated.

    Examples
    --------
    >>> round(gain_error(-300.0, 0.01), 4)
    -1.7321
    """
    return finite(value * _not_negative(relative_limit, "gain error") / math.sqrt(3), "gain error")


def standard_from_expanded(expanded_uncertainty: float, factor: float = 2.0) -> float:
    """Standard uncertainty behind a certificate's expanded uncertainty: U / k.

    Raises
    ------
    NotDetermined
        U negative or k not above zero.

    Notes
    -----
    JCGM 100:2008, 4.3.3.

    Examples
    --------
    >>> standard_from_expanded(0.5)
    0.25
    """
    if not factor > 0:
        raise NotDetermined("a coverage factor lies above zero")
    return _not_negative(expanded_uncertainty, "expanded uncertainty") / factor


def _not_negative(value: float, what: str) -> float:
    if not value >= 0 or math.isinf(value):
        raise NotDetermined(f"a {what} is a finite number that is not negative")
    return float(value)
