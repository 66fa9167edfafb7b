"""The write-up with a log, with the log written in any form and spoilt in any way."""

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, timezone

from benchgalley.records.bench import Trial
from benchgalley.records.findings import Problem
from tests.intake.tree import PEBBLE, PEBBLE_LOG, PEBBLE_TRIALS, Tree

START = datetime(2026, 9, 12, 12, 0, 0, tzinfo=UTC)
RUNS = ((8, 100), (58, 75), (108, 75), (158, 100))
"""(start in seconds after the log's, power limit in percent); each run lasts 40 s."""
LOCAL = timezone(timedelta(hours=2))


def readings() -> list[tuple[float, float, float]]:
    """(seconds, W, °C) once a second: a smooth made-up course, so that every expected mean can be worked out."""
    out = []
    for second in range(220):
        limit = next((pl for at, pl in RUNS if at <= second < at + 40), 0)
        power_w = {0: 18.0, 100: 114.0, 75: 88.5}[limit] + 0.4 * math.sin(0.9 * second)
        out.append((float(second), round(power_w, 2), round(45 + 8 * math.sin(second / 40), 1)))
    return out


@dataclass
class LogForm:
    """How the log is written down."""

    time_rule: str = "{header: Time, format: unix_s}"
    time: Callable[[float], str] = lambda s: f"{START.timestamp() + s:.0f}"
    time_heads: Sequence[str] = ("Time",)
    zone: str = ""
    separator: str = ","
    decimal: str = "."
    thousands: str = ""
    encoding: str = "utf-8"
    window: str = "{rule: fixed, skip_start_s: 10, skip_end_s: 2}"
    more: str = ""
    head: Sequence[str] = field(default_factory=lambda: ("Draw [mW]", "Core", "Note"))

    def number(self, value: float, decimals: int) -> str:
        text = f"{value:,.{decimals}f}" if self.thousands else f"{value:.{decimals}f}"
        return text.replace(",", "\0").replace(".", self.decimal).replace("\0", self.thousands)

    def lines(self, rows: Sequence[tuple[float, float, float]]) -> list[str]:
        lines = [self.separator.join([*self.time_heads, *self.head])]
        for second, power_w, core_c in rows:
            cells = [*self.time(second).split("\0"), self.number(power_w * 1000, 0), self.number(core_c, 1), "ok"]
            lines.append(self.separator.join(cells))
        return lines

    def rules(self) -> str:
        zone = f"\n  time_zone: {self.zone!r}" if self.zone else ""
        thousands = f"\n  thousands: {self.thousands!r}" if self.thousands else ""
        separator = {"\t": "tab"}.get(self.separator, self.separator)
        return (
            f"logs:\n  columns:\n    board_power_w: {{header: 'Draw [mW]', unit: mW}}\n    core_temp_c: Core\n"
            f"  time: {self.time_rule}{zone}{thousands}\n  separator: {separator!r}\n  decimal: {self.decimal!r}\n"
            f"  encoding: {self.encoding}\n  window: {self.window}\n{self.more}"
        )


def write(tree: Tree, form: LogForm, lines: Sequence[str] | None = None, *, end: str = "\n") -> Tree:
    """Put the log and its rules into the write-up."""
    rows = lines if lines is not None else form.lines(readings())
    tree.write(PEBBLE_LOG, ("\n".join(rows) + end).encode(form.encoding))
    front = tree.text(PEBBLE)
    start, stop = front.index("logs:\n"), front.index("margins:")
    tree.write(PEBBLE, front[:start] + form.rules() + front[stop:])
    table = ["trial,power_limit_pct,outcome,score,duration_s,started,log"]
    for i, (at, limit) in enumerate(RUNS, 1):
        started = (START + timedelta(seconds=at)).astimezone(LOCAL).isoformat()
        table.append(f"p{i},{limit},completed,{500 + i},40,{started},logs/evening.csv")
    return tree.write(PEBBLE_TRIALS, "\n".join(table) + "\n")


def result(tree: Tree) -> tuple[tuple[Trial, ...], tuple[Problem, ...]]:
    """Trials of the write-up (none when it has errors) and every problem."""
    site, problems = tree.read()
    assert site is not None
    write_up = site.write_ups.get("pebble-by-log")
    return (write_up.trials if write_up else ()), problems


def expected_mean(at: int, column: int, skip_start_s: int = 10, skip_end_s: int = 2) -> float:
    """Trapezoid mean of a run's window, worked out by hand from the readings."""
    values = [row[column] for row in readings() if at + skip_start_s <= row[0] <= at + 40 - skip_end_s]
    return (math.fsum(values) - (values[0] + values[-1]) / 2) / (len(values) - 1)


def damage(lines: list[str], rng: random.Random) -> tuple[str, bytes]:
    """One fault at a random place: (what it is, the bytes of the spoilt log)."""
    at = rng.randrange(1, len(lines))
    fault = rng.choice(FAULTS)
    return fault.__name__, fault(list(lines), at, rng)


def _join(lines: Sequence[str]) -> bytes:
    return ("\n".join(lines) + "\n").encode()


def lines_missing(lines: list[str], at: int, rng: random.Random) -> bytes:
    del lines[at : at + rng.choice((1, 2, 5, 15, 60))]
    return _join(lines)


def lines_twice(lines: list[str], at: int, rng: random.Random) -> bytes:
    stop = at + rng.choice((1, 2, 5, 30))
    return _join([*lines[:stop], *lines[at:]])


def lines_swapped(lines: list[str], at: int, rng: random.Random) -> bytes:
    other = min(len(lines) - 1, at + rng.choice((1, 2, 3)))
    lines[at], lines[other] = lines[other], lines[at]
    return _join(lines)


def file_cut_off(lines: list[str], at: int, rng: random.Random) -> bytes:
    data = _join(lines)
    return data[: rng.randrange(len(lines[0]) + 2, len(data))]


def line_cut_off(lines: list[str], at: int, rng: random.Random) -> bytes:
    # Up to the end of the last needed column: a number cut off in the middle must not be read as a number.
    lines[at] = lines[at][: rng.randrange(0, lines[at].rindex(",") + 1)]
    return _join(lines)


def cell_replaced(lines: list[str], at: int, rng: random.Random) -> bytes:
    cells = lines[at].split(",")
    cells[rng.randrange(len(cells))] = rng.choice(
        ("N/A", "", "-", "ERR", "nan", "inf", "0x1F", "12:30", "---", "1.2.3")
    )
    lines[at] = ",".join(cells)
    return _join(lines)


def header_again(lines: list[str], at: int, rng: random.Random) -> bytes:
    return _join([*lines[:at], lines[0], *lines[at:]])


def blank_lines(lines: list[str], at: int, rng: random.Random) -> bytes:
    return _join([*lines[:at], *[rng.choice(("", ",,,", "   "))] * rng.choice((1, 3)), *lines[at:]])


def clock_set(lines: list[str], at: int, rng: random.Random) -> bytes:
    by = rng.choice((-3600, 3600, -20, 20, -7, 7, -90, 90))
    moved = []
    for line in lines[at:]:
        time, _, rest = line.partition(",")
        moved.append(f"{int(time) + by},{rest}")
    return _join([*lines[:at], *moved])


def cell_too_many(lines: list[str], at: int, rng: random.Random) -> bytes:
    cells = lines[at].split(",")
    cells.insert(rng.randrange(len(cells)), rng.choice(("0", "x", "114000")))
    lines[at] = ",".join(cells)
    return _join(lines)


def cell_missing(lines: list[str], at: int, rng: random.Random) -> bytes:
    cells = lines[at].split(",")
    del cells[rng.randrange(len(cells))]
    lines[at] = ",".join(cells)
    return _join(lines)


def decimal_comma(lines: list[str], at: int, rng: random.Random) -> bytes:
    return _join([*lines[:at], *(line.replace(".", ",") for line in lines[at : at + 5]), *lines[at + 5 :]])


def odd_bytes(lines: list[str], at: int, rng: random.Random) -> bytes:
    data = bytearray(_join(lines))
    where = rng.randrange(len(lines[0]) + 2, len(data) - 1)
    data[where:where] = rng.choice((b"\xff\xfe", b"\x00", b"\xe9", b"\x1a", b'"', b"\r", b"\xc2\xa0"))
    return bytes(data)


def column_swapped(lines: list[str], at: int, rng: random.Random) -> bytes:
    lines[0] = lines[0].replace("Draw [mW]", "Draw [W]")
    return _join(lines)


FAULTS: tuple[Callable[[list[str], int, random.Random], bytes], ...] = (
    lines_missing, lines_twice, lines_swapped, file_cut_off, line_cut_off, cell_replaced, header_again, blank_lines,
    clock_set, cell_too_many, cell_missing, decimal_comma, odd_bytes, column_swapped,
)  # fmt: skip
