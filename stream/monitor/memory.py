"""How a process that runs for hours asks the system for memory."""

from __future__ import annotations

import ctypes
import gc

#: ``M_MMAP_THRESHOLD`` of mallopt(3).
_M_MMAP_THRESHOLD = -3
#: Below a pitch's traces (about 48 kB), above what a message or a picture needs.
LARGE_BYTES = 32 * 1024


def keep_large_blocks_apart() -> bool:
    """Have blocks of 32 kB and more mapped one by one, so that they go back when they are freed.

    Left to itself the C library puts them between the small ones as soon as a
    larger one was freed once. Traces that are kept for 50 pitches and arrays
    that live for one then leave holes: at 140 pitches 4 MB of a monitor's heap
    were held by nobody, 2 MB of a screen's. Return False where the C library
    has no such setting; there is nothing to do about it then.
    """
    try:
        mallopt = ctypes.CDLL(None).mallopt
    except (AttributeError, OSError, TypeError):  # not the GNU C library
        return False
    return bool(mallopt(_M_MMAP_THRESHOLD, LARGE_BYTES))


def set_aside_what_stays() -> None:
    """Have the collector look no more at what is there now: modules, classes, constants.

    They stay until the process ends, yet each full collection went through
    all of them: 100 ms in which no message was taken, with 64 mounds some
    seconds apart. A screen, too, collects often and quickly then.
    """
    gc.collect()
    gc.freeze()
