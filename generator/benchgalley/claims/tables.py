"""A table's cells: the label of their row and the head of their column."""

from collections.abc import Sequence

from benchgalley.records.write_up import Text


def row_and_head(texts: Sequence[Text], index: int, lines: Sequence[str]) -> tuple[str, str]:
    """Label of the row and head of the column of the cell `texts[index]`; empty for the label and the head themselves.

    Columns are told by the bars before a cell in its source line, for empty cells have no text.
    """
    line = texts[index].positions[0][0]
    first = index
    while first > 0 and texts[first - 1].place == "table":
        first -= 1
    top = texts[first].positions[0][0]
    column = _bars(texts[index], lines)
    row = next((t for t in texts[first : index + 1] if t.positions[0][0] == line), texts[index])
    label = row.text if row is not texts[index] and _bars(row, lines) < column else ""
    if line == top:
        return label, ""
    heads = (t for t in texts[first : index + 1] if t.positions[0][0] == top)
    return label, next((t.text for t in heads if _bars(t, lines) == column), "")


def _bars(cell: Text, lines: Sequence[str]) -> int:
    """Cell bars before a cell in its source line."""
    line, column = cell.positions[0]
    before = lines[line - 1][: column - 1] if line <= len(lines) else ""
    return before.replace("\\|", "").removeprefix("|").count("|")
