"""The monitor as a process of its own: ``python -m stream.monitor RUNTIME_FOLDER < plan.json``."""

from __future__ import annotations

import asyncio
import sys
from pathlib import Path

from stream.monitor.compose import run_plan
from stream.monitor.plan import decode_plan


def main() -> int:
    """Run the plan on stdin; say what went wrong in one line on stderr."""
    try:
        plan = decode_plan(sys.stdin.buffer.read())
        asyncio.run(run_plan(plan, runtime=Path(sys.argv[1])))
    except Exception as error:
        print(" ".join(f"{error}".split()) or type(error).__name__, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
