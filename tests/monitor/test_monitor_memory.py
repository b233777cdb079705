"""What a process that runs for hours does about its memory: large blocks apart, the start aside."""

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


def test_a_full_collection_passes_over_what_was_there_at_the_start() -> None:
    code = """
import gc
from stream.monitor import compose
from stream.monitor.memory import set_aside_what_stays

before = len(gc.get_objects())
set_aside_what_stays()
ours = [[] for _ in range(100)]
print(before, len(gc.get_objects()), gc.get_freeze_count())
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True)
    before, looked_at, aside = map(int, done.stdout.split())
    assert before > 20_000
    assert 100 <= looked_at < 1_000
    assert aside > 20_000
