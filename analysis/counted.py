"""Things counted, in words."""

from __future__ import annotations


def counted(count: int, one: str, many: str | None = None) -> str:
    """Return ``1 pitcher``, ``3 pitchers``; ``many`` is needed where no plain s makes it."""
    return f"{count} {one if count == 1 else many or one + 's'}"
