"""Outputs that are there whole or not at all, for their owner's eyes only.

What is being written stands beside its place under a hidden name; it takes its place when it is
complete, and is removed when the work fails or is stopped.
"""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Iterator
from pathlib import Path

from stream.recording.durable import OWNER_ONLY_FOLDER, owner_only_file, sync_folder


class OutputError(ValueError):
    """A place where nothing can be written; the text says why."""


@contextlib.contextmanager
def drafted_file(out: Path, *, overwrite: bool = False, made: bool = True) -> Iterator[Path]:
    """Give an empty owner-only draft of ``out`` (same ending); it becomes ``out`` at the end.

    ``made`` False: only its name, for a writer that makes its own file. Raise
    :class:`OutputError` where ``out`` holds something and ``overwrite`` is not said.
    """
    refuse_taken(out, overwrite=overwrite)
    out = out.resolve()  # a link stays; what it points to is written
    draft = _draft_of(out)
    if made:
        owner_only_file(draft).close()
    try:
        yield draft
        with draft.open("rb") as file:
            os.fsync(file.fileno())
        draft.replace(out)
        sync_folder(out.absolute().parent)
    finally:
        draft.unlink(missing_ok=True)


@contextlib.contextmanager
def drafted_folder(out: Path) -> Iterator[Path]:
    """Give an owner-only draft of the folder ``out``, which must be new or empty."""
    _refuse_lost(out)
    if out.exists() and (not out.is_dir() or any(out.iterdir())):
        raise OutputError(f"{out} is there already and not an empty folder; name another")
    draft = _draft_of(out)
    draft.mkdir(mode=OWNER_ONLY_FOLDER)
    try:
        yield draft
        draft.replace(out)
        sync_folder(out.absolute().parent)
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def refuse_taken(out: Path, *, overwrite: bool = False) -> None:
    """Raise :class:`OutputError` where writing ``out`` would lose something or cannot be done."""
    _refuse_lost(out)
    if out.exists() and not out.is_file():
        raise OutputError(f"{out} is a folder or a device; name a file")
    if out.exists() and out.stat().st_size and not overwrite:
        raise OutputError(f"{out} is there already; name another, or say --overwrite")


def _refuse_lost(out: Path) -> None:
    if not out.absolute().parent.is_dir():
        raise OutputError(f"{out}: there is no folder {out.parent}")


def _draft_of(out: Path) -> Path:
    return out.with_name(f".draft-{os.getpid()}-{out.name}")
