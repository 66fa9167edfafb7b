"""Cells of a clean block in bulk: where each one ends, and what number or text it holds.

Numbers are read eight digits at a time, as one 64-bit integer for every row. A cell of up to sixteen characters
holds at most sixteen digits: its digits without the point are then an integer, and that integer over a power of ten
is the nearest float to the decimal number (both are exact and a division rounds once; sixteen digits occur without a
point only, where nothing is divided). So every cell gives the same bits as the language's own reading of its text.
Anything else (exponents, longer cells, `N/A`, empty cells) is left to slower rules: the answer is then None.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Places = NDArray[np.int64]
Words = NDArray[np.uint64]

LONGEST_NUMBER = 16
"""Characters of a number that is read here."""
_LEAD = b"0" * LONGEST_NUMBER
_FIRST_PRINTED = 14
"""Bytes below this one are line ends, tabs and other signs that no cell holds."""
_NO_POINT = 8


def _word(value: int) -> np.uint64:
    return np.uint64(value & (1 << 64) - 1)


def _last(count: int) -> int:
    """Mask of the last so many of the eight characters of a word; the first one is its lowest byte."""
    return (1 << 64) - (1 << 8 * (8 - min(max(count, 0), 8)))


_ZEROS = _word(0x3030303030303030)
_ABOVE_NINE = _word(0x7676767676767676)
_HIGH_BITS = _word(0x8080808080808080)
_ONES = _word(0x0101010101010101)
_KEPT_LOW = np.array([_last(length) for length in range(17)], dtype=np.uint64)
_KEPT_HIGH = np.array([_last(length - 8) for length in range(17)], dtype=np.uint64)
# By the number of digits behind the point; the last entry is for cells without one.
_BEHIND = np.array([*(_last(count) for count in range(8)), _last(8)], dtype=np.uint64)
_BEFORE = np.array([*((1 << 8 * (7 - count)) - 1 for count in range(8)), 0], dtype=np.uint64)
_MOVED = np.array([*[8] * 8, 0], dtype=np.uint64)
_CARRIED = np.array([*[0xFF] * 8, 0], dtype=np.uint64)
_SCALE = np.array([*(10.0**count for count in range(8)), 1.0])
_PLACE_OF_BYTE = _word(0x0706050403020100)
_EIGHT_DIGITS = 100_000_000


@dataclass(frozen=True, slots=True)
class Cells:
    """A block taken apart."""

    padded: bytes
    """The block between bytes that belong to no cell, so that every word around a cell can be read."""
    ends: Places
    """Of every cell, row by row: the place of the separator or line end behind it."""
    width: int

    @property
    def rows(self) -> int:
        """Number of rows."""
        return self.ends.size // self.width

    def end_of(self, column: int) -> Places:
        """Place behind the last character of every cell of a column."""
        return self.ends[column :: self.width]

    def start_of(self, column: int) -> Places:
        """Place of the first character of every cell of a column."""
        if column:
            return self.ends[column - 1 :: self.width] + 1
        starts = np.empty(self.rows, dtype=np.int64)
        starts[0] = 0
        np.add(self.ends[self.width - 1 : -1 : self.width], 1, out=starts[1:])
        return starts

    def words_before(self, end: Places) -> Words:
        """The eight characters before each place, as integers: the parts of two aligned words, joined."""
        aligned: Words = np.frombuffer(self.padded, "<u8", len(self.padded) // 8)
        at = end + (len(_LEAD) - 8)
        which = at >> 3
        shift = (at & 7).astype(np.uint64)
        shift <<= np.uint64(3)
        found = aligned.take(which)
        found >>= shift
        which += 1
        above = aligned.take(which)
        # Where the shift is zero the upper word is shifted out altogether.
        above <<= np.uint64(64) - shift
        found |= above
        return found

    def word_pairs_before(self, end: Places) -> tuple[Words, Words]:
        """The sixteen characters before each place: the first eight, and the last eight."""
        sixteen = np.ndarray((len(self.padded) - 15,), "V16", self.padded, 0, (1,))
        pairs: Words = sixteen[end].view("<u8").reshape(-1, 2)
        return pairs[:, 0].copy(), pairs[:, 1].copy()


def cells_of(data: bytes, separator: bytes, width: int, longest_text: int) -> Cells | None:
    """The cells of some whole lines without quotes; None unless every row has `width` of them.

    Parameters
    ----------
    data
        Ends with a line end.
    separator
        One byte.
    width
        Cells a row.
    longest_text
        Longest text that will be asked for.
    """
    if data.endswith(b"\r\n"):
        if data.count(b"\r") != data.count(b"\n"):
            return None
        data = data.replace(b"\r\n", b"\n")
    letters = np.frombuffer(data, np.uint8)
    separates = letters == separator[0]
    marked = letters < _FIRST_PRINTED
    np.logical_or(marked, separates, out=marked)
    ends = np.flatnonzero(marked)
    rows, rest = divmod(ends.size, width)
    if not rows or rest or not (letters[ends[width - 1 :: width]] == ord("\n")).all():
        return None
    # Every mark that is no separator is then one of those line ends.
    if np.count_nonzero(separates) != rows * (width - 1):
        return None
    return Cells(b"".join((_LEAD, data, bytes(longest_text))), ends, width)


def texts(cells: Cells, column: int, longest: int, *, may_be_empty: bool) -> NDArray[np.bytes_] | None:
    """A column as bytes, filled up with NUL; None when a cell is longer than `longest`, or empty and may not be."""
    start = cells.start_of(column)
    length = cells.end_of(column) - start
    size = max(int(length.max()), 1)
    if size > longest or not (may_be_empty or length.all()):
        return None
    window: NDArray[np.bytes_] = np.ndarray(
        (len(cells.padded) - len(_LEAD) - size + 1,), f"S{size}", cells.padded, len(_LEAD), (1,)
    )
    found = window[start]
    if int(length.min()) < size:
        letters = found.view(np.uint8).reshape(-1, size)
        letters[np.arange(size) >= length[:, None]] = 0
    return found


def numbers(cells: Cells, column: int, decimal: str) -> Floats | None:
    """A column of plain decimal numbers; None when a cell is anything else."""
    start, end = cells.start_of(column), np.ascontiguousarray(cells.end_of(column))
    found = _read(cells, end, end - start, decimal, alike=True)
    return _with_signs(cells, start, end, decimal) if found is None else found


def _with_signs(cells: Cells, start: Places, end: Places, decimal: str) -> Floats | None:
    """Numbers that may have blanks around them, a minus before them, and points at different places."""
    if not (start < end).all():
        return None
    letters = np.frombuffer(cells.padded, np.uint8)[len(_LEAD) :]
    while (blank := letters[start] == ord(" ")).any() and (start < end).all():
        start += blank
    while (blank := letters[end - 1] == ord(" ")).any() and (start < end).all():
        end -= blank
    negative = letters[start] == ord("-")
    start += negative
    found = _read(cells, end, end - start, decimal, alike=False)
    if found is not None:
        np.negative(found, out=found, where=negative)
    return found


def _read(cells: Cells, end: Places, length: Places, decimal: str, *, alike: bool) -> Floats | None:
    """`length` characters before each `end` as numbers; `alike`: their points stand where that of the first does."""
    shortest, longest = int(length.min()), int(length.max())
    if shortest < 1 or longest > LONGEST_NUMBER:
        return None
    # One length for all, where there is one, spares a look into the tables for every row.
    size: Any = longest if shortest == longest else length
    high, low = (None, cells.words_before(end)) if longest <= 8 else cells.word_pairs_before(end)
    low ^= _ZEROS
    low &= _KEPT_LOW[size]
    point = ord(decimal) ^ 0x30
    places: Any
    if alike:
        places = _first_place(int(low[0]), point)
        if places != _NO_POINT:
            low ^= np.uint64(point << 56 - 8 * places)
            if int(np.bitwise_or.reduce(low)) >> 56 - 8 * places & 0xFF or shortest < 2:
                return None
    else:
        places = _places(low, point)
        if int(np.min(length - (places != _NO_POINT))) < 1:
            return None
    mantissa = _joined(low, places) if high is None else _long(high, low, places, size)
    if mantissa is None:
        return None
    found = mantissa.astype(np.float64)
    if not alike or places not in (0, _NO_POINT):
        found /= _SCALE[places]
    return found


def _joined(low: Words, places: Any, carried: Any = None) -> Places | None:
    """Eight digits as a number, the point taken out and a digit from the word before put in its place at the front."""
    before = low & _BEFORE[places]
    before <<= np.uint64(8)
    low &= _BEHIND[places]
    low |= before
    if carried is not None:
        low |= carried
    return _eight_digits(low)


def _long(high: Words, low: Words, places: Any, size: Any) -> Places | None:
    """More than eight digits as a number."""
    high ^= _ZEROS
    high &= _KEPT_HIGH[size]
    # The leading digits of a time, say, are the same for a whole block.
    if (high == high[0]).all():
        high = high[:1]
    ones = _joined(low, places, (high >> np.uint64(56)) & _CARRIED[places])
    high = high << _MOVED[places]
    tens = _eight_digits(high)
    if tens is None or ones is None:
        return None
    return tens * _EIGHT_DIGITS + ones


def _first_place(word: int, point: int) -> int:
    """Digits behind the point of one cell."""
    return next((count for count in range(8) if word >> 56 - 8 * count & 0xFF == point), _NO_POINT)


def _places(low: Words, point: int) -> Places:
    """Digits behind the point of every cell.

    The lowest byte that equals the point is the one whose high bit stays set in (x - 1) and not x, where x is the word
    with that byte made zero: a well-known exact test as long as nothing above that byte is looked at.
    """
    away = low ^ (_ONES * np.uint64(point))
    hit = (away - _ONES) & ~away & _HIGH_BITS
    lowest = hit & (~hit + np.uint64(1))
    places = ((lowest >> np.uint64(7)) * _PLACE_OF_BYTE >> np.uint64(56)).astype(np.int64)
    places[hit == 0] = _NO_POINT
    return places


def _eight_digits(word: Words) -> Places | None:
    """The number that eight digits from 0 to 9 write, first digit in the lowest byte; None if a byte is no digit."""
    over = word + _ABOVE_NINE
    over |= word
    if np.bitwise_or.reduce(over) & _HIGH_BITS:
        return None
    # Neighbours joined three times over: digits to pairs, pairs to fours, fours to eight.
    joined = word * _word(10 * 256 + 1)
    joined >>= np.uint64(8)
    joined &= _word(0x00FF00FF00FF00FF)
    joined *= _word(100 * 65536 + 1)
    joined >>= np.uint64(16)
    joined &= _word(0x0000FFFF0000FFFF)
    joined *= _word(10_000 * (1 << 32) + 1)
    joined >>= np.uint64(32)
    return joined.view(np.int64)
