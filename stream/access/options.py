"""How to connect: what a connection file or the command line may say."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import msgspec
from msgspec import Meta

MAX_FILE_BYTES = 1024 * 1024


class OptionsError(ValueError):
    """Connection options that cannot be; the text names the one."""


class ConnectionOptions(
    msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True
):
    """Options of sources and publishers. It names files of secrets, never a secret."""

    #: MQTT quality of service: 0 at most once, 1 at least once, 2 exactly once.
    qos: Annotated[int, Meta(ge=0, le=2)] = 1
    #: Certificates to trust for mqtts://; None trusts the system's.
    ca_file: str | None = None
    #: Whether the broker's certificate is checked.
    verify: bool = True
    #: File of owner-only permission with the MQTT password.
    password_file: str | None = None
    #: Folder made by ``moundfeed keys`` for this program, ZeroMQ only.
    keys: str | None = None
    #: The only mound to listen to; None takes every mound on the feed.
    source: str | None = None
    #: MQTT messages that may wait to be taken; more are dropped and counted.
    queue: Annotated[int, Meta(ge=16, le=1_000_000)] = 4096


def read_options(path: Path) -> dict[str, Any]:
    """Return what the TOML file ``path`` says; raise :class:`OptionsError`."""
    try:
        if path.stat().st_size > MAX_FILE_BYTES:
            raise OptionsError(f"{path} is too large to be a connection file")
        return tomllib.loads(path.read_text("utf-8"))
    except OSError as error:
        raise OptionsError(f"{path}: {error.strerror}") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError) as error:
        raise OptionsError(f"{path} is not TOML: {error}") from None


def options_from_mapping(table: Mapping[str, Any]) -> ConnectionOptions:
    """Build options from a parsed TOML table; raise :class:`OptionsError`."""
    try:
        return msgspec.convert(dict(table), ConnectionOptions)
    except msgspec.ValidationError as error:
        raise OptionsError(f"connection: {error}") from None
