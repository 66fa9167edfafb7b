"""Further processes start with what this one has at hand where that is safe, and none outlives it."""

import os
import signal
import subprocess
import sys
import threading
import time

import pytest

from benchgalley.intake import copied, pool

_AT_HAND: list[str] = []

SCRIPT = """
import os, sys, threading, time
from benchgalley.intake import copied, pool

if __name__ == "__main__":
    if sys.argv[1] == "beside a thread":
        threading.Thread(target=time.sleep, args=(60,), daemon=True).start()
    said = copied()
    with pool(2) as others:
        busy = [others.submit(os.getpid) for _ in range(20)]
        pids = sorted({future.result() for future in busy})
        waiting = [others.submit(time.sleep, 60) for _ in range(3)]
        print(said, *pids, flush=True)
        time.sleep(60)
"""


def test_helpers_run_what_they_are_to_begin_with():
    with pool(2, _take_up, "first") as others:
        assert others.submit(_at_hand).result() == ["first"]
    assert not _AT_HAND


@pytest.mark.skipif(sys.platform != "linux", reason="copies of a process are made on Linux only")
def test_beside_another_thread_no_copy_is_made():
    done = threading.Event()
    other = threading.Thread(target=done.wait)
    other.start()
    try:
        assert not copied()
        with pool(1) as others:
            assert others.submit(_at_hand).result() == []
    finally:
        done.set()
        other.join()


@pytest.mark.skipif(sys.platform == "win32", reason="signals")
@pytest.mark.parametrize("where", ["alone", "beside a thread"])
def test_helpers_end_with_a_process_that_is_killed(tmp_path, where):
    script = tmp_path / "helped.py"
    script.write_text(SCRIPT, "utf-8")
    with subprocess.Popen([sys.executable, script, where], stdout=subprocess.PIPE, text=True) as killed:
        assert killed.stdout is not None
        said, *pids = killed.stdout.readline().split()
        killed.send_signal(signal.SIGKILL)
    if sys.platform == "linux":
        assert (said == "True") is (where == "alone")
    assert pids
    assert _gone([int(pid) for pid in pids])


def _take_up(word: str) -> None:
    _AT_HAND.append(word)


def _at_hand() -> list[str]:
    return _AT_HAND


def _gone(pids: list[int]) -> bool:
    for _ in range(200):
        pids = [pid for pid in pids if _there(pid)]
        if not pids:
            return True
        time.sleep(0.1)
    return False


def _there(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    status = f"/proc/{pid}/stat"
    if os.path.exists(status):  # one that ended and that nobody has asked after is gone for us
        with open(status, encoding="ascii") as found:
            return found.read().rpartition(")")[2].split()[0] != "Z"
    return True
