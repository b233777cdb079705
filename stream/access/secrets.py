"""Passwords and secret files: from the environment, or from a file that only its owner can read."""

from __future__ import annotations

import os
import stat
from pathlib import Path

PASSWORD_VARIABLE = "MOUNDFEED_MQTT_PASSWORD"
_MAX_BYTES = 64 * 1024


class SecretError(Exception):
    """A secret that cannot or must not be used; the text says what to mend, never the secret."""


def read_secret_file(path: Path) -> str:
    """Return the text of a file that belongs to this user alone; raise :class:`SecretError`."""
    try:
        handle = os.open(path, os.O_RDONLY | os.O_CLOEXEC)
    except OSError as error:
        raise SecretError(f"{path}: {error.strerror}") from None
    with os.fdopen(handle, encoding="utf-8") as file:
        status = os.fstat(file.fileno())
        if stat.S_IMODE(status.st_mode) & 0o077 or status.st_uid != os.geteuid():
            raise SecretError(
                f"{path} can be read by others, so what is in it is no secret; "
                f"make it yours alone: chmod 600 {path}"
            )
        try:
            return file.read(_MAX_BYTES)
        except (OSError, UnicodeDecodeError):
            raise SecretError(f"{path} cannot be read as text") from None


def password(file: Path | None) -> str | None:
    """Return the MQTT password: from ``file`` if given, else from the environment, else None."""
    if file is not None:
        return read_secret_file(file).rstrip("\r\n")
    return os.environ.get(PASSWORD_VARIABLE)
