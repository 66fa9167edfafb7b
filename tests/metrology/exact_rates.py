"""How often intervals and one-sided tests err, by quadrature instead of simulation.

For two independent sources of normal error the share B = nu_a C_a / (nu_a C_a + nu_b C_b) of the chi-squares follows a
beta distribution and is independent of their sum (Johnson, Kotz and Balakrishnan, Continuous Univariate
Distributions 2 (1995), chapter 25; from memory), so given B the statistic is Student's with
nu_a + nu_b degrees of freedom and one integral over B is left. The half-widths are those of the room.
"""

import math

import numpy as np
from scipy import special

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(1200)
_HALF = (_NODES + 1) / 2
# points crowd at both ends, where the share of one side vanishes
PROBABILITIES = _HALF * _HALF * (3 - 2 * _HALF)
WEIGHTS = _WEIGHTS / 2 * 6 * _HALF * (1 - _HALF)


def miss(half_widths, nu_a, nu_b, share):
    """Chance that |error| exceeds the half-width; `share` of the variance belongs to a; nu_b may be infinite.

    `half_widths` takes (contributions, one row a case; degrees of freedom) and gives half-widths.
    """
    if math.isinf(nu_b):
        chi_a = special.chdtri(nu_a, 1 - PROBABILITIES) / nu_a
        parts = np.sqrt(np.column_stack([share * chi_a, np.full(chi_a.size, 1 - share)]))
        return float(WEIGHTS @ (2 * special.ndtr(-half_widths(parts, np.array([nu_a, nu_b])))))
    beta, total = special.betaincinv(nu_a / 2, nu_b / 2, PROBABILITIES), nu_a + nu_b
    parts = np.sqrt(np.column_stack([share * beta * total / nu_a, (1 - share) * (1 - beta) * total / nu_b]))
    return float(WEIGHTS @ (2 * special.stdtr(total, -half_widths(parts, np.array([nu_a, nu_b])))))


def shares(count):
    """Shares of variance from 0.03 % to 99.97 %, closest at the ends."""
    ends = np.logspace(-3.5, math.log10(0.5), count // 2)
    return np.concatenate([ends, 1 - ends[::-1]])


def worst_miss(half_widths, nu_a, nu_b, count):
    """Largest `miss` over the shares of variance."""
    return max(miss(half_widths, nu_a, nu_b, share) for share in shares(count))
