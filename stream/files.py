"""Layouts, settings and rosters from files, or a shipped layout by its name.

The one flat module that is a shell: it opens files, so the core never does.
A file that is bad raises :class:`FileError` with one sentence that names it.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping
from importlib import resources
from pathlib import Path
from typing import Any

from stream.layout import Layout, LayoutError, layout_from_mapping
from stream.roster import Roster, RosterError, roster_from_csv
from stream.settings import Settings, SettingsError, settings_from_mapping, settings_to_mapping

MAX_FILE_BYTES = 4 * 1024 * 1024


class FileError(ValueError):
    """A file that cannot be used; the text names it and says why."""


def load_layout(name: str) -> Layout:
    """Return the layout in the file ``name``, or the shipped one of that name.

    ``layout.origin_text`` is the file's own text, for the recording.
    """
    shipped = shipped_layouts()
    if name in shipped and not Path(name).is_file():
        return parse_layout(shipped[name].read_text("utf-8"), name)
    if not Path(name).exists():
        raise FileError(
            f"there is no layout file {name!r}; shipped layouts are {', '.join(sorted(shipped))}"
        )
    return parse_layout(_read(Path(name)), name)


def shipped_layouts() -> dict[str, Any]:
    """Return the layouts that come with the product, by name."""
    return {
        file.name.removesuffix(".toml"): file
        for file in resources.files("configs").iterdir()
        if file.name.endswith(".toml") and not file.name.startswith("example-")
    }


def parse_layout(text: str, name: str) -> Layout:
    """Return the layout in ``text``; ``name`` is what an error calls it."""
    try:
        return layout_from_mapping(_toml(text, name), text)
    except LayoutError as error:
        raise FileError(f"{name}: {error}") from None


def load_settings(path: Path) -> Settings:
    """Return the settings in the TOML file ``path``."""
    return parse_settings(_read(path), str(path))


def parse_settings(text: str, name: str) -> Settings:
    """Return the settings in ``text``; ``name`` is what an error calls it."""
    try:
        return settings_from_mapping(_toml(text, name))
    except SettingsError as error:
        raise FileError(f"{name}: {error}") from None


def settings_text(settings: Settings) -> str:
    """Return every setting as TOML, as a recording and a session folder carry it."""
    return "".join(f"{k} = {json.dumps(v)}\n" for k, v in settings_to_mapping(settings).items())


def load_roster(path: Path) -> Roster:
    """Return the roster in the CSV file ``path``."""
    return parse_roster(_read(path), str(path))


def parse_roster(text: str, name: str) -> Roster:
    """Return the roster in ``text``; ``name`` is what an error calls it."""
    try:
        return roster_from_csv(text)
    except RosterError as error:
        raise FileError(f"{name}: {error}") from None


def _toml(text: str, name: str) -> Mapping[str, Any]:
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise FileError(f"{name} is not TOML: {error}") from None


def _read(path: Path) -> str:
    try:
        if path.stat().st_size > MAX_FILE_BYTES:
            raise FileError(f"{path} is too large to be a layout, settings or roster file")
        return path.read_text("utf-8-sig")
    except OSError as error:
        raise FileError(f"{path}: {error.strerror}") from None
    except UnicodeDecodeError:
        raise FileError(f"{path} is not text in UTF-8") from None
