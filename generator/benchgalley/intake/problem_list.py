"""Problems of one reading, gathered so that all are told at once."""

import difflib
from collections.abc import Iterable

from ..records.findings import Location, Problem, Severity

LONGEST_SHOWN_LINE = 400
"""A longer source line is not repeated under its problem: nobody can read a caret under it."""


class ProblemList:
    """Collects problems; the readers ask it whether anything new came in."""

    def __init__(self) -> None:
        self._problems: list[Problem] = []

    def add(self, problem: Problem) -> None:
        """Take one problem in."""
        self._problems.append(problem)

    def extend(self, problems: Iterable[Problem]) -> None:
        """Take several problems in."""
        self._problems.extend(problems)

    @property
    def errors(self) -> int:
        """Number of problems that stop a build, so far."""
        return sum(p.severity is Severity.ERROR for p in self._problems)

    def sorted(self) -> tuple[Problem, ...]:
        """Every problem once, by file, line and column."""
        unique = dict.fromkeys(self._problems)
        return tuple(sorted(unique, key=lambda p: (p.where.file, p.where.line, p.where.column, p.rule)))


class SourceText:
    """One text file: what problems need to point into it."""

    def __init__(self, file: str, text: str) -> None:
        self.file = file
        """Relative to the site's root."""
        self.text = text
        """Decoded, without byte-order mark, line ends as in the file."""
        self._lines: list[str] | None = None

    @property
    def lines(self) -> list[str]:
        """Lines without their ends; CR LF, LF and CR all end a line."""
        if self._lines is None:
            self._lines = self.text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
        return self._lines

    def line(self, number: int) -> str:
        """Line `number`, from 1; empty when there is none or it is too long to show."""
        lines = self.lines
        text = lines[number - 1] if 1 <= number <= len(lines) else ""
        return text if len(text) <= LONGEST_SHOWN_LINE else ""

    def at(self, line: int, column: int, length: int = 1) -> Location:
        """The region of `length` characters from a place on."""
        return Location(file=self.file, line=line, column=column, end_column=column + max(length, 1))

    def problem(
        self,
        rule: str,
        line: int,
        column: int,
        message: str,
        mend: str = "",
        *,
        length: int = 1,
        severity: Severity = Severity.ERROR,
    ) -> Problem:
        """A problem at a place in this file, with its source line."""
        return Problem(
            rule=rule,
            where=self.at(line, column, length),
            message=message,
            mend=mend,
            source_line=self.line(line),
            severity=severity,
        )


def nearest(word: str, known: Iterable[str]) -> str:
    """The known word nearest to `word`, or empty when none is near."""
    found = difflib.get_close_matches(word, list(known), n=1, cutoff=0.6)
    return found[0] if found else ""


def offer(word: str, known: Iterable[str], several: str) -> str:
    """A mend that names the nearest known word, else all of them: `several` says what they are."""
    names = list(known)
    if close := nearest(word, names):
        return f"Did you mean `{close}`?"
    return f"{several}: {', '.join(f'`{n}`' for n in names)}." if names else ""


def clip(text: str, longest: int = 60) -> str:
    """Text as repeated inside a message: one line, without control characters, not too long."""
    shown = "".join(c if c.isprintable() else " " for c in text)
    return shown if len(shown) <= longest else shown[: longest - 1] + "…"
