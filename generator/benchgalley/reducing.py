"""How the logs of a site are reduced, with what earlier builds have kept."""

from dataclasses import replace
from pathlib import Path

from .intake import Reductions


class WorkersError(RuntimeError):
    """A process that did a share of the work is gone; the text says what to do."""


def kept_reductions(root: Path, how: Reductions, *, keeps: bool) -> Reductions:
    """With the figures kept in the site's folder; `keeps`: new ones are kept there too, else nothing is written."""

    def keep(name: str, figures: bytes) -> None:
        from .publish import keep_bytes  # loads the templates' library, which a check does without

        keep_bytes(root, name, figures)

    return replace(how, kept_in=root / ".benchgalley", keep=keep if keeps else None)
