"""Everything needed to judge the texts of one file: the write-up, the numbers, the words, the lines."""

import difflib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

from benchgalley.records.address import Address
from benchgalley.records.findings import Location, Problem, Severity
from benchgalley.records.results import Results
from benchgalley.records.site import Site
from benchgalley.records.write_up import Text, WriteUp

from .mentions import TextReading
from .places import source_line, source_lines
from .reading import read
from .unit_lexicon import unit_lexicon
from .vocabulary import vocabulary

_MOST_OFFERED = 3


@dataclass(frozen=True, kw_only=True)
class Desk:
    """The reader's desk. `write_up` is None for the texts of site.yaml."""

    write_up: WriteUp | None
    site: Site
    results: Results
    texts: Sequence[Text]
    source: str
    """The file the texts stand in."""

    @cached_property
    def lines(self) -> Sequence[str]:
        """Lines of the file; asked for only where there is a problem to show."""
        return source_lines(self.source)

    @property
    def scope(self) -> str:
        """Scope of an address that names none; empty for site.yaml."""
        return self.write_up.slug if self.write_up else ""

    @cached_property
    def read(self) -> Callable[[Text], TextReading]:
        """Reads one text in the site's language and units."""
        words, lexicon = vocabulary(self.site.settings.language), unit_lexicon(self.site)
        return lambda text: read(text, words, lexicon)

    def resolve(self, destination: str) -> tuple[Address | None, str]:
        """The address a `claim:` destination names, and the address text it was read from."""
        if (known := self._resolved.get(destination)) is None:
            known = self._resolved[destination] = self._resolve(destination)
        return known

    @cached_property
    def _resolved(self) -> dict[str, tuple[Address | None, str]]:
        return {}

    def _resolve(self, destination: str) -> tuple[Address | None, str]:
        written = destination.removeprefix("claim:").strip()
        if self.write_up is not None and written in self.write_up.claim_names:
            written = self.write_up.claim_names[written]
        return Address.parse(written, self.scope), written

    def baseline_of(self, address: Address) -> str:
        """Name of the baseline setpoint where the address belongs; that of this write-up for a card's figures."""
        home = self.site.write_ups.get(address.scope) or self.write_up
        return home.baseline if home else ""

    def margin_of(self, quantity: str) -> float | None:
        """The margin of equivalence declared for a quantity."""
        margins = self.write_up.margins.by_quantity if self.write_up is not None else {}
        return margins[quantity][0] if quantity in margins else None

    def near(self, written: str) -> tuple[str, ...]:
        """Addresses spelled like a wrong one."""
        scope, colon, local = written.rpartition(":")
        scope = scope if colon else self.scope
        known = [a.within(self.scope) for a in self.results.addresses(scope)] if scope else []
        wanted = written if not colon or scope != self.scope else local
        found = difflib.get_close_matches(wanted, known, n=_MOST_OFFERED, cutoff=0.5)
        if not found and self.write_up is not None:
            found = difflib.get_close_matches(written, list(self.write_up.claim_names), n=_MOST_OFFERED, cutoff=0.5)
        return tuple(found)

    def problem(
        self, rule: str, where: Location, message: str, mend: str = "", *, severity: Severity = Severity.ERROR,
        address: str = "", stated: str = "", computed: str = "",
    ) -> Problem:  # fmt: skip
        """A problem with its source line."""
        return Problem(
            rule=rule, where=where, message=message, mend=mend, source_line=source_line(self.lines, where),
            severity=severity, address=address, stated=stated, computed=computed,
        )  # fmt: skip
