"""Blocks as large as a pitch's traces stand apart in a process that runs for hours."""

from __future__ import annotations

import subprocess
import sys

#: Prints how many of 100 blocks of 48 kB were mapped one by one, by glibc's mallinfo2(3). A larger
#: block is freed first: from then on the C library, left to itself, maps none so small.
_COUNT = """
import ctypes
from stream.monitor.memory import keep_large_blocks_apart

names = "arena ordblks smblks hblks hblkhd usmblks fsmblks uordblks fordblks keepcost"

class Info(ctypes.Structure):
    _fields_ = [(name, ctypes.c_size_t) for name in names.split()]

library = ctypes.CDLL(None)
library.mallinfo2.restype = Info
if {apart}:
    assert keep_large_blocks_apart()
bytes(1_000_000)
before = library.mallinfo2().hblks
kept = [bytes(48_000) for _ in range(100)]
print(library.mallinfo2().hblks - before)
"""


def mapped(apart: bool) -> int:
    """Return how many blocks a process of its own had mapped."""
    code = _COUNT.format(apart=apart)
    return int(subprocess.run([sys.executable, "-c", code], capture_output=True, check=True).stdout)


def test_large_blocks_stand_apart() -> None:
    assert mapped(apart=False) == 0
    assert mapped(apart=True) > 90  # some fit into what was free already
