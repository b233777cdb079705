"""What can go wrong with the workers as a whole, known without importing Dask."""

from __future__ import annotations


class ClusterError(Exception):
    """The cluster cannot be used any more, or at all; the text says why."""
