"""Bad messages through the core and bad files through the readers, from seeds.

``python -m benchmarks.fuzz messages --count 1000000 --seed 1``
``python -m benchmarks.fuzz files --count 20000 --seed 1``

A first part looks which lines of ``stream/`` a mutation reaches (with the
interpreter's own trace) and keeps those that reach new ones; most of the run
then mutates what was kept. A run ends with exit code 1 at the first thing that
must not be: an exception that is not the reader's own, a number that is none or
that comes from a message that is no message, more than ten seconds of work for one
input, or memory that grows. What it was is then written to ``fuzz-found.bin``.
"""

from __future__ import annotations

import argparse
import gc
import resource
import signal
import sys
import time
from collections import Counter
from importlib import import_module
from pathlib import Path
from types import FrameType
from typing import Any

from benchmarks.fuzz_files import FileFuzz
from benchmarks.fuzz_messages import MessageFuzz
from benchmarks.fuzz_oracle import Broken

LONGEST_S = 10
#: No input may take more memory than this in all, bytes.
MOST_MEMORY = 6 * 1024**3
#: Growth of the process over the last three quarters of a run, KB. Files of up to 5 MB are read
#: whole, and the allocator keeps what they took; a run of 3,000 grows as much as one of 20,000.
MOST_GROWTH_KB = {MessageFuzz: 20 * 1024, FileFuzz: 40 * 1024}
STREAM = str(Path(__file__).parents[1] / "stream")

Fuzz = MessageFuzz | FileFuzz


class Lines:
    """Which lines of the product have been reached."""

    def __init__(self) -> None:
        self.seen: set[tuple[str, int]] = set()

    def trace(self, frame: FrameType, event: str, argument: Any) -> Any:
        """Note a line; given to :func:`sys.settrace`."""
        if not frame.f_code.co_filename.startswith(STREAM):
            return None
        if event == "line":
            self.seen.add((frame.f_code.co_filename, frame.f_lineno))
        return self.trace


def run(fuzz: Fuzz, count: int, guided: int) -> Counter[str]:
    """Push ``count`` inputs through, the first ``guided`` of them watched; return what became."""
    became: Counter[str] = Counter()
    lines = Lines()
    signal.signal(signal.SIGVTALRM, _too_long)
    import_module("scipy.stats")  # comes with the first clock that is fitted; no growth
    begin = _memory_kb()
    try:
        for number in range(count):
            if number == count // 4:
                begin = _memory_kb()
            signal.setitimer(signal.ITIMER_VIRTUAL, LONGEST_S)
            known = len(lines.seen)
            if number < guided:
                sys.settrace(lines.trace)
            try:
                became[fuzz.one()] += 1
            finally:
                sys.settrace(None)
            if len(lines.seen) > known:
                fuzz.keep()
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
    grown = _memory_kb() - begin
    became["lines reached while watched"] = len(lines.seen)
    became["inputs kept for reaching new lines"] = fuzz.kept
    if isinstance(fuzz, MessageFuzz):
        became["pitches told"] = fuzz.pitches
    became["memory grown over the last three quarters, KB"] = grown
    if grown > MOST_GROWTH_KB[type(fuzz)]:
        raise Broken(f"memory has grown by {grown} KB")
    return became


def _too_long(*_: object) -> None:
    raise Broken(f"one input took more than {LONGEST_S} s")


def _memory_kb() -> int:
    gc.collect()
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * resource.getpagesize() // 1024


def main() -> int:
    """Run what is asked for and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("what", choices=("messages", "files"))
    parser.add_argument("--count", type=int, default=1_000_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--guided", type=int, default=20_000, help="inputs watched at first")
    options = parser.parse_args()
    fuzz: Fuzz = MessageFuzz(options.seed) if options.what == "messages" else FileFuzz(options.seed)
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    start = time.monotonic()
    try:
        became = run(fuzz, options.count, options.guided)
    except Exception as error:
        Path("fuzz-found.bin").write_bytes(fuzz.last)
        print(f"found after {fuzz.number} inputs: {type(error).__name__}: {error}")
        if not isinstance(error, Broken):
            raise
        return 1
    print(f"{options.count} {options.what}, seed {options.seed}: nothing found")
    for what, number in sorted(became.items()):
        print(f"  {what}: {number}")
    print(f"  {time.monotonic() - start:.0f} s")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
