"""Two folders that change places in one step, where the system can do that."""

import ctypes
import os
import sys
from functools import lru_cache
from pathlib import Path
from typing import Any

_AS_THEY_ARE, _EXCHANGE = -100, 2
"""Of the system call `renameat2` (Linux): paths as they are written; both names must be there and change places."""


def swapped(one: Path, other: Path) -> bool:
    """Let two folders change places, so that at no moment either name is missing; False where that cannot be done."""
    call = _call()
    if call is None:
        return False
    return bool(call(_AS_THEY_ARE, os.fsencode(one), _AS_THEY_ARE, os.fsencode(other), _EXCHANGE) == 0)


@lru_cache(maxsize=1)
def _call() -> Any:
    if not sys.platform.startswith("linux"):
        return None
    try:
        return ctypes.CDLL(None, use_errno=True).renameat2
    except (OSError, AttributeError):  # another library of C, or an old one
        return None
