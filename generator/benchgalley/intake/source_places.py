"""Where the content of an inline token stands in its file.

The parser strips container prefixes (`> `, list indents), heading marks and cell borders; what is left of a
line is always a stretch at its end, or a cell of its row. A content that is not found where it must be gets
the start of its line: a coarse place, never a wrong text.
"""

from collections.abc import Sequence
from itertools import repeat

from markdown_it.common.utils import mdTrim
from markdown_it.token import Token

from .scalar_positions import Place


def content_places(token: Token, lines: Sequence[str], first_line: int) -> list[Place]:
    """(line, column) of each character of a paragraph's or heading's content, and of the place after it."""
    start = token.map[0] if token.map else 0
    places: list[Place] = []
    for k, part in enumerate(token.content.split("\n")):
        text = lines[start + k] if start + k < len(lines) else ""
        column = _column(part, text, token.markup)
        number = start + k + first_line
        if column is None:
            places.extend([(number, 1)] * (len(part) + 1))
        elif column < 1:  # blanks of an expanded tab: they all stand at the line's start
            places.extend((number, max(1, column + i)) for i in range(len(part) + 1))
        else:
            places.extend(zip(repeat(number), range(column, column + len(part) + 1)))
    return places


def _column(part: str, line: str, markup: str) -> int | None:
    """Column of the line's stretch `part`; below 1 where a tab was expanded before it.

    The stretch ends the line but for blanks and a heading's closing marks.
    """
    bare = part.lstrip(" \t")
    indent = len(part) - len(bare)
    for end in (line, line.rstrip(" \t"), line.rstrip(" \t").rstrip("#").rstrip(" \t")):
        if end.endswith(bare):
            return len(end) - len(bare) - indent + 1
    return None


def row_places(cells: Sequence[Token], lines: Sequence[str], first_line: int) -> list[list[Place]]:
    """(line, column) of each character of each cell of one table row, and of the place after it."""
    at = cells[0].map[0] if cells and cells[0].map else 0
    number = at + first_line
    line = lines[at] if at < len(lines) else ""
    contents = [cell.content for cell in cells]
    for start in range(len(line)):
        if start and line[start - 1] not in " \t>-+*.)0123456789":
            break
        split = _split(line, start)
        padded = [mdTrim("".join(c for c, _ in cell)) for cell in split[: len(contents)]]
        padded += [""] * (len(contents) - len(padded))
        if padded == contents:
            return [_cell(split[i] if i < len(split) else [], text, number) for i, text in enumerate(contents)]
    return [[(number, 1)] * (len(text) + 1) for text in contents]


def _cell(cell: list[tuple[str, int]], text: str, number: int) -> list[Place]:
    if not text:
        return [(number, 1)]
    raw = "".join(c for c, _ in cell)
    start = raw.index(text)
    columns = [column for _, column in cell[start : start + len(text)]]
    return [(number, column) for column in (*columns, columns[-1] + 1)]


def _split(line: str, start: int) -> list[list[tuple[str, int]]]:
    """Cells of a table row as (character, column) lists; `\\|` is a bar inside a cell."""
    stop = len(line.rstrip(" \t"))
    while start < stop and line[start] in " \t":
        start += 1
    cells: list[list[tuple[str, int]]] = [[]]
    escaped = False
    for i in range(start, stop):
        c = line[i]
        if c == "|" and not escaped:
            cells.append([])
        elif c == "|":
            cells[-1][-1] = (c, i + 1)
        else:
            cells[-1].append((c, i + 1))
        escaped = c == "\\"
    if cells and not cells[0]:
        cells.pop(0)
    if cells and not cells[-1]:
        cells.pop()
    return cells
