"""A picture of the review, compared with one that somebody looked at."""

from __future__ import annotations

from pathlib import Path
from typing import Protocol

from tests.review.driving import review
from tests.review.invented_sessions import pitches, record, step_off, stored


class Compare(Protocol):
    """The fixture of pytest-textual-snapshot."""

    def __call__(
        self, app: object, press: list[str] = ..., terminal_size: tuple[int, int] = ...
    ) -> bool:
        """Draw the app and compare."""
        ...


def test_the_biomechanist_sees_a_session(tmp_path: Path, snap_compare: Compare) -> None:
    records = pitches(18)
    records[3] = record(4, "P01", 182.0, flags=("void",), note="warm-up")
    app = review(stored(tmp_path / "tuesday", [*records, step_off(2)]))
    keys = ["down", "space", "down", "shift+left"]
    assert snap_compare(app, press=keys, terminal_size=(200, 60))
