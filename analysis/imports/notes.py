"""What is told of platforms in the same words, told once."""

from __future__ import annotations

from collections.abc import Iterable

_NAMED = 3


def grouped(notes: Iterable[tuple[str, str]]) -> list[str]:
    """Return a sentence for each text of the (platform, text) pairs, with its platforms' names."""
    names: dict[str, list[str]] = {}
    for name, text in notes:
        names.setdefault(text, []).append(name)
    return [f"{_listed(of)}: {text}" for text, of in names.items()]


def _listed(names: list[str]) -> str:
    if len(names) <= _NAMED:
        return ", ".join(names)
    return f"{len(names)} platforms ({names[0]}, {names[1]} ... {names[-1]})"
