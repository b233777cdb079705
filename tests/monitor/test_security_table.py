"""Each threat in SECURITY.md points at a test that is there."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]


def test_every_row_names_tests_that_exist() -> None:
    rows = [
        line
        for line in (ROOT / "SECURITY.md").read_text().splitlines()
        if line.startswith("| ") and not line.startswith("| threat")
    ]
    assert len(rows) > 15
    for row in rows:
        named = re.findall(r"`(tests/[\w/]+\.py)::(\w+)`", row)
        assert named, row
        for file, test in named:
            assert re.search(rf"def {test}\(", (ROOT / file).read_text()), f"{file}::{test}"
