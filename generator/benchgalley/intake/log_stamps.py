"""Dates and times of ISO 8601 in bulk: a column of them written all alike, read digit by digit as arrays."""

import re
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

_FORM = re.compile(
    rb"[0-9]{4}-[0-9]{2}-[0-9]{2}[T ][0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,6})?(Z|[+-][0-9]{2}:[0-9]{2})?"
)
_SECONDS = 19
"""Length of a date and time in whole seconds."""
_TENS = ((11, 36_000), (12, 3_600), (14, 600), (15, 60), (17, 10), (18, 1))
"""Place of each digit of the time of day, and the seconds it counts."""


class Stamps(NamedTuple):
    """A column of times."""

    microseconds: NDArray[np.int64]
    """Since 1970 as written, the offset not yet taken off."""
    suffix: str
    """`Z`, an offset, or empty."""
    offset_s: int
    """What the suffix says, seconds east."""


def plain_stamps(column: NDArray[np.bytes_]) -> Stamps | None:
    """The times of a column; None unless every cell is a valid time of one form and one offset.

    Parameters
    ----------
    column
        Fixed-width bytes, filled up with NUL.
    """
    if not len(column) or (form := _FORM.fullmatch(bytes(column[0]))) is None:
        return None
    letters = column.view(np.uint8).reshape(len(column), column.dtype.itemsize)
    length = len(column[0])
    suffix = form[2] or b""
    digits = np.zeros(letters.shape[1], dtype=bool)
    digits[: length - len(suffix)] = [chr(byte).isdigit() for byte in column[0][: length - len(suffix)]]
    if not (letters[:, ~digits] == letters[0, ~digits]).all():
        return None
    if ((letters[:, digits] - np.uint8(48)) > 9).any():
        return None
    days = _days(letters)
    if days is None or not _is_time_of_day(letters):
        return None
    micro = sum(((letters[:, at].astype(np.int64) - 48) * weight for at, weight in _TENS), start=days * 86_400)
    micro *= 1_000_000
    for place in range(len(form[1] or b".") - 1):
        micro += (letters[:, _SECONDS + 1 + place].astype(np.int64) - 48) * 10 ** (5 - place)
    return Stamps(micro, suffix.decode(), _offset_s(suffix.decode()))


def _days(letters: NDArray[np.uint8]) -> NDArray[np.int64] | None:
    """Days since 1970 of every row; None when one is no date. Rows of one day are read once."""
    dates = np.ascontiguousarray(letters[:, :10])
    new = np.concatenate([[True], (dates[1:] != dates[:-1]).any(axis=1)])
    try:
        known = dates[new].view("S10").ravel().astype(np.str_).astype("datetime64[D]").astype(np.int64)
    except ValueError:
        return None
    days: NDArray[np.int64] = np.repeat(known, np.diff(np.append(np.flatnonzero(new), len(new))))
    return days


def _is_time_of_day(letters: NDArray[np.uint8]) -> bool:
    hours_fit = (letters[:, 11] < 50) | ((letters[:, 11] == 50) & (letters[:, 12] < 52))
    return bool(hours_fit.all() and (letters[:, 14] < 54).all() and (letters[:, 17] < 54).all())


def _offset_s(suffix: str) -> int:
    if suffix in ("", "Z"):
        return 0
    seconds = 3600 * int(suffix[1:3]) + 60 * int(suffix[4:6])
    return -seconds if suffix[0] == "-" else seconds
