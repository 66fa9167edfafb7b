"""Figures over sensor logs: what was read, and which part of it counts."""

from collections.abc import Callable
from typing import Any

from ..records.bench import Trial, Window
from ..records.quantity import BY_COLUMN
from ..records.results import Results
from ..records.site import Site
from ..records.write_up import WriteUp
from . import reading
from .marks import plane_ranges
from .picture import Drawing
from .placing import Plot
from .reading import NBSP, counted, setpoint_label

_DASHES = ("solid", "dashed", "dash-dot")
_ABOVE_OR_BELOW = ((0, -18, "center"), (0, 20, "center"), (0, -32, "center"), (0, 34, "center"))
_MOST_TRACES = len(_DASHES)


def log_window(write_up: WriteUp, site: Site, results: Results) -> Drawing | None:
    """The log of one run of each of the first setpoints, with the window that was averaged."""
    logged = [trial for trial in write_up.trials if trial.windows]
    column = next((c for c in BY_COLUMN if any(_trace(t, c) for t in logged)), None)
    if column is None:
        return None
    chosen = _first_runs(write_up, column)
    if not chosen:
        return None
    quantity = BY_COLUMN[column]
    windows = [(name, trial, trial.windows[column]) for name, trial in chosen]
    x = reading.span([0.0, *(time for *_, w in windows for time, _ in w.trace)], 0.02)
    y = reading.span([value for *_, w in windows for _, value in w.trace], 0.1)
    plot = Plot(x, y)
    style = reading.looks(write_up)
    data: dict[str, list[dict[str, Any]]] = {"lines": [], "notes": [], "bands": []}
    for dash, (name, _, window) in zip(_DASHES, windows, strict=False):
        data["lines"] += [
            {"line": name, "x": time, "y": value, "place": i, "dash": dash, "style": style[name]}
            for i, (time, value) in enumerate(window.trace)
        ]
        plot.take_line(window.trace[::4])
    for start, end in sorted({(w.start_s, w.end_s) for *_, w in windows}):
        data["bands"].append({"x": start, "x2": end})
    for name, _, window in windows:
        label = setpoint_label(write_up, name)
        along = [window.trace[len(window.trace) * share // 20] for share in (13, 10, 16, 7, 18)]
        spot = plot.place_at_one(along, label, _ABOVE_OR_BELOW)
        data["notes"].append({"x": spot.x, "y": spot.y, "align": spot.align, "text": label})
    listed = reading.listed([f"{setpoint_label(write_up, name)} (run {trial.id})" for name, trial in chosen])
    name = reading.titled(quantity.name, "")
    return Drawing(
        id="log-window",
        kind="log-window",
        template="plane",
        title=f"{name} during a run",
        caption=(
            f"{name} as logged in {counted(len(chosen), 'run')}: {listed}. Shaded: the window that is averaged."
            " The curves are thinned for drawing; the whole logs are in the dataset."
        ),
        alternative=f"{name} during a run: "
        + "; ".join(
            f"{setpoint_label(write_up, n)} between {_value(w.minimum, w, quantity.unit.symbol)} and"
            f" {_value(w.maximum, w, quantity.unit.symbol)} inside its window of {_seconds(w)}"
            for n, _, w in windows
        )
        + ".",
        columns=("Setting", "Run", "Window", "Readings", "Lowest", "Highest"),
        rows=tuple(
            (
                setpoint_label(write_up, n),
                trial.id,
                _seconds(w),
                str(w.readings),
                _value(w.minimum, w, quantity.unit.symbol),
                _value(w.maximum, w, quantity.unit.symbol),
            )
            for n, trial, w in windows
        ),
        data=data,
        signals={
            **plane_ranges(x, y),
            "x_title": "Time since the start of the run (s)",
            "y_title": reading.titled(quantity.name, quantity.unit.symbol),
        },
    )


def _trace(trial: Trial, column: str) -> bool:
    return trial.counts and column in trial.windows and len(trial.windows[column].trace) > 1


def _first_runs(write_up: WriteUp, column: str) -> list[tuple[str, Trial]]:
    found = []
    for name in reading.looks(write_up):
        settings = dict(write_up.setpoints[name].settings)
        fitting = (t for t in write_up.trials if _trace(t, column) and not t.sequence and dict(t.settings) == settings)
        if (trial := next(fitting, None)) is not None:
            found.append((name, trial))
    return found[:_MOST_TRACES]


def _seconds(window: Window) -> str:
    return f"{window.start_s:g}{NBSP}s to {window.end_s:g}{NBSP}s"


def _value(value: float, window: Window, unit: str) -> str:
    """A single reading to the step of its sensor."""
    step = window.step or 0.1
    text = f"{step:.6f}".rstrip("0")
    decimals = min(len(text.partition(".")[2]), 3)
    return f"{reading.plain(value, decimals)}{NBSP}{unit}"


FIGURES: tuple[tuple[str, Callable[[WriteUp, Site, Results], Drawing | None]], ...] = (("log-window", log_window),)
"""Chart kind and the function that prepares it, in page order."""
