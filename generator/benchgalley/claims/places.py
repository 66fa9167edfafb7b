"""Where a stretch of text stands in its file, its source line and its sentence."""

import re
from collections.abc import Sequence
from functools import lru_cache

from benchgalley.records.findings import Location
from benchgalley.records.write_up import Text, TextLink

_SENTENCE_END = re.compile(r"[.!?][\"”’')\]]*\s+(?=[A-Z0-9\"“‘(\[\u2212-])")
_NOT_AN_END = re.compile(r"(?:\b(?:e\.g|i\.e|ca|cf|approx|no|nos|vs|fig|sec|dr|mr|ms|st)|\b[A-Z])\.$", re.IGNORECASE)


def location(text: Text, start: int, end: int, link: TextLink | None = None) -> Location:
    """Place of `text.text[start:end]`; of the link's destination when the stretch is empty."""
    if start < end <= len(text.positions):
        line, column = text.positions[start]
        end_line, end_column = text.positions[end - 1]
        return Location(file=text.file, line=line, column=column, end_line=end_line, end_column=end_column + 1)
    if link is not None and link.destination_at is not None:
        line, column, length = link.destination_at
        return Location(file=text.file, line=line, column=column, end_line=line, end_column=column + length)
    line, column = text.positions[min(start, len(text.positions) - 1)] if text.positions else (1, 1)
    return Location(file=text.file, line=line, column=column, end_line=line, end_column=column + 1)


@lru_cache(maxsize=4)  # a text is asked about many times in a row, then never again
def _sentence_ends(text: str) -> tuple[tuple[int, int], ...]:
    """(end of a sentence, start of the next) for every boundary inside a text."""
    return tuple(
        (match.start() + 1, match.end())
        for match in _SENTENCE_END.finditer(text)
        if text[match.start()] != "." or not _NOT_AN_END.search(text[max(0, match.start() - 8) : match.start() + 1])
    )


def sentences(text: str) -> list[tuple[int, int]]:
    """Stretches of the sentences, each up to the start of the next."""
    starts = [0, *(following for _, following in _sentence_ends(text))]
    return list(zip(starts, [*starts[1:], len(text)], strict=True))


def sentence_span(text: str, start: int, end: int) -> tuple[int, int]:
    """Start and end of the sentence round a stretch."""
    low, high = 0, len(text)
    for sentence_end, following in _sentence_ends(text):
        if following <= start:
            low = following
        elif sentence_end >= end:
            high = sentence_end
            break
    return low, high


def sentence(text: str, start: int, end: int) -> str:
    """The sentence round a stretch."""
    low, high = sentence_span(text, start, end)
    return text[low:high].strip()


def source_lines(source: str) -> list[str]:
    """Lines of a file without their ends; CR LF, LF and CR all end a line."""
    return re.split(r"\r\n|\r|\n", source)


def source_line(lines: Sequence[str], where: Location) -> str:
    """The line of the file a location begins on; empty when it is not in the file."""
    return lines[where.line - 1] if 0 < where.line <= len(lines) else ""
