"""Makes docs/faults.md: ``python -m docs.make_faults``.

Runs every test that is marked as causing a fault (``pytest -m fault``) and
writes what each measured. ``--from RESULTS`` takes the results of a run with
FAULTS_OUT=RESULTS instead. What stands under "Long runs" is kept as it is.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterable, Mapping
from pathlib import Path

PAGE = Path(__file__).parent / "faults.md"
LONG_RUNS = "## Long runs"
_HEAD = """# Faults: what must hold, and what was measured

The laptop by the mound stands on hostile ground. Each row is a fault that a test causes for real:
with real processes, sockets, brokers and files wherever one is named. The page is made from the
tests' own results (`python -m docs.make_faults`); "held" means that the test gives no figure beyond
its own assertions. How fast things happen depends on the computer; what must hold does not.

| fault | what must hold | measured | test |
|---|---|---|---|
"""


def rows(lines: Iterable[Mapping[str, str]]) -> list[str]:
    """Return the table's rows, one a test, its cases together."""
    tests: dict[str, tuple[str, str, list[str]]] = {}
    for line in lines:
        test = line["test"].partition("[")[0]
        _, _, figures = tests.setdefault(test, (line["fault"], line["holds"], []))
        if line["measured"] and line["measured"] not in figures:
            figures.append(line["measured"])
    return [
        f"| {fault} | {holds} | {'; '.join(figures) or 'held'} | `{test}` |"
        for test, (fault, holds, figures) in sorted(tests.items())
    ]


def main() -> int:
    """Make the page; return 1 where a test of a fault failed."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--from", dest="results", type=Path, metavar="RESULTS")
    results = parser.parse_args().results
    code = 0
    with tempfile.TemporaryDirectory() as folder:
        if results is None:
            results = Path(folder) / "results"
            code = subprocess.run(
                [sys.executable, "-m", "pytest", "-q", "-m", "fault"],
                env={**os.environ, "FAULTS_OUT": str(results)},
                check=False,
            ).returncode
        lines = [json.loads(line) for line in results.read_text().splitlines()]
    kept = PAGE.read_text().partition(LONG_RUNS)[2] if PAGE.exists() else "\n"
    PAGE.write_text(_HEAD + "\n".join(rows(lines)) + f"\n\n{LONG_RUNS}{kept}")
    return int(code != 0)


if __name__ == "__main__":
    raise SystemExit(main())
