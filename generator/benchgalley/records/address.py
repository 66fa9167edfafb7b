"""The address of a number: `[<write-up or card>:]<setpoint or sequence>/<quantity>[/<relation>]`."""

import re
from dataclasses import dataclass

_SHAPE = re.compile(
    r"^(?:(?P<scope>[a-z0-9][a-z0-9-]*):)?(?P<subject>[a-z0-9][a-z0-9-]*)/(?P<quantity>[a-z0-9][a-z0-9-]*)"
    r"(?:/(?P<relation>[a-z0-9][a-z0-9-]*))?$"
)


@dataclass(frozen=True, kw_only=True, slots=True, order=True)
class Address:
    """Names one number, everywhere: in prose, tables, anchors, dataset and command output."""

    scope: str
    """Slug of the write-up, or id of a card for figures pooled over samples. Never empty once resolved."""
    subject: str
    """A setpoint or a sequence of that write-up."""
    quantity: str
    """E.g. `board-power`, `score-per-watt`, `matching-power-limit`."""
    relation: str = ""
    """E.g. `saved`, `of-baseline`; empty: the mean itself."""

    @classmethod
    def parse(cls, text: str, scope: str) -> "Address | None":
        """Read an address as written inside the write-up `scope`; None when it has not the shape of one."""
        if (match := _SHAPE.match(text.strip())) is None:
            return None
        parts = match.groupdict()
        return cls(
            scope=parts["scope"] or scope,
            subject=parts["subject"],
            quantity=parts["quantity"],
            relation=parts["relation"] or "",
        )

    def local(self) -> str:
        """Without the scope: as written inside its own write-up and as its anchor on the page."""
        local = f"{self.subject}/{self.quantity}"
        return f"{local}/{self.relation}" if self.relation else local

    def within(self, scope: str) -> str:
        """As written inside the write-up `scope`."""
        return self.local() if self.scope == scope else str(self)

    def related(self, relation: str) -> "Address":
        """The same subject and quantity under another relation."""
        return Address(scope=self.scope, subject=self.subject, quantity=self.quantity, relation=relation)

    def __str__(self) -> str:
        return f"{self.scope}:{self.local()}"
