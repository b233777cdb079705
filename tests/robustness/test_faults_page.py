"""docs/faults.md lists every test that causes a fault, and no other."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from docs.make_faults import rows

ROOT = Path(__file__).parents[2]


def marked() -> Iterator[tuple[str, str]]:
    """Yield (test, fault) of each test that is marked as causing a fault."""
    for file in sorted((ROOT / "tests").glob("*/test_*.py")):
        for node in ast.walk(ast.parse(file.read_text())):
            if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                continue
            for mark in node.decorator_list:
                if isinstance(mark, ast.Call) and ast.unparse(mark.func) == "pytest.mark.fault":
                    fault = ast.literal_eval(mark.args[0])
                    yield f"{file.relative_to(ROOT)}::{node.name}", fault


def test_every_fault_has_its_row_and_every_row_its_test() -> None:
    listed = re.findall(r"^\| (.+?) \| .* \| `(tests/[^`]+)` \|$", _page(), flags=re.MULTILINE)
    assert {(test, fault) for fault, test in listed} == set(marked())


def test_cases_of_one_test_share_a_row() -> None:
    line = {"fault": "f", "holds": "h"}
    made = rows(
        [
            {**line, "test": "tests/a.py::t[1]", "measured": "one"},
            {**line, "test": "tests/a.py::t[2]", "measured": "two"},
            {**line, "test": "tests/a.py::u", "measured": ""},
        ]
    )
    assert made == [
        "| f | h | one; two | `tests/a.py::t` |",
        "| f | h | held | `tests/a.py::u` |",
    ]


def _page() -> str:
    return (ROOT / "docs" / "faults.md").read_text()
