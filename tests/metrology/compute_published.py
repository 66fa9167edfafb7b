"""For each file of published cases a function that computes them with the room's own functions.

From a case's inputs alone to its figures under their published names.
"""

import math
from decimal import Decimal

from pytest import approx

from benchgalley.metrology import physics, propagation
from benchgalley.metrology.averages import geometric_mean
from benchgalley.metrology.between_samples import model_mean_interval
from benchgalley.metrology.comparison import (
    difference_from_statistics,
    paired_difference,
    pooled_difference,
    pooled_difference_from_statistics,
    welch_difference,
)
from benchgalley.metrology.curve import isotonic, monotone_curve, pchip_slopes
from benchgalley.metrology.distribution import (
    chi2_quantile,
    chi2_upper_quantile,
    coverage_factor,
    f_tail,
    f_upper_quantile,
    noncentral_t_quantile,
    normal_quantile,
    t_cdf,
    t_quantile,
)
from benchgalley.metrology.equivalence import Decision, equivalence_of
from benchgalley.metrology.mean_interval import mean_interval_from_statistics
from benchgalley.metrology.ratio_of_means import RatioShape, fieller_ratio, paired_ratio, ratio_of_means
from benchgalley.metrology.repeatability import (
    exact_sum,
    lag1_autocorrelation,
    mean,
    pooled_standard_deviation,
    standard_deviation,
)
from benchgalley.metrology.rounding import (
    Ties,
    round_significant,
    round_to_place,
    round_to_step,
    round_uncertainty,
    round_with_uncertainty,
)
from benchgalley.metrology.several_against_baseline import dunnett, dunnett_critical, holm
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
from benchgalley.metrology.time_series import RunningLog, integral, time_weighted_mean
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


def ratio(case):
    given = case["inputs"]
    if "x" in given:
        x, y = given["x"], given["y"]
        found, plain = ratio_of_means(x, y, given["conf"]), welch_difference(x, y)
        return {
            "mean_x": mean(x), "mean_y": mean(y), "ratio": found.ratio, "lower": found.low, "upper": found.high,
            "g": found.g, "df_at_ratio": found.degrees_of_freedom, "welch_t": plain.t,
            "welch_df": plain.degrees_of_freedom, "welch_p": plain.p_two_sided,
        }  # fmt: skip
    if "y1" in given:
        first, second = given["y1"], given["y2"]
        logs = paired_difference([math.log(v) for v in first], [math.log(v) for v in second], given["conf"])
        found = paired_ratio(first, second, given["conf"])
        # the published limits are those of t on the delta-method error of the log ratio
        half = found.standard_error / found.ratio * coverage_factor(given["conf"], found.degrees_of_freedom)
        assert logs.degrees_of_freedom == found.degrees_of_freedom
        return {
            "mean1": mean(first), "mean2": mean(second), "ratio": found.ratio,
            "lower": found.ratio * math.exp(-half), "upper": found.ratio * math.exp(half),
            "fieller_lower": found.low, "fieller_upper": found.high,
            "delta_lower": found.ratio * (1 - half), "delta_upper": found.ratio * (1 + half),
        }  # fmt: skip
    if "df" not in given:
        # only the factor t = 2 is given: degrees of freedom and confidence that lead to it
        confidence = 1 - 2 * (1 - t_cdf(given["t"], 10))
        found = fieller_ratio(
            given["a"], given["se_a"], 10, given["b"], given["se_b"], 10, confidence, degrees_of_freedom=10
        )
        return {"g": found.g, "bounded": found.shape is RatioShape.BOUNDED}
    confidence = given.get("conf", 0.90)
    found = fieller_ratio(
        given["a"], given["se_a"], given["df"], given["b"], given["se_b"], given["df"], confidence,
        covariance=given["cov"], degrees_of_freedom=given["df"],
    )  # fmt: skip
    factor = coverage_factor(confidence, given["df"])
    return {
        "ratio": found.ratio, "g": found.g, "t": factor, "lower": found.low, "upper": found.high,
        "delta_sd": found.standard_error, "delta_cv_percent": 100 * found.standard_error / found.ratio,
        "delta_lower": found.ratio - factor * found.standard_error,
        "delta_upper": found.ratio + factor * found.standard_error,
    }  # fmt: skip


def _clinic(variable, group):
    return [float(row[variable]) for row in rows("tost_clinic.csv") if int(row["group"]) == group]


def two_sample(case):
    given = case["inputs"]
    confidence = given.get("conf", 0.95)
    if "mean1" in given:
        if given["method"] == "welch":
            found = difference_from_statistics(
                given["mean1"], given["sd1"] / math.sqrt(given["n1"]), given["n1"] - 1,
                given["mean2"], given["sd2"] / math.sqrt(given["n2"]), given["n2"] - 1, confidence,
            )  # fmt: skip
        else:
            found = pooled_difference_from_statistics(
                given["mean1"], given["sd1"], given["n1"], given["mean2"], given["sd2"], given["n2"], confidence
            )
        extra = {"sp": found.standard_error / math.sqrt(1 / given["n1"] + 1 / given["n2"])}
        return _as_difference(found) | extra
    if "mean" in given:
        found = mean_interval_from_statistics(given["mean"], given["sd"], given["n"], confidence)
        against = given.get("mu0")
        statistic = coverage_factor(confidence, given["n"] - 1)
        if against is not None:
            # the hypothetical mean is a quantity known exactly
            error, nu = found.standard_error, found.degrees_of_freedom
            statistic = difference_from_statistics(given["mean"], error, nu, against, 0.0, math.inf).t
        return {"t": statistic, "ci_lower": found.low, "ci_upper": found.high}
    if "data_csv" in given:
        first, second = _clinic(given["variable"], 1), _clinic(given["variable"], 2)
    else:
        first, second = given["x1"], given["x2"]
    kind = given["method"].split()[0]
    compare = {"welch": welch_difference, "pooled": pooled_difference, "paired": paired_difference}[kind]
    found = _as_difference(compare(first, second, confidence))
    return found | {"mean1": mean(first), "mean2": mean(second), "sp": pooled_standard_deviation([first, second])[0]}


def _as_difference(found):
    return {
        "diff": found.difference,
        "se": found.standard_error,
        "t": found.t,
        "df": found.degrees_of_freedom,
        "p_two_sided": found.p_two_sided,
        "ci_lower": found.low,
        "ci_upper": found.high,
    }


def tost(case):
    given = case["inputs"]
    swapped = False
    if "pairs" in given:
        first, second = ([math.log(pair[side]) for pair in given["pairs"]] for side in (0, 1))
        swapped = "ln(second) - ln(first)" in given["method"]
        low = given.get("low", math.log(given.get("low_ratio", 1)))
        high = given.get("high", math.log(given.get("high_ratio", 1)))
        compare = paired_difference
    else:
        groups = tost_groups(given)
        first, second = groups
        swapped = given.get("diff") == "group2 - group1"
        low, high = given["low"], given["high"]
        compare = {"welch": welch_difference, "pooled": pooled_difference, "paired": paired_difference}[
            given["method"].split(",")[0].split()[-1]
        ]
    if swapped:
        first, second = second, first
    plain = compare(first, second)
    found = equivalence_of(plain, low, high, given.get("alpha", 0.05))
    larger = found.t_upper if found.p_upper >= found.p_lower else found.t_lower
    return {
        "mean_diff": plain.difference, "se": plain.standard_error, "df": plain.degrees_of_freedom,
        "t_lower": found.t_lower, "p_lower": found.p_lower, "t_upper": found.t_upper, "p_upper": found.p_upper,
        "p_value": found.p, "equivalent": found.decision is Decision.SHOWN, "epsilon": high,
        "ci_lower": found.low, "ci_upper": found.high, "ci90_lower": found.low, "ci90_upper": found.high,
        "test_stat": abs(larger), "mean_ratio": math.exp(plain.difference),
        "ratio_ci90": [math.exp(found.low), math.exp(found.high)],
    }  # fmt: skip


def tost_groups(given):
    variable = given["variable"].removeprefix("ln ")
    groups = [_clinic(variable, group) for group in (1, 2)]
    if variable != given["variable"]:
        groups = [[math.log(v) for v in group] for group in groups]
    return groups


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


TIES = {"A": Ties.EVEN, "B": Ties.AWAY, "nearest": Ties.EVEN}


def rounding(case):
    given = case["inputs"]
    if "range" in given:
        ties = TIES[given.get("rule", "A").replace(":", " ").replace(",", " ").split()[0]]
        rounded = round_to_step(given["value"], given["range"], ties)
        twice = round_to_step(round_to_step(given["value"], "0.01"), given["range"])
        return {"rounded": rounded, "two_stage_wrong": twice}
    if "u" in given and "y" in given:
        value, uncertainty = round_with_uncertainty(given["y"], given["u"])
        return {"y_rounded": value, "u_rounded": uncertainty}
    if "u" in given:
        return {"u_rounded": round_uncertainty(given["u"], given["digits"], up=given["mode"] == "up")}
    if "digits" in given:
        return {"rounded": round_significant(given["value"], given["digits"], Ties.AWAY)}
    # from the float, not from its text: the shortest text is what must be rounded
    value = float(given["value"])
    return {
        "decimal_half_up": round_to_place(value, given["decimals"], Ties.AWAY),
        "decimal_half_even": round_to_place(value, given["decimals"]),
    }


def _transistors(given):
    per_um = given["lambda_um"] * given["C_fF_per_um"] * 1e-15
    logic = given["n_logic"] * given["width_logic_lambda"] * per_um
    memory = given["n_memory"] * given["width_memory_lambda"] * per_um
    power = [
        physics.dynamic_power_w(given["alpha_logic"], logic, given["V"], given.get("f_Hz", 1e6)),
        physics.dynamic_power_w(given["alpha_memory"], memory, given["V"], given.get("f_Hz", 1e6)),
    ]
    return {
        "C_logic_nF": logic * 1e9, "C_memory_nF": memory * 1e9, "P_W": sum(power), "mW_per_MHz": sum(power) * 1e3
    }  # fmt: skip


def _connector(given, published):
    name = given["connector"].split()[0]
    found = {"sustained_W": physics.CONNECTOR_W[name]}
    if "max_rms_A" in published:
        most = physics.CONNECTOR_MAX_A[name]
        found |= {"max_rms_A": most, "A_times_12V": most * 12, "A_times_11_04V": most * 11.04}
    return found


def _sound(given):
    if "n_equal_sources" in given:
        return {"increase_dB": physics.decibel_sum_db([60.0] * given["n_equal_sources"]) - 60.0}
    if "background_dB" in given:
        return {"source_dB": physics.decibel_without_background_db(given["total_dB"], given["background_dB"])}
    return {"total_dB": physics.decibel_sum_db(given["levels_dB"])}


def trade(case):
    given, name = case["inputs"], case["id"]
    if name.startswith("cmos_scaling"):
        return {"P_ratio": physics.dynamic_power_ratio(given["f_ratio"], given["V_ratio"])}
    if name.startswith("cmos"):
        return _transistors(given)
    if name.startswith("fan"):
        speed = given["N2"] / given["N1"]
        return {
            "flow_ratio": physics.fan_flow_ratio(speed), "pressure_ratio": physics.fan_pressure_ratio(speed),
            "power_ratio": physics.fan_power_ratio(speed), "sound_change_dB": physics.fan_sound_change_db(speed),
        }  # fmt: skip
    if name == "thermal_1":
        return {"R_th": physics.thermal_resistance_k_per_w(given["T_j"], given["T_a"], given["P"])}
    if name == "thermal_2":
        return {"T_j": physics.temperature_at_power_c(given["R_th"], given["T_a"], given["P"])}
    if name == "slot_power":
        watts = [physics.SLOT_12V_W, physics.SLOT_3V3_W]
        assert [physics.connector_current_a(w, pair[0]) for w, pair in zip(watts, given["V_I"], strict=True)] == (
            approx([pair[1] for pair in given["V_I"]])
        )
        return {"watts": watts, "sum_W": sum(watts), "nominal_limit_W": physics.SLOT_W}
    if name.startswith("connector"):
        return _connector(given, case["published"])
    if name.startswith("total"):
        return {"W": physics.rated_supply_w(given["parts"])}
    if name.startswith("sound"):
        return _sound(given)
    hours = given.get("hours") or given["hours_per_day"] * given["days"]
    energy = physics.energy_kwh(given["watts"], hours)
    return {
        "kWh": energy, "J": physics.energy_j(given["watts"], hours * 3600),
        "cost": physics.running_cost(energy, given.get("price_per_kWh", 0.0)),
    }  # fmt: skip


def numerics(case):
    given = case["inputs"]
    if "data_csv" in given:
        table = rows(given["data_csv"])
        x_name, y_name = list(table[0])[:2]
        x, y = column(given["data_csv"], x_name), column(given["data_csv"], y_name)
        return {
            "trapezoid": integral(x, y), "time_weighted_mean": time_weighted_mean(x, y),
            "plain_mean_of_samples": mean(y),
        }  # fmt: skip
    values = given["values"]
    if "exact" in case["published"]:
        return {"exact": exact_sum(values), "fsum": exact_sum(values)}
    log = RunningLog()
    for place, value in enumerate(values):
        log.update([float(place)], [float(value)])
    running = log.result().standard_deviation ** 2
    assert running == approx(30.0, rel=1e-6)
    return {"variance": standard_deviation(values) ** 2, "mean": mean(values)}


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


def several(case):
    given = case["inputs"]
    if "p" in given:
        adjusted = holm(given["p"])
        level = given.get("alpha", 0.05)
        return {
            "holm": adjusted,
            "reject_strict": [p < level * (1 - 1e-12) for p in adjusted],
            "reject_le": [p <= level * (1 + 1e-12) for p in adjusted],
        }
    if "control" in given:
        found = dunnett(given["control"], given["treatments"], given["conf"])
        return {
            "df": found[0].degrees_of_freedom, "difference": [c.difference for c in found],
            "mse": pooled_standard_deviation([given["control"], *given["treatments"]])[0] ** 2,
            "statistic": [c.t for c in found], "p_two_sided": [c.p_two_sided for c in found],
            "p_greater": [c.p_greater for c in found], "p_less": [c.p_less for c in found],
            "critical_two_sided": found[0].critical_two_sided, "critical_one_sided": found[0].critical_one_sided,
            "ci_lower": [c.low for c in found], "ci_upper": [c.high for c in found],
            "greater_lower": [c.at_least for c in found],
        }  # fmt: skip
    confidence, both = 1 - given["alpha"], given["sides"] == 2
    counts = given["k"] if isinstance(given["k"], list) else [given["k"]]
    found = [dunnett_critical([math.sqrt(given["rho"])] * k, given["df"], confidence, two_sided=both) for k in counts]
    return {"critical": found if isinstance(given["k"], list) else found[0]}


def geometric(case):
    given = case["inputs"]
    times = given["times"]

    def index(base, system):
        return [b / s for b, s in zip(times[base], times[system], strict=True)]

    if "base" in given:
        base = given["base"]
        found = {"gm": [geometric_mean(index(base, system)) for system in times]}
        return found | {f"norm_{system}": index(base, system) for system in times}
    if "X" in times:
        return {"gm_Y_over_X": geometric_mean(index("X", "Y"))}
    return {f"{a}_over_{b}": geometric_mean(index(b, a)) for a, b in (("A", "B"), ("B", "C"), ("A", "C"))}


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
