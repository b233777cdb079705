"""The two ways in which a command ends badly; each is one line on the terminal."""

from __future__ import annotations


class BadInput(Exception):  # noqa: N818 - named for what happened, as the user reads it
    """The command was used wrongly, or an input cannot be read: exit code 2."""


class RunFailed(Exception):  # noqa: N818
    """The command was right, but the run failed: exit code 1."""
