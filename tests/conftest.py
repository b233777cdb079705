"""Faults that tests cause for real: what they are called, and the figures that they measured.

``@pytest.mark.fault(fault, holds)`` names a fault and what must hold under it;
the test may give figures through the ``measured`` fixture. With FAULTS_OUT in
the environment they are written there, one JSON object a line, and
``python -m docs.make_faults`` makes docs/faults.md of them.
"""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Callable, Generator, Iterator
from pathlib import Path

import pytest


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line("markers", "fault(fault, holds): a fault and what must hold under it")


@pytest.fixture
def measured() -> Iterator[Callable[[str], None]]:
    """Take a figure that the test measured, in words."""
    figures: list[str] = []
    yield figures.append
    _FIGURES.append("; ".join(figures))


@pytest.fixture
def short_folder() -> Iterator[Path]:
    """Give a folder whose path is short: that of a socket may have 107 characters."""
    with tempfile.TemporaryDirectory(prefix="mf-") as folder:
        yield Path(folder)


_FIGURES: list[str] = []


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item, nextitem: object) -> Generator[None, object, object]:
    _FIGURES.clear()
    done = yield
    mark, out = item.get_closest_marker("fault"), os.environ.get("FAULTS_OUT")
    if mark is not None and out and getattr(item, "passed", False):
        line = {"test": item.nodeid, "fault": mark.args[0], "holds": mark.args[1]}
        with Path(out).open("a") as file:
            file.write(json.dumps({**line, "measured": "; ".join(filter(None, _FIGURES))}) + "\n")
    return done


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    report: pytest.TestReport = yield
    if report.when == "call":
        item.passed = report.passed  # type: ignore[attr-defined]
    return report
