"""Runs a module as ``python -m`` would, and notes what only the process itself can count.

``python -m benchmarks.soak_probe FILE MODULE [ARGUMENT ...]``: every second the
number of asyncio tasks, and every minute that of objects the collector
follows, go to FILE as ``tasks objects``.
"""

from __future__ import annotations

import asyncio
import gc
import runpy
import sys
import threading
import time
from pathlib import Path

EVERY_S = 1.0
OBJECTS_EVERY = 60


def main() -> None:
    """Run the module under the probe."""
    file, module, *arguments = sys.argv[1:]
    loops: list[asyncio.AbstractEventLoop] = []
    make = asyncio.events.new_event_loop

    def noted() -> asyncio.AbstractEventLoop:
        loops.append(make())
        return loops[-1]

    asyncio.events.new_event_loop = noted
    threading.Thread(target=_note, args=(Path(file), loops), daemon=True, name="probe").start()
    sys.argv = [module, *arguments]
    runpy.run_module(module, run_name="__main__", alter_sys=True)


def _note(file: Path, loops: list[asyncio.AbstractEventLoop]) -> None:
    objects = turn = 0
    while True:
        if turn % OBJECTS_EVERY == 0:
            objects = len(gc.get_objects())
        turn += 1
        tasks = sum(len(asyncio.all_tasks(loop)) for loop in loops if not loop.is_closed())
        file.write_text(f"{tasks} {objects}\n")
        time.sleep(EVERY_S)


if __name__ == "__main__":
    main()
