"""A row of trials.csv with too many cells, looked at for numbers that a decimal comma has cut in two."""

from collections.abc import Sequence

from ..records.bench import Outcome
from ..records.quantity import BY_COLUMN, SETTING_BY_COLUMN
from .number_text import read_number

_MOST_CELLS = 60
_WORDS = {outcome.value for outcome in Outcome}


def split_number(columns: Sequence[str], cells: Sequence[str]) -> str:
    """The first number that a decimal comma has cut in two, as `196,2`; empty when that does not explain the row.

    Parameters
    ----------
    columns
        Canonical column of each header.
    cells
        Of one row, more than there are columns.

    Notes
    -----
    Pairs of cells are joined so that every column gets a cell of its kind. Where that can be done in several ways,
    the one with the fewest digits behind its commas is told: decimals are typed to a few places.
    """
    extra = len(cells) - len(columns)
    if not 0 < extra <= len(columns) or len(cells) > _MOST_CELLS:
        return ""
    # For each count of joined pairs so far: (digits behind commas, first joined number).
    best: dict[int, tuple[int, str]] = {0: (0, "")}
    for place, column in enumerate(columns):
        after: dict[int, tuple[int, str]] = {}
        for joined, (digits, first) in best.items():
            at = place + joined
            if at < len(cells) and _fits(column, cells[at]):
                _keep(after, joined, (digits, first))
            if joined < extra and at + 1 < len(cells) and _is_pair(column, cells[at], cells[at + 1]):
                number = first or f"{cells[at].strip()},{cells[at + 1].strip()}"
                _keep(after, joined + 1, (digits + len(cells[at + 1].strip()), number))
        best = after
    return best.get(extra, (0, ""))[1]


def _keep(found: dict[int, tuple[int, str]], joined: int, way: tuple[int, str]) -> None:
    if joined not in found or way[0] < found[joined][0]:
        found[joined] = way


def _is_number(column: str) -> bool:
    return column in BY_COLUMN or (column in SETTING_BY_COLUMN and SETTING_BY_COLUMN[column].unit is not None)


def _fits(column: str, cell: str) -> bool:
    text = cell.strip()
    if _is_number(column):
        return not text or read_number(text) is not None
    if column == "outcome":
        return text in _WORDS
    # A text that is nothing but digits is more likely one half of a number.
    return column == "trial" or not text.isdigit()


def _is_pair(column: str, whole: str, decimals: str) -> bool:
    return _is_number(column) and whole.strip().lstrip("-").isdigit() and decimals.strip().isdigit()
