"""Named contributions carried through sums, differences, products and quotients.

A quantity is a value and a plain dict ``name -> signed contribution`` (standard
uncertainty times sensitivity, unit of the value). Each name is one source of error.
Two quantities that share a name share that source: their contributions add with sign
before anything is squared. A gain error of one meter thus cancels in a ratio and stays
in a difference, with no covariance to be typed in. Sources that are independent (the
repeats of two setpoints) must carry different names.

JCGM 100:2008, 5.1.3 and F.1.2.3.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from .sample import NotDetermined, finite

Contributions = Mapping[str, float]


@dataclass(frozen=True, kw_only=True, slots=True)
class Propagated:
    """A result with its contributions still apart."""

    value: float
    """value of the result"""
    contributions: dict[str, float]
    """signed contribution of each named source, unit of the result"""


def relative_to_absolute(value: float, relative: Contributions) -> dict[str, float]:
    """Relative contributions (fractions) as absolute ones, with the sign of the value.

    Examples
    --------
    >>> relative_to_absolute(200.0, {"meter gain": 0.01})
    {'meter gain': 2.0}
    """
    return {name: finite(value * share, f"contribution of {name}") for name, share in relative.items()}


def linear(
    coefficients: Sequence[float], values: Sequence[float], contributions: Sequence[Contributions]
) -> Propagated:
    """Linear combination sum c_i x_i.

    Parameters
    ----------
    coefficients : sequence of float
        Sensitivity coefficients c_i.
    values : sequence of float
        x_i, same length.
    contributions : sequence of mapping
        Contributions of each x_i, unit of x_i.

    Returns
    -------
    Propagated
        Contribution of a name: sum c_i u_i(name), with sign.

    Raises
    ------
    NotDetermined
        Different lengths or overflow.

    Examples
    --------
    >>> linear([0.5, 0.5], [10.0, 20.0], [{"gain": 0.1}, {"gain": 0.2, "b": 0.4}]).contributions
    {'gain': 0.15000000000000002, 'b': 0.2}
    """
    if not len(coefficients) == len(values) == len(contributions):
        raise NotDetermined("each value needs its coefficient and its contributions")
    merged: dict[str, list[float]] = {}
    for coefficient, named in zip(coefficients, contributions, strict=True):
        for name, part in named.items():
            merged.setdefault(name, []).append(coefficient * part)
    total = _sum([c * x for c, x in zip(coefficients, values, strict=True)], "result")
    return Propagated(
        value=total,
        contributions={name: _sum(parts, f"contribution of {name}") for name, parts in merged.items()},
    )


def _sum(parts: Sequence[float], what: str) -> float:
    # an exact sum does not add infinities of opposite sign
    return finite(math.fsum(finite(part, what) for part in parts), what)


def difference(
    value_a: float, contributions_a: Contributions, value_b: float, contributions_b: Contributions
) -> Propagated:
    """a - b.

    Examples
    --------
    >>> difference(300.0, {"gain": 3.0, "runs a": 1.0}, 250.0, {"gain": 2.5, "runs b": 1.0}).contributions
    {'gain': 0.5, 'runs a': 1.0, 'runs b': -1.0}
    """
    return linear((1.0, -1.0), (value_a, value_b), (contributions_a, contributions_b))


def total(values: Sequence[float], contributions: Sequence[Contributions]) -> Propagated:
    """Sum of quantities.

    Examples
    --------
    >>> total([1.0, 2.0], [{"offset": 0.1}, {"offset": 0.1}]).contributions
    {'offset': 0.2}
    """
    return linear([1.0] * len(values), values, contributions)


def scaled(value: float, contributions: Contributions, factor: float) -> Propagated:
    """Quantity times a number known exactly (a unit conversion, hours of use).

    Examples
    --------
    >>> scaled(41.0, {"runs": 1.0}, 2.0)
    Propagated(value=82.0, contributions={'runs': 2.0})
    """
    return linear((factor,), (value,), (contributions,))


def product(
    value_a: float, contributions_a: Contributions, value_b: float, contributions_b: Contributions
) -> Propagated:
    """a b, first order.

    Examples
    --------
    >>> product(2.0, {"a": 0.1}, 5.0, {"b": 0.2}).contributions
    {'a': 0.5, 'b': 0.4}
    """
    merged = linear((value_b, value_a), (0.0, 0.0), (contributions_a, contributions_b))
    return Propagated(value=finite(value_a * value_b, "product"), contributions=merged.contributions)


def ratio(value_a: float, contributions_a: Contributions, value_b: float, contributions_b: Contributions) -> Propagated:
    """a / b, first order, in which a shared relative error cancels exactly.

    Parameters
    ----------
    value_a, value_b : float
        Numerator and denominator.
    contributions_a, contributions_b : mapping
        Signed absolute contributions in their units.

    Returns
    -------
    Propagated
        Contribution of a name: (u_a - r u_b) / b.

    Raises
    ------
    NotDetermined
        The denominator is zero, or overflow.

    Notes
    -----
    A difference that is rounding of two equal relative errors counts as zero, so that a
    cancelled source reads 0 in the budget and not 1e-18. For a denominator not well above
    zero use `fieller_ratio`; the first-order form is too narrow there.

    Examples
    --------
    >>> ratio(240.0, {"gain": 2.4, "runs a": 1.2}, 300.0, {"gain": 3.0}).contributions
    {'gain': 0.0, 'runs a': 0.004}
    """
    if value_b == 0:
        raise NotDetermined("the value below the fraction is zero")
    quotient = finite(value_a / value_b, "ratio")
    merged: dict[str, float] = {}
    for name in dict.fromkeys((*contributions_a, *contributions_b)):
        above = contributions_a.get(name, 0.0) / value_b
        below = quotient * (contributions_b.get(name, 0.0) / value_b)
        part = above - below
        if abs(part) <= 8 * sys.float_info.epsilon * max(abs(above), abs(below)):
            part = 0.0
        merged[name] = finite(part, f"contribution of {name}")
    return Propagated(value=quotient, contributions=merged)


quotient = ratio


def percent_of(
    value_a: float, contributions_a: Contributions, value_b: float, contributions_b: Contributions
) -> Propagated:
    """a in percent of b: 100 a / b.

    Examples
    --------
    >>> percent_of(240.0, {}, 300.0, {}).value
    80.0
    """
    share = ratio(value_a, contributions_a, value_b, contributions_b)
    return Propagated(
        value=finite(100 * value_a / value_b, "percentage"),
        contributions={
            name: finite(100 * part, f"contribution of {name}") for name, part in share.contributions.items()
        },
    )


def percent_change(
    value_a: float, contributions_a: Contributions, value_b: float, contributions_b: Contributions
) -> Propagated:
    """Change from b to a in percent of b: 100 (a - b) / b. Its contributions are those of `percent_of`.

    Examples
    --------
    >>> percent_change(240.0, {}, 300.0, {}).value
    -20.0
    """
    share = percent_of(value_a, contributions_a, value_b, contributions_b)
    return Propagated(
        value=finite(100 * ((value_a - value_b) / value_b), "percentage"), contributions=share.contributions
    )


def power(value: float, contributions: Contributions, exponent: float) -> Propagated:
    """x to a known exponent, first order: contribution exponent x^(exponent-1) u.

    Raises
    ------
    NotDetermined
        x is not above zero.

    Examples
    --------
    >>> power(3.0, {"v": 0.1}, 2.0)
    Propagated(value=9.0, contributions={'v': 0.6000000000000001})
    """
    if not value > 0:
        raise NotDetermined("a power is only taken of a value above zero")
    try:
        sensitivity, result = exponent * value ** (exponent - 1), value**exponent
    except OverflowError:
        raise NotDetermined("the power is too large or undefined") from None
    return Propagated(
        value=finite(result, "power"),
        contributions={
            name: finite(sensitivity * part, f"contribution of {name}") for name, part in contributions.items()
        },
    )


def shared_covariance(contributions_a: Contributions, contributions_b: Contributions) -> float:
    """Covariance of two quantities through the sources they share: sum of products, same names.

    Examples
    --------
    >>> shared_covariance({"gain": 3.0, "runs a": 1.0}, {"gain": 2.0, "runs b": 1.0})
    6.0
    """
    return math.fsum(part * contributions_b[name] for name, part in contributions_a.items() if name in contributions_b)
