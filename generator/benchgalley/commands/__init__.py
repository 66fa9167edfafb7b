"""The command line: the only place that knows a terminal and a clock."""

import gc
import os
import sys

THREADS_OF_LINEAR_ALGEBRA = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
SEARCHES_FOR_CYCLES = (200_000, 50, 100)
"""A run makes many small records that live to its end: looking for cycles among them doubled its time."""


def main() -> None:
    """Entry point of the `benchgalley` command."""
    gc.set_threshold(*SEARCHES_FOR_CYCLES)
    # Matrices here are small: threads wait for one another longer than they compute, and the processes of a build
    # already use every core. Must be said before numpy loads; who has said otherwise is obeyed.
    for name in THREADS_OF_LINEAR_ALGEBRA:
        os.environ.setdefault(name, "1")
    from .command_line import benchgalley

    # Reports hold minus signs, arrows and units whatever the terminal's own encoding says.
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(encoding="utf-8", errors="replace")
    try:
        benchgalley()
    finally:
        gc.freeze()  # the process ends: to look through all that stands for cycles took a tenth of a short run
