"""Times of a log as seconds of one clock, whatever the format; clocks that were set are resolved or told."""

import datetime
import re
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .log_header import LogPlan, open_encoding
from .log_rows import Floats, LogPart
from .log_stamps import plain_stamps
from .problem_list import ProblemList, clip
from .trials import zone_of

Column = Any
"""A pandas series; pandas is heavy and imported only inside the functions that read logs."""

_EARLIEST_UNIX_S, _LATEST_UNIX_S = 3e8, 1e11
_STAMP = re.compile(
    r"[0-9]{4}-?[0-9]{2}-?[0-9]{2}[T ][0-9]{2}:?[0-9]{2}(?::?[0-9]{2}(?:[.,][0-9]+)?)?"
    r" ?(?P<zone>Z|[+-][0-9]{2}(?::?[0-9]{2})?)?"
)
"""A date and a time of day to the minute at least, every part with all its digits (ISO 8601)."""
_LEAP_SECOND = "6[01]"
_LONG_FRACTION = re.compile(r"([.,][0-9]{6})[0-9]+")


@dataclass(slots=True)
class Clock:
    """Turns the times of one log into seconds after one base; carries what one part must know of the part before."""

    plan: LogPlan
    format: str
    zone: str
    pattern: str
    base_s: int
    """UTC seconds since 1970 that all times are counted from, near the runs: so no digit is lost."""
    origin_s: float
    """What `elapsed_s` counts from, seconds after the base."""
    problems: ProblemList
    met_unclear: bool = False
    """A time so far lay in an hour that happened twice: the parts of the log cannot be read apart."""
    _last_s: float = field(default=float("nan"))
    _second_pass: bool = False
    _told: set[str] = field(default_factory=set)

    def seconds(self, part: LogPart) -> Floats:
        """Seconds after the base of every row of a part; NaN where a problem was told."""
        if part.time_number is not None:
            return self._from_numbers(part)
        if part.time_text is not None:
            return self._from_text(part.time_text, part.lines)
        return self._from_stamps(part.time_stamps, part.lines)

    def _tell_once(self, rule: str, line: int, message: str, mend: str) -> None:
        if rule not in self._told:
            self._told.add(rule)
            self.problems.add(self.plan.problem(rule, line, message, mend))

    def _from_numbers(self, part: LogPart) -> Floats:
        values = part.time_number
        assert values is not None
        if not part.whole and (missing := np.isnan(values)).any():
            self._tell_once(
                "bad-time",
                int(part.lines[int(np.argmax(missing))]),
                f"{int(missing.sum())} readings have no time, the first here",
                "Remove or mend them.",
            )
        if self.format == "elapsed_s":
            return values + self.origin_s
        in_one_s = 1000 if self.format == "unix_ms" else 1
        earliest, latest = _EARLIEST_UNIX_S * in_one_s, _LATEST_UNIX_S * in_one_s
        if len(values) and not earliest <= float(values.min()) <= float(values.max()) <= latest:
            off = (values < earliest) | (values > latest)
            if off.any():
                self._tell_no_date(values, off, part.lines)
                values = np.where(off, np.nan, values)
        # The base is taken off first: two times this near have an exact difference, and dividing rounds it once.
        since = values - float(self.base_s * in_one_s)
        return since if in_one_s == 1 else since / in_one_s

    def _tell_no_date(self, values: Floats, off: NDArray[np.bool_], lines: NDArray[np.int64]) -> None:
        at = int(np.argmax(off))
        self._tell_once(
            "bad-time",
            int(lines[at]),
            f"the time {float(values[at]):.15g} is no date of our age as {self.format}",
            "Check `logs.time.format`: unix_s, unix_ms or elapsed_s.",
        )

    def _from_stamps(self, stamps: tuple[NDArray[np.bytes_], ...], lines: NDArray[np.int64]) -> Floats:
        """Times of a clean block: in bulk when all are written alike, else one by one."""
        found = None if self.pattern or len(stamps) > 1 else plain_stamps(stamps[0])
        if found is not None and found.suffix and self.format != "local":
            # Whole microseconds to the end: one rounding, as where times are read one by one.
            return (found.microseconds - (self.base_s + found.offset_s) * 1_000_000) / 1e6
        import pandas as pd

        if found is None or found.suffix or not self.zone:
            cells = [pd.Series(np.char.decode(column, open_encoding(self.plan))).str.strip() for column in stamps]
            return self._from_text(cells[0] if len(cells) == 1 else cells[0] + " " + cells[1], lines)
        return self._localised(pd.Series(found.microseconds.view("datetime64[us]")), lines)

    def _from_text(self, text: Column, lines: NDArray[np.int64]) -> Floats:
        import pandas as pd

        if not len(text):
            return np.empty(0)
        how = self.pattern or "ISO8601"
        try:
            moments: Any = pd.to_datetime(text, format=how, errors="coerce")
        except ValueError:
            moments = self._mixed(text, lines)
        moments = moments.where(~self._misread(text, moments))
        bad = moments.isna().to_numpy()
        if bad.any():
            at = int(np.argmax(bad))
            self._tell_once(
                "bad-time",
                int(lines[at]),
                f"the time is `{clip(str(text.iloc[at]))}` ({int(bad.sum())} such); {self._expected()} was expected",
                "Check `logs.time` in write-up.md, or the line itself.",
            )
        if getattr(moments.dt, "tz", None) is not None:
            if self.format == "local":
                self._tell_once(
                    "bad-time",
                    int(lines[0]),
                    "the times carry a zone, but the format is `local`",
                    "Say `format: iso8601`.",
                )
            return self._since_base(moments.dt.tz_convert("UTC").dt.tz_localize(None))
        if not self.zone:
            self._tell_once(
                "time-without-zone",
                int(lines[0]),
                "the times carry no zone",
                'Give `logs.time_zone`, such as "+01:00".',
            )
            return np.full(len(text), np.nan)
        return self._localised(moments, lines)

    def _misread(self, text: Column, moments: Column) -> NDArray[np.bool_]:
        """Times that the reader takes although they are none: of cells cut short, and second 60 or 61."""
        if not self.pattern:
            misread: NDArray[np.bool_] = ~text.str.fullmatch(_STAMP.pattern).to_numpy(dtype=bool)
            return misread
        # A minute that is said to have more seconds turned into the first ones of the next.
        misread = moments.dt.second.isin((0, 1)).to_numpy() & text.str.contains(_LEAP_SECOND).to_numpy(bool)
        for at in np.flatnonzero(misread).tolist():
            try:
                datetime.datetime.strptime(_LONG_FRACTION.sub(r"\1", text.iloc[at]), self.pattern)
                misread[at] = False
            except ValueError:
                continue
        return misread

    def _expected(self) -> str:
        return f"a time written as {self.pattern}" if self.pattern else "a date and time as in ISO 8601"

    def _mixed(self, text: Column, lines: NDArray[np.int64]) -> Column:
        """Several offsets in one log (a clock change, written out): fine when every time has its own."""
        import pandas as pd

        found = map(_STAMP.fullmatch, text)
        zoned = np.array([stamp is not None and stamp["zone"] is not None for stamp in found])
        if not zoned.all():
            self._tell_once(
                "time-without-zone",
                int(lines[int(np.argmax(~zoned))]),
                "some times of the log carry a zone and some do not",
                "Write them all in one way.",
            )
        moments: Any = pd.to_datetime(text, format="ISO8601", errors="coerce", utc=True)
        return moments.where(zoned)

    def _localised(self, moments: Column, lines: NDArray[np.int64]) -> Floats:
        zone = zone_of(self.zone)
        if isinstance(zone, datetime.timezone):
            return self._since_base(moments) - zone.utcoffset(None).total_seconds()
        every = np.ones(len(moments), dtype=bool)
        first = (
            moments.dt.tz_localize(zone, ambiguous=every, nonexistent="NaT").dt.tz_convert("UTC").dt.tz_localize(None)
        )
        skipped = (first.isna() & moments.notna()).to_numpy()
        if skipped.any():
            at = int(np.argmax(skipped))
            self._tell_once(
                "bad-time",
                int(lines[at]),
                f"the time {moments.iloc[at]} did not happen in {self.zone}: the clocks were put forward",
                "Check `logs.time_zone`.",
            )
        second = (
            moments.dt.tz_localize(zone, ambiguous=~every, nonexistent="NaT").dt.tz_convert("UTC").dt.tz_localize(None)
        )
        early, late = self._since_base(first), self._since_base(second)
        return self._chosen(early, late, lines)

    def _chosen(self, early: Floats, late: Floats, lines: NDArray[np.int64]) -> Floats:
        """The hour that happens twice: the first pass until the clock jumps back, then the second."""
        unclear = early != late
        unclear &= ~np.isnan(early)
        chosen = early.copy()
        self.met_unclear = self.met_unclear or bool(unclear.any())
        for i in np.flatnonzero(unclear).tolist():
            before = float(chosen[i - 1]) if i else self._last_s
            if not (i and unclear[i - 1]) and (i or not self._second_pass):
                self._second_pass = self._starts_in_second_pass(early, late, unclear, before, i, int(lines[i]))
            elif not self._second_pass and early[i] < before - _near_s(early, late, i):
                self._second_pass = True
            if self._second_pass:
                chosen[i] = late[i]
        if len(chosen):
            self._last_s = float(chosen[-1])
            if not unclear[-1]:
                self._second_pass = False
        return chosen

    def _starts_in_second_pass(
        self, early: Floats, late: Floats, unclear: NDArray[np.bool_], before: float, i: int, line: int
    ) -> bool:
        """Whether the first reading of an hour that happens twice belongs to its second pass."""
        near_s = _near_s(early, late, i)
        if abs(early[i] - before) <= near_s:
            return False
        if abs(late[i] - before) <= near_s:
            return True
        stretch = int(np.argmin(unclear[i:])) or len(unclear) - i
        end = i + stretch
        jumps = bool((np.diff(early[i:end]) < -near_s).any())
        if jumps:
            return False
        if end < len(early) and abs(early[end] - late[end - 1]) <= near_s:
            return True
        self._tell_once(
            "ambiguous-time",
            line,
            f"this hour happened twice in {self.zone} and nothing tells which is meant",
            "Log in UTC, or give times with their offset.",
        )
        return False

    def _since_base(self, moments: Column) -> Floats:
        """Seconds after the base of times in UTC; whole microseconds are subtracted, so no digit is lost."""
        stamps = moments.to_numpy(dtype="datetime64[us]")
        seconds: Floats = (stamps.astype(np.int64) - self.base_s * 1_000_000).astype(np.float64) / 1e6
        seconds[np.isnat(stamps)] = np.nan
        return seconds


def _near_s(early: Floats, late: Floats, i: int) -> float:
    """Readings this close to a moment settle on which side of a clock change they lie: half of what is put back."""
    return float(late[i] - early[i]) / 2
