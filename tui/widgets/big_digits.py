"""Digits as tall as the room allows, drawn as strokes in half-height blocks.

A letter should be at least 22 minutes of arc high to be read with ease
(ISO 9241-303, recommended height 20 to 22): 32 mm from 5 m. Digits a fifth of the screen high
reach that on a 13 inch laptop (about 165 mm of screen height).
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import numpy.typing as npt

Bools = npt.NDArray[np.bool_]

#: Strokes of each sign on a 2 x 2 grid of fields, named by side: t(op) m(iddle)
#: b(ottom) bars, then the upper and lower half of the l(eft) and r(ight) posts.
_STROKES: dict[str, tuple[str, ...]] = {
    "0": ("t", "b", "lu", "ll", "ru", "rl"),
    "1": ("ru", "rl"),
    "2": ("t", "m", "b", "ru", "ll"),
    "3": ("t", "m", "b", "ru", "rl"),
    "4": ("m", "lu", "ru", "rl"),
    "5": ("t", "m", "b", "lu", "rl"),
    "6": ("t", "m", "b", "lu", "ll", "rl"),
    "7": ("t", "ru", "rl"),
    "8": ("t", "m", "b", "lu", "ll", "ru", "rl"),
    "9": ("t", "m", "b", "lu", "ru", "rl"),
    "-": ("m",),
    "\N{EM DASH}": ("m",),
}
_BLOCKS = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}
_NARROW = ".,"


@lru_cache(maxsize=512)
def big_text(text: str, rows: int) -> tuple[str, ...]:
    """Return ``text`` (digits, point, comma, dash) as ``rows`` lines of equal width."""
    height = 2 * rows
    post = _post(height)
    gap = " " * max(1, post // 2)
    glyphs = [_glyph(character, height, post) for character in text]
    lines = []
    for row in range(rows):
        parts = []
        for glyph in glyphs:
            upper, lower = glyph[2 * row], glyph[2 * row + 1]
            parts.append(
                "".join(_BLOCKS[(bool(u), bool(w))] for u, w in zip(upper, lower, strict=True))
            )
        lines.append(gap.join(parts))
    return tuple(lines)


def big_sign(good: bool, rows: int) -> tuple[str, ...]:
    """Return a tick (``good``) or a cross as ``rows`` lines of equal width."""
    height = 2 * rows
    width = height if good else round(height * 0.9)
    y, x = np.mgrid[0:height, 0:width]
    thick = height * 0.13
    if good:
        corner = (width * 0.36, height * 0.92)
        on = _near(x, y, (width * 0.06, height * 0.58), corner, thick)
        on |= _near(x, y, corner, (width * 0.94, height * 0.08), thick)
    else:
        left, right, top, bottom = width * 0.08, width * 0.92, height * 0.06, height * 0.94
        on = _near(x, y, (left, top), (right, bottom), thick)
        on |= _near(x, y, (left, bottom), (right, top), thick)
    return tuple(
        "".join(_BLOCKS[(bool(u), bool(w))] for u, w in zip(on[2 * r], on[2 * r + 1], strict=True))
        for r in range(rows)
    )


def rows_that_fit(text: str, columns: int, rows: int) -> int:
    """Return the greatest height in rows at which ``text`` fits; 0 where it does not.

    Room is left beside it, the more the taller it is: a number that stands
    next to another one must not read as its continuation.
    """
    for height in range(rows, 2, -1):
        if len(big_text(text, height)[0]) + max(1, height // 2 - 1) <= columns:
            return height
    return 0


def _post(height: int) -> int:
    """Width of an upright stroke; between two of them there is always an opening."""
    return max(1, min(round(height / 5), (_width(height) - 1) // 2))


def _width(height: int) -> int:
    return round(height * 0.56)


def _glyph(character: str, height: int, post: int) -> Bools:
    bar = max(1, round(height / 7))
    if character in _NARROW:
        dot = np.zeros((height, max(2, post - 1)), dtype=bool)
        dot[height - max(2, bar) :, :] = True
        return dot
    width = _width(height)
    grid = np.zeros((height, width), dtype=bool)
    middle = (height - bar) // 2
    fields = {
        "t": (slice(0, bar), slice(0, width)),
        "m": (slice(middle, middle + bar), slice(0, width)),
        "b": (slice(height - bar, height), slice(0, width)),
        "lu": (slice(0, middle + bar), slice(0, post)),
        "ll": (slice(middle, height), slice(0, post)),
        "ru": (slice(0, middle + bar), slice(width - post, width)),
        "rl": (slice(middle, height), slice(width - post, width)),
    }
    for stroke in _STROKES[character]:
        grid[fields[stroke]] = True
    return grid


def _near(
    x: npt.NDArray[np.int_],
    y: npt.NDArray[np.int_],
    a: tuple[float, float],
    b: tuple[float, float],
    thick: float,
) -> Bools:
    """Tell which points lie within ``thick`` of the line from a to b."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    along = np.clip(((x + 0.5 - a[0]) * dx + (y + 0.5 - a[1]) * dy) / (dx * dx + dy * dy), 0.0, 1.0)
    distance = np.hypot(x + 0.5 - a[0] - along * dx, y + 0.5 - a[1] - along * dy)
    return np.asarray(distance <= thick)
