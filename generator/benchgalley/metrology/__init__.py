"""The numbers: floats and one-dimensional arrays in, floats and small records out.

Only numpy and scipy are used here; nothing is read, written or printed. Every function returns
finite numbers or raises `NotDetermined` with a reason fit for a page (degrees of freedom alone may
be infinite). Names are gathered here flat, except `propagation` and `physics`, whose short names
read best behind the module's: ``propagation.ratio``, ``physics.energy_kwh``.
"""

from __future__ import annotations

from . import physics, propagation
from .agreement import (
    StatedInterval,
    agrees,
    agrees_with_range,
    hedged_interval,
    last_digit_unit,
    last_nonzero_digit_unit,
    not_above,
    not_below,
    rounding_interval,
    widened,
)
from .averages import (
    geometric_mean,
    geometric_mean_interval,
    harmonic_mean,
    median,
    quantile,
    ratio_of_totals,
    share_of_mean,
)
from .between_samples import (
    model_mean_interval,
    next_run_interval,
    next_sample_interval,
    share_managing,
)
from .by_parts import (
    Piece,
    expanded_by_parts,
    half_width,
    half_widths,
    one_sided,
    pieces_of,
    tail_by_parts,
)
from .choice import (
    Best,
    TradeFront,
    best_of_many,
    trade_front,
    trade_front_chance,
)
from .comparison import (
    Difference,
    difference_from_reference,
    difference_from_statistics,
    lower_bound,
    paired_difference,
    pooled_difference,
    pooled_difference_from_statistics,
    two_sided,
    upper_bound,
    welch_degrees_of_freedom,
    welch_difference,
)
from .comparison_by_parts import (
    difference_by_parts,
    equivalence_by_parts,
    fieller_by_parts,
    mean_difference_by_parts,
    ratio_by_parts,
)
from .curve import (
    Curve,
    Sensitivities,
    isotonic,
    monotone_curve,
    pchip_slopes,
    sensitivities,
)
from .distribution import (
    beta_quantile,
    binomial_cdf,
    chi2_quantile,
    chi2_tail,
    chi2_upper_quantile,
    coverage_factor,
    f_tail,
    f_upper_quantile,
    gamma_quantile,
    noncentral_t_quantile,
    normal_cdf,
    normal_quantile,
    poisson_cdf,
    t_cdf,
    t_quantile,
    t_tail,
    t_two_sided_p,
)
from .distribution_free import (
    Fences,
    MedianInterval,
    Split,
    median_interval,
    median_ranks,
    quartile_fences,
    skewness,
    two_groups,
)
from .drift import (
    Drift,
    baseline_at,
    drift_correction,
    fit_drift,
    rank_correlation,
    ranks,
)
from .equivalence import (
    Decision,
    Equivalence,
    equivalence,
    equivalence_of,
)
from .mean_interval import (
    deviation_interval,
    mean_interval,
    mean_interval_from_statistics,
    standard_error,
)
from .planning import (
    MOST_RUNS,
    detectable_difference,
    more_needed,
    runs_for_difference_half_width,
    runs_for_half_width,
    runs_to_settle_equivalence,
    runs_to_show_difference,
)
from .ratio_of_means import (
    Ratio,
    RatioShape,
    fieller_ratio,
    paired_ratio,
    ratio_of_means,
)
from .readings import (
    Independence,
    Quantisation,
    autocorrelation,
    effective_readings,
    longest_repeat,
    quantisation_step,
    repeated_share,
)
from .repeatability import (
    exact_sum,
    lag1_autocorrelation,
    mean,
    pooled_standard_deviation,
    spread_range,
    standard_deviation,
)
from .rounding import (
    Decimalish,
    Ties,
    as_decimal,
    round_significant,
    round_to_place,
    round_to_step,
    round_uncertainty,
    round_with_uncertainty,
    uncertainty_place,
)
from .sample import (
    LARGEST,
    Array,
    Estimate,
    Interval,
    NotDetermined,
    Numbers,
)
from .several_against_baseline import (
    AdjustedComparison,
    dunnett,
    dunnett_critical,
    dunnett_from_statistics,
    dunnett_tail,
    holm,
)
from .stability import (
    exposure_needed,
    failure_rate_at_least,
    failure_rate_at_most,
    failure_rate_interval,
    failure_share_at_least,
    failure_share_at_most,
    failure_share_interval,
    runs_needed,
    wilks_confidence,
    wilks_runs,
    zero_failure_bound,
)
from .steady_state import (
    ChangePoint,
    Truncation,
    change_point,
    mser,
    steady_share,
)
from .straight_line import (
    InversePrediction,
    Line,
    fit_line,
    inverse_prediction,
)
from .sweep_fit import (
    MatchingSetting,
    Reach,
    crossing,
    matching_setting,
    value_at_setting,
)
from .time_series import (
    LogSummary,
    RunningLog,
    cumulative_integral,
    integral,
    time_weighted_mean,
    window_integral,
    window_mean,
)
from .tolerance import (
    one_sided_factor,
    tolerance_at_least,
    tolerance_at_most,
    tolerance_interval,
    two_sided_factor,
    two_sided_factor_howe,
)
from .uncertainty import (
    Combined,
    Expanded,
    combine,
    combine_named,
    expanded,
    gain_error,
    rectangular,
    resolution,
    standard_from_expanded,
    triangular,
)
from .variance_components import (
    OneWay,
    one_way,
    one_way_from_statistics,
    reproducibility_limit,
)
from .window_figures import (
    WindowFigures,
    window_figures,
)

# packed, so that the list of names stays within one screen
# fmt: off
__all__ = [
    "LARGEST", "MOST_RUNS", "AdjustedComparison", "Array", "Best", "ChangePoint", "Combined", "Curve",
    "Decimalish", "Decision", "Difference", "Drift", "Equivalence", "Estimate", "Expanded", "Fences",
    "Independence", "Interval", "InversePrediction", "Line", "LogSummary", "MatchingSetting",
    "MedianInterval", "NotDetermined", "Numbers", "OneWay", "Piece", "Quantisation", "Ratio",
    "RatioShape", "Reach", "RunningLog", "Sensitivities", "Split", "StatedInterval", "Ties",
    "TradeFront", "Truncation", "WindowFigures", "agrees", "agrees_with_range", "as_decimal",
    "autocorrelation", "baseline_at", "best_of_many", "beta_quantile", "binomial_cdf", "change_point",
    "chi2_quantile", "chi2_tail", "chi2_upper_quantile", "combine", "combine_named", "coverage_factor",
    "crossing", "cumulative_integral", "detectable_difference", "deviation_interval",
    "difference_by_parts", "difference_from_reference", "difference_from_statistics",
    "drift_correction", "dunnett", "dunnett_critical", "dunnett_from_statistics", "dunnett_tail",
    "effective_readings", "equivalence", "equivalence_by_parts", "equivalence_of", "exact_sum",
    "expanded", "expanded_by_parts", "exposure_needed", "f_tail", "f_upper_quantile",
    "failure_rate_at_least", "failure_rate_at_most", "failure_rate_interval", "failure_share_at_least",
    "failure_share_at_most", "failure_share_interval", "fieller_by_parts", "fieller_ratio", "fit_drift",
    "fit_line", "gain_error", "gamma_quantile", "geometric_mean", "geometric_mean_interval",
    "half_width", "half_widths", "harmonic_mean", "hedged_interval", "holm", "integral",
    "inverse_prediction", "isotonic", "lag1_autocorrelation", "last_digit_unit",
    "last_nonzero_digit_unit", "longest_repeat", "lower_bound", "matching_setting", "mean",
    "mean_difference_by_parts", "mean_interval", "mean_interval_from_statistics", "median",
    "median_interval", "median_ranks", "model_mean_interval", "monotone_curve", "more_needed", "mser",
    "next_run_interval", "next_sample_interval", "noncentral_t_quantile", "normal_cdf",
    "normal_quantile", "not_above", "not_below", "one_sided", "one_sided_factor", "one_way",
    "one_way_from_statistics", "paired_difference", "paired_ratio", "pchip_slopes", "physics",
    "pieces_of", "poisson_cdf", "pooled_difference", "pooled_difference_from_statistics",
    "pooled_standard_deviation", "propagation", "quantile", "quantisation_step", "quartile_fences",
    "rank_correlation", "ranks", "ratio_by_parts", "ratio_of_means", "ratio_of_totals", "rectangular",
    "repeated_share", "reproducibility_limit", "resolution", "round_significant", "round_to_place",
    "round_to_step", "round_uncertainty", "round_with_uncertainty", "rounding_interval",
    "runs_for_difference_half_width", "runs_for_half_width", "runs_needed",
    "runs_to_settle_equivalence", "runs_to_show_difference", "sensitivities", "share_managing",
    "share_of_mean", "skewness", "spread_range", "standard_deviation", "standard_error",
    "standard_from_expanded", "steady_share", "t_cdf", "t_quantile", "t_tail", "t_two_sided_p",
    "tail_by_parts", "time_weighted_mean", "tolerance_at_least", "tolerance_at_most",
    "tolerance_interval", "trade_front", "trade_front_chance", "triangular", "two_groups", "two_sided",
    "two_sided_factor", "two_sided_factor_howe", "uncertainty_place", "upper_bound", "value_at_setting",
    "welch_degrees_of_freedom", "welch_difference", "widened", "wilks_confidence", "wilks_runs",
    "window_figures", "window_integral", "window_mean", "zero_failure_bound",
]
# fmt: on
