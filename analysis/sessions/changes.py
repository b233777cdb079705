"""What the operator changed: see :mod:`stream.changes`."""

from stream.changes import Change, apply_changes, changes_of

__all__ = ["Change", "apply_changes", "changes_of"]
