"""The published cases as they lie in `reference/`, and how two numbers are held against each other."""

import csv
import json
import math
from pathlib import Path

REFERENCE = Path(__file__).parent / "reference"
FILES = sorted(
    path.relative_to(REFERENCE).as_posix() for path in REFERENCE.rglob("*.json") if path.name != "index.json"
)


def load(name):
    return json.loads((REFERENCE / name).read_text("utf-8"))


def cases():
    return [(name, case) for name in FILES for case in load(name)["cases"]]


def rows(name):
    with (REFERENCE / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def column(name, heading):
    return [float(row[heading]) for row in rows(name)]


def tolerance(case, key):
    own = case.get("tolerances", {}).get(key, case)
    return own["rtol"], own["atol"]


def differs(computed, expected, rtol, atol):
    """None when equal within the tolerance, else a description."""
    if isinstance(expected, (list, tuple)):
        if len(computed) != len(expected):
            return f"{len(computed)} values instead of {len(expected)}"
        found = [differs(c, e, rtol, atol) for c, e in zip(computed, expected, strict=True)]
        return next((text for text in found if text), None)
    if isinstance(expected, (str, bool)) or expected is None:
        return None if computed == expected else f"{computed!r} instead of {expected!r}"
    if not math.isfinite(computed) or abs(computed - expected) > atol + rtol * abs(expected):
        return f"{computed!r} instead of {expected!r} (rtol {rtol:g}, atol {atol:g})"
    return None
