"""Published figures of samples and models, from the inputs of a case alone."""

import math
from decimal import Decimal

from benchgalley.metrology import propagation
from benchgalley.metrology.between_samples import model_mean_interval
from benchgalley.metrology.curve import isotonic, monotone_curve, pchip_slopes
from benchgalley.metrology.distribution import (
    chi2_quantile,
    chi2_upper_quantile,
    coverage_factor,
    f_tail,
    f_upper_quantile,
    noncentral_t_quantile,
    normal_quantile,
    t_quantile,
)
from benchgalley.metrology.repeatability import (
    lag1_autocorrelation,
    mean,
    pooled_standard_deviation,
    standard_deviation,
)
from benchgalley.metrology.stability import (
    failure_rate_at_least,
    failure_rate_at_most,
    failure_rate_interval,
    failure_share_at_least,
    failure_share_at_most,
    failure_share_interval,
    wilks_confidence,
    wilks_runs,
    zero_failure_bound,
)
from benchgalley.metrology.steady_state import change_point, mser
from benchgalley.metrology.straight_line import fit_line, inverse_prediction
from benchgalley.metrology.tolerance import one_sided_factor, two_sided_factor, two_sided_factor_howe
from benchgalley.metrology.uncertainty import combine, expanded
from benchgalley.metrology.variance_components import one_way, one_way_from_statistics, reproducibility_limit

from .published import column, rows


def univariate(case):
    values = column(f"nist_strd/{case['inputs']['data_csv']}", "y")
    return {
        "mean": mean(values),
        "sd": standard_deviation(values),
        "lag1_autocorrelation": lag1_autocorrelation(values),
    }


def _simon_lesage(given):
    """SmLs data as the generator in the file states: decimal text, then to the nearest float."""
    repeats = (given["n_per_group"] - 1) // 2
    step = Decimal("0.1")
    groups = []
    for text in given["generator"]["centres"]:
        centre = Decimal(text)
        groups.append([float(centre)] + [float(centre - step), float(centre + step)] * repeats)
    return groups


def anova(case):
    given = case["inputs"]
    if "data_csv" in given:
        table = rows(f"nist_strd/{given['data_csv']}")
        label, value = list(table[0])[:2]
        groups = {}
        for row in table:
            groups.setdefault(row[label], []).append(float(row[value]))
        groups = list(groups.values())
    else:
        groups = _simon_lesage(given)
    assert len(groups) == given["k"] and sum(map(len, groups)) == given["N"]
    found = one_way(groups)
    return {
        "df_between": found.df_between,
        "ss_between": found.ss_between,
        "ms_between": found.ms_between,
        "F": found.f,
        "df_within": found.df_within,
        "ss_within": found.ss_within,
        "ms_within": found.ms_within,
        "r_squared": found.r_squared,
        "residual_sd": found.repeatability,
    }


def linear(case):
    given = case["inputs"]
    name = f"nist_strd/{given['data_csv']}"
    line = fit_line(column(name, "x"), column(name, "y"), intercept=given["intercept"])
    both = given["intercept"]
    return {
        "coefficients": [line.intercept, line.slope] if both else [line.slope],
        "coefficient_sd": [line.intercept_error, line.slope_error] if both else [line.slope_error],
        "residual_sd": line.residual_deviation,
        "r_squared": line.r_squared,
        "F": line.f,
    }


def quantiles(case):
    given = case["inputs"]
    kind = given["dist"]
    if "two_sided_fraction" in given and kind == "t":
        return {"t_p": [coverage_factor(p, given["nu"]) for p in given["two_sided_fraction"]]}
    if kind == "t":
        return {"q": t_quantile(1 - given["upper_tail"], given["nu"])}
    if kind == "F":
        return {"q": f_upper_quantile(given["upper_tail"], given["dfn"], given["dfd"])}
    if kind == "chi2" and "upper_tail" in given:
        return {"q": chi2_upper_quantile(given["upper_tail"], given["nu"])}
    if kind == "chi2":
        return {"q": chi2_quantile(given["lower_tail"], given["nu"])}
    return {"q": coverage_factor(given["two_sided_fraction"], math.inf)}


def binomial(case):
    given = case["inputs"]
    k, n, confidence = given["k"], given.get("n"), given["conf"]
    if isinstance(k, list):
        # the figure for no event is one-sided, the others two-sided (note of the case)
        limits = [failure_rate_interval(count, 1.0, confidence).high for count in k]
        return {"approx_multiplier": [failure_rate_at_most(0, 1.0, confidence), *limits[1:]]}
    if isinstance(n, list):
        return {"exact_upper_percent": [100 * zero_failure_bound(runs, confidence) for runs in n]}
    if n is None:
        return {"multiplier": -math.log1p(-confidence)}
    both = failure_share_interval(k, n, confidence)
    if given.get("sides") == 2:
        return {"lower": both.low, "upper": both.high, "estimate": k / n}
    upper, lower = failure_share_at_most(k, n, confidence), failure_share_at_least(k, n, confidence)
    return {
        "upper": upper,
        "lower": lower,
        "exact_upper": zero_failure_bound(n, confidence),
        "one_sided_upper": upper,
        "two_sided_upper": both.high,
    }


def poisson(case):
    given = case["inputs"]
    exposure = given.get("exposure", 1.0)
    if given.get("sides") == 1:
        return {
            "upper": failure_rate_at_most(given["k"], exposure, given["conf"]),
            "lower": failure_rate_at_least(given["k"], exposure, given["conf"]),
        }
    found = failure_rate_interval(given["k"], exposure, given["conf"])
    return {"lower": found.low, "upper": found.high, "rate": given["k"] / exposure}


def wilks(case):
    given = case["inputs"]
    share = given["P"]
    if "gamma" not in given:
        n = given["n"]
        return {
            f"one_sided_confidence_n{n}": wilks_confidence(n, share),
            f"one_sided_confidence_n{n - 1}": wilks_confidence(n - 1, share),
            "two_sided_confidence_n93": wilks_confidence(93, share, two_sided=True),
            "two_sided_confidence_n92": wilks_confidence(92, share, two_sided=True),
        }
    found = {
        "n_one_sided": wilks_runs(share, given["gamma"]),
        "n_two_sided": wilks_runs(share, given["gamma"], two_sided=True),
    }
    return found | {"n": found["n_one_sided" if given.get("sides") == 1 else "n_two_sided"]}


def tolerance_normal(case):
    given = case["inputs"]
    n = given["n"]
    if "conf" in given:
        return {"t_over_sqrt_n": coverage_factor(given["conf"], n - 1) / math.sqrt(n)}
    share, gamma = given["P"], given["gamma"]
    if isinstance(share, list):
        return {
            "k2": [two_sided_factor(n, p, gamma) for p in share],
            "k2_howe": [two_sided_factor_howe(n, p, gamma) for p in share],
        }
    exact, approximate = two_sided_factor(n, share, gamma), two_sided_factor_howe(n, share, gamma)
    delta = normal_quantile(share) * math.sqrt(n)
    found = {
        "k1": one_sided_factor(n, share, gamma),
        "k1_noncentral_t": one_sided_factor(n, share, gamma),
        "delta": delta,
        "t": noncentral_t_quantile(gamma, n - 1, delta),
        "k2": exact,
        "k2_exact": exact,
        "k2_howe": approximate,
    }
    if given.get("method") == "howe":
        found["k2"] = approximate
    return found


def gum(case):
    given = case["inputs"]
    if case["id"] == "H1_end_gauge":
        parts = combine(given["u_d_parts_nm"], given["nu_d_parts"])
        length = given["l_s_mm"] * 1e6
        terms = {
            "standard": (given["u_l_s_nm"], given["nu_l_s"]),
            "difference": (parts.standard_uncertainty, parts.degrees_of_freedom),
            "expansion": (length * given["theta_C"] * given["u_delta_alpha_per_C"], given["nu_delta_alpha"]),
            "temperature": (length * given["alpha_s_per_C"] * given["u_delta_theta_C"], given["nu_delta_theta"]),
        }
        whole = combine([u for u, _ in terms.values()], [nu for _, nu in terms.values()])
        # the GUM truncates the degrees of freedom before it looks up t
        stated = expanded(whole.standard_uncertainty, whole.degrees_of_freedom, given["p"], truncate=True)
        sum_ = propagation.total([given["l_s_mm"], given["d_nm"] * 1e-6], [{}, {}])
        return {
            "l_mm": sum_.value, "u_d_nm": parts.standard_uncertainty, "nu_d": parts.degrees_of_freedom,
            "uc_squared_nm2": whole.standard_uncertainty**2, "uc_nm": whole.standard_uncertainty,
            "component_nm": [
                terms["standard"][0], terms["difference"][0], 0, 0, abs(terms["expansion"][0]), terms["temperature"][0]
            ],
            "nu_eff": whole.degrees_of_freedom, "nu_eff_truncated": stated.degrees_of_freedom,
            "t99": stated.coverage_factor, "U99_nm": stated.expanded_uncertainty,
        }  # fmt: skip
    whole = combine(given["relative_u_percent"], [n - 1 for n in given["n"]])
    # the GUM looks t up at the rounded 19.0
    stated = expanded(whole.standard_uncertainty, round(whole.degrees_of_freedom, 1), given["p"])
    return {
        "uc_percent": whole.standard_uncertainty,
        "nu_eff": whole.degrees_of_freedom,
        "t95": stated.coverage_factor,
        "U95_percent": stated.expanded_uncertainty,
    }


def components(case):
    given = case["inputs"]
    if "s_r" in given:
        return {
            "r_limit": reproducibility_limit(given["s_r"]), "R_limit": reproducibility_limit(given["s_R"]),
            "cv_r_percent": 100 * given["s_r"] / given["mean"], "cv_R_percent": 100 * given["s_R"] / given["mean"],
        }  # fmt: skip
    if "sds" in given:
        between, within, f = one_way_from_statistics(given["means"], given["sds"], given["n"])
        k, n = len(given["n"]), sum(given["n"])
        return {
            "ss_between": between * (k - 1), "ms_between": between, "ss_within": within * (n - k),
            "ms_within": within, "F": f, "p": f_tail(f, k - 1, n - k),
        }  # fmt: skip
    if "gum_h5" in case["id"]:
        return _gum_h5(given)
    groups = given.get("groups") or _groups_of(given["data_csv"])
    found = one_way(groups)
    means = [mean(group) for group in groups]
    everything = [value for group in groups for value in group]
    # best linear prediction shrinks a sample's mean by its share of between variance
    s_share = found.between_squared / (found.between_squared + found.ms_within / found.runs_per_group)
    k, n = found.groups, found.runs
    return {
        "mean": found.grand_mean, "ms_between": found.ms_between, "ms_within": found.ms_within, "F": found.f,
        "p": found.p, "var_residual": found.repeatability**2, "var_batch_reml": found.between_squared,
        "sd_batch": found.between, "sd_residual": found.repeatability, "s_R": found.reproducibility,
        "mean_sq_dev_total": (found.ss_between + found.ss_within) / n, "mean_sq_dev_within": found.ss_within / n,
        "se_mean": model_mean_interval(groups).standard_error,
        "F_crit_05": f_upper_quantile(0.05, k - 1, n - k),
        "s_of_group_means": standard_deviation(means), "s_pooled": pooled_standard_deviation(groups)[0],
        "s_all": standard_deviation(everything), "group_means": means,
        "group_sds": [standard_deviation(group) for group in groups], "df_within": found.df_within,
        "s_L_squared_raw": found.between_squared, "s_L_reported": found.between,
        "batch_effects": [s_share * (m - found.grand_mean) for m in means],
    }  # fmt: skip


def _gum_h5(given):
    """The example prints day means and their standard deviations, not the readings."""
    table = rows(given["data_csv"])
    means, deviations = [float(row["mean_V"]) for row in table], [float(row["s_uV"]) for row in table]
    k, n = given["k"], given["n"]
    # microvolts about 10 V, as the table is printed
    shifted = [(value - 10) * 1e6 for value in means]
    between, within, f = one_way_from_statistics(shifted, deviations, [n] * k)
    days = math.sqrt((between - within) / n)
    total = (between * (k - 1) + within * k * (n - 1)) / (k * n - 1)
    return {
        "grand_mean_V": mean(means), "s_of_day_means_uV": standard_deviation(shifted),
        "pooled_within_day_uV": math.sqrt(within), "F": f, "sqrt_ms_between_uV": math.sqrt(between),
        "s_between_days_uV": days, "u_grand_mean_uV": model_mean_interval([[v] for v in shifted]).standard_error,
        "u_if_no_day_effect_uV": math.sqrt(total / (k * n)),
        "F_crit_05": f_upper_quantile(0.05, k - 1, k * (n - 1)),
        "F_crit_025": f_upper_quantile(0.025, k - 1, k * (n - 1)),
    }  # fmt: skip


def _groups_of(name):
    table = rows(name)
    label, value = list(table[0])[:2]
    groups = {}
    for row in table:
        groups.setdefault(row[label], []).append(float(row[value]))
    return list(groups.values())


def inverse(case):
    given = case["inputs"]
    found = inverse_prediction(fit_line(given["x"], given["y"]), given["y0"], given["m"], given["conf"])
    return {
        "x0": found.x, "se": found.standard_error, "half_width": found.half_width,
        "lower": found.x - found.half_width, "upper": found.x + found.half_width, "x0_book": found.x,
        "half_width_book": found.half_width, "fieller_lower": found.low, "fieller_upper": found.high,
    }  # fmt: skip


def monotone(case):
    given = case["inputs"]
    if "fit" in case["published"]:
        return {"fit": isotonic(given["y"], settings=given.get("x"), increasing=given.get("increasing", True)).tolist()}
    if "data_csv" in given:
        x, y = column(given["data_csv"], "x"), column(given["data_csv"], "y")
    else:
        x, y = given["x"], given["y"]
    curve = monotone_curve(x, y)
    at = curve.many(given["x_at"]).tolist()
    dense = curve.many([x[0] + (x[-1] - x[0]) * i / 5000 for i in range(5000)] + [x[-1]])
    rising = bool((dense[1:] - dense[:-1] >= -1e-15).all())
    return {
        "y_nodes": curve.many(x).tolist(), "slopes": pchip_slopes(x, y).tolist(), "y_mid": at, "pchip_at": at,
        "monotone": rising, "pchip_monotone": rising, "min": float(dense.min()), "max": float(dense.max()),
    }  # fmt: skip


def steady(case):
    given = case["inputs"]
    if case["id"].startswith("nile"):
        table = rows(given["data_csv"])
        year, flow = list(table[0])[:2]
        found = change_point([float(row[flow]) for row in table], given.get("min_segment", 15))
        return {
            "k": found.index, "year": int(float(table[found.index - 1][year])), "mean_before": found.mean_before,
            "mean_after": found.mean_after, "sse": found.sum_of_squares, "sse_no_change": found.sum_of_squares_uncut,
        }  # fmt: skip
    values = given.get("x") or column(given["data_csv"], list(rows(given["data_csv"])[0])[-1])
    found = mser(values, given.get("batch", 1), given["max_fraction"])
    return {
        "d": found.readings, "d_batches": found.batches, "d_samples": found.readings, "mser_at_d": found.statistic,
        "mser_at_0": found.statistic_uncut, "mean_after": found.mean_after, "mean_all": mean(values),
    }  # fmt: skip
