"""What the worksheet must print, by the generator's own arithmetic and printing rule."""

from benchgalley.derive.printing import printed
from benchgalley.metrology.comparison_by_parts import (
    equivalence_by_parts,
    mean_difference_by_parts,
    ratio_by_parts,
)
from benchgalley.metrology.mean_interval import mean_interval, standard_error
from benchgalley.metrology.ratio_of_means import RatioShape
from benchgalley.metrology.repeatability import mean, standard_deviation
from benchgalley.metrology.sample import NotDetermined
from benchgalley.records.results import Interval
from benchgalley.records.units import CELSIUS, KELVIN, PERCENT, WATT, score_unit

NOTHING = {"value": "", "text": "", "interval": "", "plusMinus": ""}
FEWEST = 3


def counts(run):
    return run["outcome"] == "completed" and not run.get("excluded")


def failed(run):
    return run["outcome"] in ("crashed", "artefacts", "hung") and not run.get("excluded")


def _decimals(texts):
    return max((len(t.partition(".")[2]) for t in texts), default=None)


def _shown(value, unit, low=None, high=None, decimals=None, spread=None, confidence=0.95):
    interval = None
    if low is not None:
        interval = Interval(low=low, high=high, confidence_pct=100 * confidence, method="")
    found = printed(value, unit, interval=interval, spread=spread, decimals=decimals)
    return {"value": found.value, "text": found.text, "interval": found.interval, "plusMinus": found.plus_minus}


def _mean(texts, unit, confidence):
    values = [float(t) for t in texts]
    if not values:
        return NOTHING
    try:
        found = mean_interval(values, confidence)
    except NotDetermined:
        return _shown(mean(values), unit, decimals=_decimals(texts))
    return _shown(found.value, unit, found.low, found.high)


def _spread(texts, unit):
    values = [float(t) for t in texts]
    if len(values) < 2 or standard_deviation(values) == 0:
        return NOTHING
    s = standard_deviation(values)
    return _shown(s, unit, spread=s)


def _difference(texts_a, texts_b, unit, confidence):
    a, b = [float(t) for t in texts_a], [float(t) for t in texts_b]
    if not a or not b:
        return NOTHING
    try:
        found = mean_difference_by_parts(a, b, confidence)
    except NotDetermined:
        return _shown(mean(a) - mean(b), unit, decimals=max(_decimals(texts_a), _decimals(texts_b)))
    return _shown(found.difference, unit, found.low, found.high)


def _share(texts_a, texts_b, confidence):
    a, b = [float(t) for t in texts_a], [float(t) for t in texts_b]
    if not a or not b or mean(b) == 0:
        return NOTHING
    try:
        found = ratio_by_parts(a, b, confidence)
    except NotDetermined:
        return _shown(100 * (mean(a) / mean(b)), PERCENT)
    if found.shape is not RatioShape.BOUNDED:
        return _shown(100 * found.ratio, PERCENT)
    return _shown(100 * found.ratio, PERCENT, 100 * found.low, 100 * found.high)


def _same(texts_a, texts_b, margin_pct, confidence):
    a, b = [float(t) for t in texts_a], [float(t) for t in texts_b]
    if len(a) < FEWEST or len(b) < FEWEST:
        return {"decision": "too few runs", "range": ""}
    # the terms of derive's `equivalent` with repeats as the only contributions
    centre_a, centre_b = mean(a), mean(b)
    error_a = 100 * standard_error(a) / centre_b
    error_b = 100 * (centre_a / centre_b) * standard_error(b) / centre_b
    change = 100 * (centre_a - centre_b) / centre_b
    try:
        freedoms = [len(a) - 1, len(b) - 1]
        found = equivalence_by_parts(change, [error_a, error_b], freedoms, -margin_pct, margin_pct, 1 - confidence)
    except NotDetermined:
        return {"decision": "no spread", "range": ""}
    shown = _shown(change, PERCENT, found.low, found.high)
    return {"decision": found.decision.value, "range": shown["interval"]}


def figures(session):
    """The figures of each setting, as `worksheetMethod.figures` gives them."""
    about = session["about"]
    unit, confidence = score_unit(about["score_unit"]), float(about["confidence_pct"]) / 100
    groups = {}
    for run in session["runs"]:
        key = (float(run["power_limit_pct"]), float(run["voltage_offset_mv"]), run.get("sequence") == "soak")
        groups.setdefault(key, []).append(run)

    def typed(runs, column):
        return [run[column] for run in runs if counts(run) and run.get(column)]

    stock = groups.get((100.0, 0.0, False))
    found = []
    for (limit, offset, soak), runs in groups.items():
        is_stock = (limit, offset, soak) == (100.0, 0.0, False)
        compared = stock is not None and not is_stock and not soak
        score, power, core = (typed(runs, c) for c in ("score", "board_power_w", "core_temp_c"))
        row = {
            "limit": limit,
            "offset": offset,
            "soak": soak,
            "stock": is_stock,
            "completed": sum(map(counts, runs)),
            "failed": sum(map(failed, runs)),
            "score": _mean(score, unit, confidence),
            "spread": _spread(score, unit),
            "power": _mean(power, WATT, confidence),
            "core": _mean(core, CELSIUS, confidence),
            "ofStock": NOTHING,
            "saved": NOTHING,
            "cooler": NOTHING,
            "same": None,
        }
        if compared:
            row["ofStock"] = _share(score, typed(stock, "score"), confidence)
            row["saved"] = _difference(typed(stock, "board_power_w"), power, WATT, confidence)
            row["cooler"] = _difference(typed(stock, "core_temp_c"), core, KELVIN, confidence)
            row["same"] = _same(score, typed(stock, "score"), float(about["margin_pct"]), confidence)
        found.append(row)
    return found
