"""Reads the screen's large digits, which are drawn as blocks."""

from __future__ import annotations

from collections.abc import Sequence

from tui.widgets.big_digits import big_text

_HEIGHTS = range(3, 15)


def stands_large(lines: Sequence[str], text: str) -> bool:
    """Tell whether ``text`` stands in ``lines`` of a screen in large digits of any height."""
    return any(_stands(lines, big_text(text, rows)) for rows in _HEIGHTS)


def _stands(lines: Sequence[str], blocks: Sequence[str]) -> bool:
    """Look for a block of rows, with nothing drawn against either side of it."""
    first, width = blocks[0], len(blocks[0])
    for top in range(len(lines) - len(blocks) + 1):
        at = lines[top].find(first)
        while at >= 0:
            shown = [
                lines[top + k].ljust(at + width + 1)[max(at - 1, 0) : at + width + 1]
                for k in range(len(blocks))
            ]
            if all(s == f" {b} "[-len(s) :] for s, b in zip(shown, blocks, strict=True)):
                return True
            at = lines[top].find(first, at + 1)
    return False
