"""docs/setup-check.md is what the registry says."""

from __future__ import annotations

from pathlib import Path
from string import Formatter

from stream.checks.page import page
from stream.checks.registry import CHECKS, NAMES

ROOT = Path(__file__).parents[2]


def test_the_page_is_current() -> None:
    assert (ROOT / "docs" / "setup-check.md").read_text("utf-8") == page(), (
        "make it anew: python -m stream.checks.page > docs/setup-check.md"
    )


def test_the_names_are_those_that_other_programs_rely_on() -> None:
    assert NAMES == (
        "rate", "continuity", "clock", "latency", "zero", "noise", "mains", "drift", "stuck",
        "saturation", "signs", "weight", "position",
    )  # fmt: skip


def test_every_check_says_its_limit_reason_source_and_what_to_do() -> None:
    for c in CHECKS:
        assert c.limit
        assert c.reason
        assert c.source
        for sentence in c.sentences.values():
            assert sentence.endswith((".", "}"))
            assert all(name is None or name.isidentifier() for _, name, _, _ in
                       Formatter().parse(sentence))  # fmt: skip
