"""Outcomes of logs as bytes, to be kept between builds; floats keep every digit."""

import json
from dataclasses import asdict
from typing import Any

from ..records.bench import Window
from ..records.findings import Location, Problem, Severity
from .log_tasks import LogOutcome, Remark, RunFigures


def as_bytes(outcome: LogOutcome) -> bytes:
    """An outcome as JSON."""
    return json.dumps(asdict(outcome), ensure_ascii=False, separators=(",", ":")).encode()


def from_bytes(data: bytes) -> LogOutcome | None:
    """The outcome kept in `data`; None when it is spoilt or of another version."""
    try:
        found = json.loads(data)
        return LogOutcome(
            runs=tuple(_figures(run) for run in found["runs"]),
            remarks=tuple(Remark(**remark) for remark in found["remarks"]),
            problems=tuple(_problem(problem) for problem in found["problems"]),
        )
    except (ValueError, KeyError, TypeError):
        return None


def _figures(found: dict[str, Any]) -> RunFigures:
    windows = {}
    for column, window in found.pop("windows").items():
        trace = tuple((time, value) for time, value in window.pop("trace"))
        windows[column] = Window(trace=trace, **window)
    return RunFigures(windows=windows, **found)


def _problem(found: dict[str, Any]) -> Problem:
    where, severity = Location(**found.pop("where")), Severity(found.pop("severity"))
    return Problem(where=where, severity=severity, **found)
