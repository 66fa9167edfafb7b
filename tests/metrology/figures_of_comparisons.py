"""Published figures of comparisons, rounding and the trade, from the inputs of a case alone."""

import math

from pytest import approx

from benchgalley.metrology import physics
from benchgalley.metrology.averages import geometric_mean
from benchgalley.metrology.comparison import (
    difference_from_statistics,
    paired_difference,
    pooled_difference,
    pooled_difference_from_statistics,
    welch_difference,
)
from benchgalley.metrology.distribution import (
    coverage_factor,
    t_cdf,
)
from benchgalley.metrology.equivalence import Decision, equivalence_of
from benchgalley.metrology.mean_interval import mean_interval_from_statistics
from benchgalley.metrology.ratio_of_means import RatioShape, fieller_ratio, paired_ratio, ratio_of_means
from benchgalley.metrology.repeatability import (
    exact_sum,
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
from benchgalley.metrology.time_series import RunningLog, integral, time_weighted_mean

from .published import column, rows


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
