"""Where each character of a YAML scalar's value stands in the source.

The scalar is decoded a second time, with places; when that does not give exactly the value libyaml read,
every character gets the place of the scalar's start, so a position may be coarse but a value is never wrong.
"""

import re
from collections.abc import Sequence
from itertools import repeat

from .yaml_nodes import Node

Place = tuple[int, int]
"""(line, column), from 1."""
Placed = list[tuple[str, Place]]

_SIMPLE_ESCAPES = {
    "0": "\0", "a": "\a", "b": "\b", "t": "\t", "\t": "\t", "n": "\n", "v": "\v", "f": "\f", "r": "\r",
    "e": "\x1b", " ": " ", '"': '"', "/": "/", "\\": "\\", "N": "\x85", "_": "\xa0", "L": "\u2028", "P": "\u2029",
}  # fmt: skip
_HEX_ESCAPES = {"x": 2, "u": 4, "U": 8}


def scalar_positions(node: Node, lines: Sequence[str]) -> list[Place]:
    """(line, column) of every character of `node.text` in the file with these lines."""
    start = node.column + bool(node.style)
    whole = node.line == node.end_line and node.end_column - bool(node.style) - start == len(node.text)
    if whole and lines[node.line - 1].startswith(node.text, start - 1):
        return list(zip(repeat(node.line), range(start, start + len(node.text))))  # the text as it stands in its line
    placed: Placed | None
    try:
        if node.style in ("|", ">"):
            placed = _block(node, lines)
        else:
            placed = _flow(node, lines)
    except (IndexError, ValueError):
        placed = None
    if placed is not None and "".join(character for character, _ in placed) == node.text:
        return [place for _, place in placed]
    return [(node.line, node.column)] * len(node.text)


def _region(node: Node, lines: Sequence[str]) -> list[Placed]:
    """The source lines of a flow scalar, cut to the scalar, each character with its place."""
    region: list[Placed] = []
    for number in range(node.line, node.end_line + 1):
        text = lines[number - 1]
        start = node.column - 1 if number == node.line else 0
        stop = node.end_column - 1 if number == node.end_line else len(text)
        region.append([(c, (number, i + 1)) for i, c in enumerate(text[start:stop], start)])
    return region


def _flow(node: Node, lines: Sequence[str]) -> Placed:
    region = _region(node, lines)
    if node.style:
        region[0] = region[0][1:]
        region[-1] = region[-1][:-1]
    if node.style == '"':
        return _folded_flow([_unescape(line) for line in region])
    if node.style == "'":
        region = [_undouble(line) for line in region]
    return _folded_flow(region)


def _undouble(line: Placed) -> Placed:
    out: Placed = []
    skip = False
    for i, (c, place) in enumerate(line):
        if skip:
            skip = False
            continue
        out.append((c, place))
        skip = c == "'" and i + 1 < len(line) and line[i + 1][0] == "'"
    return out


_ESCAPED_END = "\ue000"
"""Stands for a backslash at the end of a line: the line break is joined without a space."""


def _unescape(line: Placed) -> Placed:
    out: Placed = []
    i = 0
    while i < len(line):
        c, place = line[i]
        if c != "\\":
            out.append((c, place))
            i += 1
            continue
        if i + 1 == len(line):
            out.append((_ESCAPED_END, place))
            break
        escape = line[i + 1][0]
        if (digits := _HEX_ESCAPES.get(escape)) is not None:
            code = "".join(ch for ch, _ in line[i + 2 : i + 2 + digits])
            out.append((chr(int(code, 16)), place))
            i += 2 + digits
        else:
            # A blank escaped at a line's end is trimmed below though libyaml keeps it: then the values differ
            # and the caller falls back to the coarse place.
            out.append((_SIMPLE_ESCAPES[escape], place))
            i += 2
    return out


def _trim(line: Placed, *, left: bool, right: bool) -> Placed:
    start, stop = 0, len(line)
    if left:
        while start < stop and line[start][0] in " \t":
            start += 1
    if right:
        while stop > start and line[stop - 1][0] in " \t":
            stop -= 1
    return line[start:stop]


def _folded_flow(region: list[Placed]) -> Placed:
    last = len(region) - 1
    trimmed = [_trim(line, left=i > 0, right=i < last) for i, line in enumerate(region)]
    out = list(trimmed[0])
    empty: list[Place] = []
    for i, line in enumerate(trimmed[1:], 1):
        if not line and i < last:
            empty.append((_line_of(region, i), 1))
            continue
        if out and out[-1][0] == _ESCAPED_END:
            out.pop()
        elif empty:
            out.extend(("\n", place) for place in empty)
        else:
            out.append((" ", _end_of(region, i - 1, trimmed)))
        empty = []
        out.extend(line)
    return out


def _line_of(region: list[Placed], index: int) -> int:
    """Line number of a line of the region, which may be empty itself."""
    for distance in range(len(region)):
        for other in (index - distance, index + distance):
            if 0 <= other < len(region) and region[other]:
                return region[other][0][1][0] + index - other
    raise ValueError("a scalar without characters")


def _end_of(region: list[Placed], index: int, trimmed: list[Placed]) -> Place:
    line = trimmed[index]
    if line:
        number, column = line[-1][1]
        return number, column + 1
    return _line_of(region, index), 1


def _block(node: Node, lines: Sequence[str]) -> Placed:
    """Literal and folded block scalars (YAML 1.1, 9.3)."""
    header = lines[node.line - 1][node.column - 1 :]
    match = re.match(r"[|>]([+-]?)([1-9]?)([+-]?)", header)
    if match is None:
        raise ValueError("no block header")
    chomping = match[1] or match[3]
    last = node.end_line if node.end_column > 1 else node.end_line - 1
    numbers = list(range(node.line + 1, min(last, len(lines)) + 1))
    filled = [n for n in numbers if lines[n - 1].strip(" ")]
    if not filled:
        return []
    if match[2]:
        raise ValueError("an explicit indentation hangs on the parent's: not resolved here")
    indent = len(lines[filled[0] - 1]) - len(lines[filled[0] - 1].lstrip(" "))
    rows = [(n, lines[n - 1][indent:]) for n in numbers]
    while rows and not rows[-1][1]:
        rows.pop()
    out = _literal(rows, indent) if node.style == "|" else _folded_block(rows, indent)
    if chomping != "-" and node.text.endswith("\n"):
        number, text = rows[-1]
        ends = len(node.text) - len(node.text.rstrip("\n"))
        out.extend([("\n", (number, indent + len(text) + 1))] * ends)
    return out


def _literal(rows: list[tuple[int, str]], indent: int) -> Placed:
    out: Placed = []
    for i, (number, text) in enumerate(rows):
        out.extend((c, (number, indent + k)) for k, c in enumerate(text, 1))
        if i + 1 < len(rows):
            out.append(("\n", (number, indent + len(text) + 1)))
    return out


def _folded_block(rows: list[tuple[int, str]], indent: int) -> Placed:
    out: Placed = []
    breaks: list[Place] = []
    before_is_text = False
    for number, text in rows:
        if not text:
            breaks.append((number, 1))
            continue
        is_text = text[0] not in " \t"
        if out or breaks:
            out.extend(_joint(breaks, folds=before_is_text and is_text, started=bool(out)))
        out.extend((c, (number, indent + k)) for k, c in enumerate(text, 1))
        breaks = [(number, indent + len(text) + 1)]
        before_is_text = is_text
    return out


def _joint(breaks: list[Place], *, folds: bool, started: bool) -> Placed:
    """What stands between two filled lines: the first entry of `breaks` is the end of the line before."""
    if not started or not folds:
        return [("\n", place) for place in breaks]
    if len(breaks) == 1:
        return [(" ", breaks[0])]
    return [("\n", place) for place in breaks[1:]]
