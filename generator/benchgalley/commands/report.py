"""Problems for people and for scripts: the text form and the JSON form."""

import json
import unicodedata
from collections.abc import Sequence
from typing import Any

from benchgalley.records.findings import Problem, Severity

CLAIM_RULES = frozenset(
    {
        "disagrees",
        "unsupported",
        "unjudged",
        "unbound-number",
        "unbound-word",
        "inconsistent",
        "percentage-without-base",
        "unused-acceptance",
        "changed-without-revision",
    }
)
"""Rules about sentences; everything else is about files that could not be read as they stand."""

_WIDEST_SOURCE = 110
"""Characters of a source line shown around the caret; prose lines can be a paragraph long."""


def plain(text: str) -> str:
    """Text without control characters: what stands in a content file must not steer the terminal."""
    return "".join(c if c in "\n\t" or unicodedata.category(c)[0] != "C" else "\ufffd" for c in text)


def as_text(problems: Sequence[Problem]) -> str:
    """One paragraph a problem: place and rule, what is wrong, the source line with a caret, the cure."""
    return "\n".join(_paragraph(p) for p in problems)


def _paragraph(problem: Problem) -> str:
    where = problem.where
    word = problem.rule if problem.severity is Severity.ERROR else f"{problem.rule} (warning)"
    lines = [f"{where.file}:{where.line}:{where.column}: {word}", f"  {problem.message}"]
    if problem.source_line.strip():
        lines += _pointed(problem)
    if problem.mend:
        lines.append(f"  {problem.mend}")
    return plain("\n".join(lines)) + "\n"


def _pointed(problem: Problem) -> list[str]:
    where = problem.where
    line = problem.source_line.rstrip("\n").replace("\t", " ")
    start = max(where.column - 1, 0)
    same_line = where.end_line in (0, where.line)
    end = where.end_column - 1 if where.end_column and same_line else start + 1
    first = max(0, min(start - 40, len(line) - _WIDEST_SOURCE))
    shown = line[first : first + _WIDEST_SOURCE]
    indent = len(shown) - len(shown.lstrip())
    width = max(1, min(end, first + _WIDEST_SOURCE) - start)
    caret = " " * max(0, start - first - indent) + "^" + "~" * (width - 1)
    return [f"    {shown.strip()}", f"    {caret}"]


def as_data(problem: Problem) -> dict[str, Any]:
    """One problem as plain data."""
    where = problem.where
    return {
        "rule": problem.rule,
        "severity": problem.severity.value,
        "file": where.file,
        "line": where.line,
        "column": where.column,
        "end_line": where.end_line or where.line,
        "end_column": where.end_column or where.column + 1,
        "message": problem.message,
        "mend": problem.mend,
        "address": problem.address,
        "stated": problem.stated,
        "computed": problem.computed,
    }


def as_json(problems: Sequence[Problem]) -> str:
    """All problems as one JSON document."""
    errors = sum(p.severity is Severity.ERROR for p in problems)
    document = {
        "problems": [as_data(p) for p in problems],
        "errors": errors,
        "warnings": len(problems) - errors,
    }
    return json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False)
