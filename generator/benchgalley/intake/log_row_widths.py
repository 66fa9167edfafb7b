"""How many cells each row of a log has: the reader of tables fills up short rows and cuts long ones without a word."""

import csv
import io
from collections.abc import Iterator
from typing import TextIO

import numpy as np
from numpy.typing import NDArray

Widths = NDArray[np.int64]

_PIECE = 1 << 18


class CountedRows:
    """Rows of a log on their way to the reader, behind one empty row that is wider than the header by a cell.

    The reader takes the number of columns from the first row; with the empty row it sees one more than there should
    be, whatever the rows are like.
    """

    def __init__(self, handle: TextIO, separator: str, width: int) -> None:
        self._handle, self._separator = handle, separator
        self._counted: list[Widths] = [np.array([width + 1])]
        self._first = separator * width + "\n"

    def read(self, size: int = -1) -> str:
        """Some whole rows, about as many characters as asked for."""
        if self._first:
            first, self._first = self._first, ""
            return first
        text = self._handle.read(size if size > 0 else _PIECE)
        if text and not text.endswith("\n"):
            text += self._handle.readline()
        if not text:
            return ""
        if '"' in text:
            return self._quoted(text)
        self._counted.append(_plain_widths(text, self._separator))
        return text

    def __iter__(self) -> Iterator[str]:
        while text := self.read():
            yield text

    def widths(self, rows: int) -> Widths:
        """Cells of each of the next rows. Raises ValueError when the reader found more rows than were counted."""
        counted = np.concatenate(self._counted)
        if len(counted) < rows:
            raise ValueError("its rows cannot be told apart")
        self._counted = [counted[rows:]]
        return counted[:rows]

    def _quoted(self, text: str) -> str:
        """Rows that may hold line ends between quotes: read on to the end of the last of them."""
        given, more, widths = list(io.StringIO(text, newline="")), [], []
        left = len(given)

        def every() -> Iterator[str]:
            nonlocal left
            for line in given:
                left -= 1
                yield line
            while line := self._handle.readline():
                more.append(line)
                yield line

        try:
            for row in csv.reader(every(), delimiter=self._separator, skipinitialspace=True):
                widths.append(len(row))
                if not left:
                    break
        except csv.Error as error:
            raise ValueError(str(error)) from None
        self._counted.append(np.array(widths, np.int64))
        return "".join([text, *more])


def _plain_widths(text: str, separator: str) -> Widths:
    """Cells of each line of a text without quotes.

    >>> _plain_widths("1,2,3\\r\\n4\\n,5", ",").tolist()
    [3, 1, 2]
    """
    lines = text.replace("\r\n", "\n").replace("\r", "\n")
    if not lines.endswith("\n"):
        lines += "\n"
    letters = (
        np.frombuffer(lines.encode(), np.uint8) if lines.isascii() else np.frombuffer(lines.encode("utf-32-le"), "<u4")
    )
    before = np.searchsorted(np.flatnonzero(letters == ord(separator)), np.flatnonzero(letters == ord("\n")))
    return np.diff(before, prepend=0) + 1
