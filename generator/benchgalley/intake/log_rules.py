"""The `logs:` part of the front matter: how sensor logs are read and cut."""

import datetime
import re
from collections.abc import Callable, Mapping
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from ..records.quantity import BY_COLUMN
from ..records.units import find_unit
from ..records.write_up import LogRules
from .fields import Fields
from .log_tasks import LOADED
from .problem_list import clip, offer

TIME_FORMATS = ("iso8601", "local", "unix_s", "unix_ms", "elapsed_s")
ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "latin-1")
CUTS = ("started", "marks", "load")
SEPARATORS = {",": ",", ";": ";", "tab": "\t", "|": "|"}
_WRITE_COLUMNS = "Write such as `columns: {board_power_w: header in the log}`."
_WRITE_TIME = (
    "Write `time: {header: ..., format: ...}` with one of the formats "
    f"{', '.join(f'`{word}`' for word in TIME_FORMATS)}; `local` needs `time_zone` beside it."
)
_PATTERN = re.compile(r"(?:%[YymdbHIMSfp]|[^%\w])+|(?:%[YymdbHIMSfp]|[^%\w]|T)+")
_OFFSET = re.compile(r"[+-](?:0[0-9]|1[0-4]):[0-5][0-9]|Z")


def read_log_rules(fields: Fields | None) -> LogRules | None:
    """The validated rules; None when the front matter has none."""
    if fields is None:
        return None
    # A zone alone is for the `started` of trials; anything more is about logs, which need both of these.
    about_logs = any(key != "time_zone" for key in fields.node.entries)
    columns = dict(_columns(fields, required=about_logs))
    settings: dict[str, object] = {"time_zone": _zone(fields)}
    time = fields.inner("time", required=about_logs, write=_WRITE_TIME)
    if time is not None:
        settings["time_header"] = _time_headers(time)
        settings["time_format"] = time.choice("format", TIME_FORMATS, required=True)
        settings["time_pattern"] = _pattern(time)
        settings["time_starts"] = _starts(time)
        if settings["time_format"] == "local" and not fields.has("time_zone"):
            fields.wrong(
                "time_zone",
                "missing-key",
                "`logs.time_zone` is missing: a local time needs its zone",
                'Write time_zone: "+01:00" or a zone name.',
            )
        time.finish()
    settings.setdefault("time_header", ())
    settings["separator"] = _separator(fields)
    settings["decimal"] = fields.choice("decimal", (".", ","), ".")
    settings["thousands"] = fields.choice("thousands", ("", ",", ".", " ", "'"), "")
    # A separator that was left out is looked for in the log itself.
    separators = (settings["separator"],) if fields.has("separator") else ()
    if settings["decimal"] in (*separators, settings["thousands"]):
        fields.wrong(
            "decimal",
            "ambiguous-decimal",
            "the decimal sign of the logs is also their separator or their thousands sign",
            "Say `separator` and `decimal` as they stand in the file.",
        )
    settings["encoding"] = fields.choice("encoding", ENCODINGS, "utf-8")
    settings["window"] = _window(fields.inner("window"))
    settings["cut"] = fields.choice("cut", CUTS, "started")
    settings["mark"] = _mark(fields, str(settings["cut"]))
    settings["counter"] = _counter(fields.inner("energy_counter"), columns)
    if settings["cut"] == "load" and not set(LOADED) & set(columns):
        fields.wrong(
            "cut",
            "missing-key",
            "runs are to be told by load, but the log gives no board or wall power",
            "Map `board_power_w` under `logs.columns`, or cut by `started` or `marks`.",
        )
    fields.finish()
    return LogRules(columns=columns, settings=settings)


def _columns(fields: Fields, *, required: bool) -> list[tuple[str, tuple[str, str]]]:
    outer = fields.inner("columns", required=required, write=_WRITE_COLUMNS)
    found: list[tuple[str, tuple[str, str]]] = []
    for column, (key_node, node) in (outer.node.entries if outer else {}).items():
        assert outer is not None
        known = tuple(c for c in BY_COLUMN if c not in ("score", "duration_s"))
        if column not in known:
            outer.complain(
                "unknown-column",
                key_node,
                f"`{clip(column)}` is no column a log can give",
                offer(column, known, "Columns"),
            )
            continue
        own = BY_COLUMN[column].unit
        header, spelling = "", own.symbol
        if node.kind == "scalar":
            header = outer.text_of(node, outer.path(column))
        elif (inner := outer.fields_of(node, outer.path(column))) is not None:
            header = inner.text("header", required=True)
            spelling = inner.text("unit") or own.symbol
            unit = find_unit(spelling)
            if unit is None or unit.dimension != own.dimension:
                inner.wrong(
                    "unit",
                    "wrong-unit" if unit else "unknown-unit",
                    f"`{inner.path('unit')}` is `{clip(spelling)}`, which does not convert into {own.symbol}",
                    f"Write such as {own.symbol}.",
                )
            inner.finish()
        found.append((column, (header, spelling)))
    return found


def _time_headers(time: Fields) -> tuple[str, ...]:
    """Header of the time column; two when date and time of day stand in columns of their own."""
    node = time.value("header", required=True)
    if node is None or node.kind != "sequence":
        return (time.text("header"),)
    headers = time.texts("header")
    if len(headers) != 2:
        time.wrong("header", "wrong-type", "`logs.time.header` was expected to be one header, or [date, time of day]")
    return headers


def _pattern(time: Fields) -> str:
    """How a date and time is written, with the letters of the C library (%d.%m.%Y %H:%M:%S)."""
    pattern = time.text("pattern")
    if pattern and not _PATTERN.fullmatch(pattern):
        time.wrong(
            "pattern",
            "wrong-type",
            f"`logs.time.pattern` is `{clip(pattern)}`; a pattern of %Y %y %m %d %b %H %I %M %S %f %p was expected",
            'Write such as "%d.%m.%Y %H:%M:%S".',
        )
        return ""
    return pattern


def _starts(time: Fields) -> str:
    """When a log of elapsed seconds started."""
    starts = time.text("starts")
    if not starts:
        return ""
    try:
        if datetime.datetime.fromisoformat(starts).tzinfo is not None:
            return starts
    except ValueError:
        pass
    time.wrong(
        "starts",
        "bad-time",
        f"`logs.time.starts` is `{clip(starts)}`; a date and time with its zone was expected",
        "Write such as 2026-03-01T14:05:00+01:00.",
    )
    return ""


def _mark(fields: Fields, cut: str) -> dict[str, str] | None:
    """The column that marks the runs: its header, and whether it names the trial or is on and off."""
    if (inner := fields.inner("mark", required=cut == "marks")) is None:
        return None
    if cut != "marks":
        fields.wrong("mark", "unused-key", "`logs.mark` is given, but runs are not cut by it", "Say `cut: marks`.")
    mark = {"header": inner.text("header", required=True), "means": inner.choice("means", ("trial", "toggle"), "trial")}
    inner.finish()
    return mark


def _counter(fields: Fields | None, columns: Mapping[str, object]) -> dict[str, str] | None:
    """A counter that adds up energy: its header and unit, and which power it adds up."""
    if fields is None:
        return None
    powers = tuple(column for column in LOADED if column in columns)
    counter = {
        "header": fields.text("header", required=True),
        "unit": fields.text("unit", "J"),
        "of": fields.choice("of", powers or LOADED, powers[0] if powers else "", required=not powers),
    }
    unit = find_unit(counter["unit"])
    if unit is None or unit.dimension != "energy":
        fields.wrong(
            "unit",
            "wrong-unit" if unit else "unknown-unit",
            f"`{fields.path('unit')}` is `{clip(counter['unit'])}`, which is no unit of energy",
            "Write J, kJ or Wh.",
        )
    if not powers:
        fields.wrong("of", "missing-key", "the log gives no power to hold the counter against", "Map board_power_w.")
    fields.finish()
    return counter


def _zone(fields: Fields) -> str:
    zone = fields.text("time_zone")
    if not zone or _OFFSET.fullmatch(zone):
        return zone
    try:
        ZoneInfo(zone)
        return zone
    except (ZoneInfoNotFoundError, ValueError, OSError):
        fields.wrong(
            "time_zone",
            "unknown-time-zone",
            f"`{fields.path('time_zone')}` is `{clip(zone)}`, which is no time zone known on this machine",
            'Write an offset such as "+01:00", or a zone name of the IANA data base.',
        )
        return ""


def _separator(fields: Fields) -> str:
    node = fields.value("separator")
    if node is None:
        return ","
    if node.text == "\t":
        return "\t"
    return SEPARATORS[fields.choice("separator", tuple(SEPARATORS), ",")]


def _fixed(fields: Fields) -> dict[str, object]:
    return {
        "rule": "fixed",
        "skip_start_s": fields.number("skip_start_s", minimum=0.0) or 0.0,
        "skip_end_s": fields.number("skip_end_s", minimum=0.0) or 0.0,
    }


def _steady(fields: Fields) -> dict[str, object]:
    return {"rule": "steady"}


_WINDOWS: dict[str, Callable[[Fields], dict[str, object]]] = {"fixed": _fixed, "steady": _steady}


def _window(fields: Fields | None) -> dict[str, object]:
    """The window rule; without one the whole run counts."""
    if fields is None:
        return {"rule": "fixed", "skip_start_s": 0.0, "skip_end_s": 0.0}
    rule = fields.choice("rule", tuple(_WINDOWS), required=True)
    window = _WINDOWS.get(rule, _steady)(fields)
    fields.finish(*(() if rule else ("skip_start_s", "skip_end_s")))
    return window
