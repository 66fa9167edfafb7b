"""For each file of published cases the function that computes its figures with the room's own functions."""

from .figures_of_comparisons import geometric, numerics, ratio, rounding, several, tost, trade, two_sample
from .figures_of_samples import (
    anova,
    binomial,
    components,
    gum,
    inverse,
    linear,
    monotone,
    poisson,
    quantiles,
    steady,
    tolerance_normal,
    univariate,
    wilks,
)

COMPUTE = {
    "binomial_exact.json": binomial,
    "geometric_mean.json": geometric,
    "gum_uncertainty.json": gum,
    "inverse_prediction.json": inverse,
    "monotone.json": monotone,
    "multiple_comparison.json": several,
    "nist_strd/anova.json": anova,
    "nist_strd/linear.json": linear,
    "nist_strd/univariate.json": univariate,
    "numerics.json": numerics,
    "physics_trade.json": trade,
    "poisson_exact.json": poisson,
    "quantiles.json": quantiles,
    "ratio_of_means.json": ratio,
    "rounding.json": rounding,
    "steady_state.json": steady,
    "tolerance_nonparametric.json": wilks,
    "tolerance_normal.json": tolerance_normal,
    "tost.json": tost,
    "two_sample.json": two_sample,
    "variance_components.json": components,
}
