"""Text from outside (rosters, topics, notes) made safe to show.

A name may not move the cursor, recolour the screen, reverse the reading
direction or be read as markup. :func:`plain` replaces what could; widgets
show the result as plain text (``markup=False`` or a `Content`), never as
markup.
"""

from __future__ import annotations

import unicodedata

#: Unicode categories that draw nothing of their own: controls, formats (reading
#: direction, zero width), surrogates, private use, unassigned, line and paragraph ends.
_UNSEEN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
#: Combining marks that may follow one letter; more of them climb over other rows.
_MOST_MARKS = 2
REPLACEMENT = "\N{REPLACEMENT CHARACTER}"
ELLIPSIS = "\N{HORIZONTAL ELLIPSIS}"


def plain(text: str, limit: int = 200) -> str:
    """Return ``text`` on one line, at most ``limit`` characters, unseen ones replaced."""
    out: list[str] = []
    marks = 0
    for character in text[: 4 * limit]:
        category = unicodedata.category(character)
        if category in ("Mn", "Me"):
            marks += 1
            if marks > _MOST_MARKS:
                continue
        else:
            marks = 0
        if character in "\t\n\r":
            out.append(" ")
        else:
            out.append(REPLACEMENT if category in _UNSEEN else character)
    line = "".join(out)
    return line if len(line) <= limit else line[: limit - 1] + ELLIPSIS
