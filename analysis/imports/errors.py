"""What keeps a foreign file from being taken, in one sentence."""

from __future__ import annotations


class ImportRefusedError(ValueError):
    """A file that cannot be taken as it is; the text says why and what would help."""
