"""The command line: the only place that knows a terminal and a clock."""

import sys


def main() -> None:
    """Entry point of the `benchgalley` command."""
    from .command_line import benchgalley

    # Reports hold minus signs, arrows and units whatever the terminal's own encoding says.
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(encoding="utf-8", errors="replace")
    benchgalley()
