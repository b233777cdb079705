"""Disks that are really full: the kernel itself refuses."""

from __future__ import annotations

import errno
import os
import resource
import subprocess
from pathlib import Path
from types import TracebackType
from typing import Protocol, Self


class FullDisk(Protocol):
    """A folder on a disk that can be filled and freed."""

    folder: Path
    says: str

    def fill(self, growing: Path | None) -> None: ...

    def free(self) -> None: ...


class SmallDisk:
    """A file system of 256 KiB in memory (needs the right to mount)."""

    says = "disk is full"

    def __init__(self, folder: Path) -> None:
        self.folder = folder / "disk"

    def __enter__(self) -> Self:
        self.folder.mkdir()
        subprocess.run(
            ["mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", str(self.folder)], check=True
        )
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        subprocess.run(["umount", "-l", str(self.folder)], check=True)

    def fill(self, growing: Path | None) -> None:
        refused = None
        with (self.folder / "ballast").open("wb", buffering=0) as file:
            while refused is None:
                try:
                    file.write(bytes(4096))
                except OSError as error:
                    refused = error.errno
        assert refused == errno.ENOSPC

    def free(self) -> None:
        (self.folder / "ballast").unlink()


class LimitedFile:
    """A limit of this process on the size of any file."""

    says = "largest size allowed"

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._before = resource.getrlimit(resource.RLIMIT_FSIZE)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.free()

    def fill(self, growing: Path | None) -> None:
        size = growing.stat().st_size if growing else 0
        resource.setrlimit(resource.RLIMIT_FSIZE, (size, self._before[1]))

    def free(self) -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, self._before)


def _may_mount() -> bool:
    """Whether this user may mount; in a container even root may not."""
    probe = ["unshare", "--mount", "mount", "-t", "tmpfs", "tmpfs", "/mnt"]
    try:
        return os.geteuid() == 0 and subprocess.run(probe, check=False).returncode == 0
    except FileNotFoundError:
        return False


DISKS = [LimitedFile, SmallDisk] if _may_mount() else [LimitedFile]
