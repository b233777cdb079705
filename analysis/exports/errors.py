"""What keeps something from being exported, in one sentence."""

from __future__ import annotations


class ExportError(ValueError):
    """Something that cannot be exported as asked; the text says why."""
