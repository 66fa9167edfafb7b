"""Random sessions at the worksheet: few and many runs, ties, no spread, failures, gaps, long and short numbers."""

import random

SEED = 20260920
SCORES = (
    (6200.0, 9.0, 0),
    (118.4, 0.9, 1),
    (2.318, 0.02, 3),
    (1234567.0, 2100.0, 0),
    (41.7, 6.0, 2),
    (85000.0, 40.0, 0),
)
"""(centre, spread, decimals) of a load's scores."""


def sessions(count):
    source = random.Random(SEED)
    return [_session(source) for _ in range(count)]


def _session(source):
    centre, spread, decimals = source.choice(SCORES)
    spread *= source.choice((0.0, 0.1, 1.0, 1.0, 3.0))
    settings = [(100, 0)] + [
        (source.choice((100, 96, 92, 88, 84.5, 76)), source.choice((0, -20, -40, -62.5, -80, -120)))
        for _ in range(source.randint(0, 4))
    ]
    runs = []
    for limit, offset in settings:
        shift = source.choice((0.0, 0.0, 0.4, -0.01, 0.05)) * centre
        watts = 185.0 * limit / 100 + offset / 5
        for _ in range(source.randint(0, 8)):
            runs.append(_run(source, limit, offset, centre + shift, spread, decimals, watts))
    source.shuffle(runs)
    about = {
        "score_unit": source.choice(("points", "s")),
        "confidence_pct": source.choice(("95", "95", "90", "99")),
        "margin_pct": source.choice(("1", "0.5", "2", "5")),
    }
    return {"about": about, "runs": runs}


def _run(source, limit, offset, score, spread, decimals, watts):
    run = {"power_limit_pct": f"{limit:g}", "voltage_offset_mv": f"{offset:g}", "outcome": "completed"}
    if source.random() < 0.06:
        run["sequence"], run["duration_s"] = "soak", "3600"
    if source.random() < 0.08:
        run["outcome"] = source.choice(("crashed", "artefacts", "hung", "aborted"))
        return run
    if source.random() < 0.04:
        run["excluded"] = "the window stood open"
    run["score"] = f"{max(0.0, source.gauss(score, spread)):.{decimals}f}"
    if source.random() < 0.9:
        run["board_power_w"] = f"{source.gauss(watts, source.choice((0.0, 0.4))):.{source.choice((0, 1, 1, 2))}f}"
    if source.random() < 0.7:
        run["core_temp_c"] = f"{source.gauss(61, 0.6):.{source.choice((0, 1))}f}"
    return run
