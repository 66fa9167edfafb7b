"""One build of a site into one folder at a time: a second one waits for its turn."""

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from .publish import kept_file

_PAUSE_S = 0.1
"""Between two looks at a file that another process holds."""


@contextmanager
def turn(root: Path, name: str, wait: Callable[[], object]) -> Iterator[None]:
    """Hold a file kept for a site against every other process; `wait` is told once when one of them holds it.

    The system lets go of it when the process ends, however it ends. A folder that cannot be written to and a disk
    that knows no locks are no fault of a build: it goes ahead.
    """
    handle = kept_file(root, name)
    if handle is None:
        yield
        return
    with handle:
        if not _got(handle):
            wait()
            while not _got(handle):
                time.sleep(_PAUSE_S)
        yield


def _got(handle: IO[bytes]) -> bool:
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(handle.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):  # the latter is how Windows says it
        return False
    except OSError:
        return True
    return True
