"""A C3D file's analog channels and force platforms, read safely.

The head is looked at here first, the rest is read by the C3D library in a process of its own; what
it gives is held against the head and the file's size, because it takes files that are cut off.
"""

from __future__ import annotations

import json
import struct
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from analysis.imports.c3d_child import REFUSED
from analysis.imports.errors import ImportRefusedError

Array = npt.NDArray[np.float64]

#: C3D user guide, "The header section": word 1 holds 50h, blocks are 512 bytes.
KEY = 0x50
BLOCK_BYTES = 512
#: The same, "The parameter section": byte 4, 83 and the kind of processor.
_PROCESSORS = {84: "<", 85: "<", 86: ">"}
_DEC = 85
_LONGEST_S = 300.0
_MOST_BYTES = 2 * 1024**3
#: Header frames are 16 bits; a longer file says its length elsewhere.
_MOST_HEADER_FRAMES = 65535


@dataclass(frozen=True)
class Head:
    """The header's own account of the data section."""

    points: int
    analogs_a_frame: int
    frames: int
    samples_a_frame: int
    data_start: int
    bytes_a_value: int


@dataclass(frozen=True, eq=False)
class RawPlatform:
    """A force platform as the file describes it, in the file's units and laboratory axes.

    ``corners`` (4, 3), ``origin`` (3,), ``channels`` counted from 0, ``calibration`` (6, 6) for
    TYPE 4 only.
    """

    kind: int
    corners: Array
    origin: Array
    channels: tuple[int, ...]
    calibration: Array | None


@dataclass(frozen=True, eq=False)
class C3DContent:
    """``analogs`` (n, channels) scaled as the file says."""

    analogs: Array
    rate_hz: float
    labels: tuple[str, ...]
    units: tuple[str, ...]
    length_unit: str
    up: str
    platforms: tuple[RawPlatform, ...]


def read_c3d(path: Path) -> C3DContent:
    """Read ``path``; raise :class:`ImportRefusedError` with one sentence."""
    head = read_head(path)
    if find_spec("ezc3d") is None:
        raise ImportRefusedError("C3D files need 'ezc3d'; install it with: pip install '.[c3d]'")
    analogs, about = _in_child(path)
    _check_length(path, head, analogs)
    return C3DContent(
        analogs=analogs,
        rate_hz=about["rate_hz"],
        labels=tuple(about["labels"]),
        units=tuple(about["units"]),
        length_unit=about["length_unit"],
        up=about["up"],
        platforms=tuple(_platform(entry) for entry in about["platforms"]),
    )


def read_head(path: Path) -> Head:
    """Read the header section; raise :class:`ImportRefusedError` where it is none of a C3D file."""
    try:
        size = path.stat().st_size
        with path.open("rb") as file:
            block = file.read(BLOCK_BYTES)
            file.seek((max(block[0], 1) - 1) * BLOCK_BYTES if block else 0)
            parameters = file.read(4)
    except OSError as error:
        raise ImportRefusedError(f"{path}: {error.strerror}") from None
    if len(block) < BLOCK_BYTES or block[1] != KEY or len(parameters) < 4:
        raise ImportRefusedError(f"{path.name} is not a C3D file")
    if size > _MOST_BYTES:
        raise ImportRefusedError(f"{path.name} is too large ({size / 1e9:.1f} GB)")
    order = _PROCESSORS.get(parameters[3])
    if order is None:
        raise ImportRefusedError(f"{path.name} is not a C3D file, or its parameters are damaged")
    words = struct.unpack_from(f"{order}10H", block)
    if words[4] < words[3] or not words[8]:
        raise ImportRefusedError(f"{path.name} is damaged: its header names no data")
    # A negative scale factor says that values are floats; the sign is in the top byte.
    scale = block[12:16]
    top = scale[0] if order == ">" else scale[1] if parameters[3] == _DEC else scale[3]
    return Head(
        points=words[1],
        analogs_a_frame=words[2],
        frames=words[4] - words[3] + 1,
        samples_a_frame=words[9],
        data_start=(words[8] - 1) * BLOCK_BYTES,
        bytes_a_value=4 if top & 0x80 else 2,
    )


def _in_child(path: Path) -> tuple[Array, dict[str, Any]]:
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "content.npz"
        command = [sys.executable, "-m", "analysis.imports.c3d_child", str(path.absolute())]
        try:
            done = subprocess.run(
                [*command, str(out)], capture_output=True, timeout=_LONGEST_S, check=False
            )
        except subprocess.TimeoutExpired:
            raise ImportRefusedError(
                f"{path.name} could not be read within {_LONGEST_S:g} s; it is damaged"
            ) from None
        if done.returncode == REFUSED:
            why = done.stderr.decode(errors="replace").strip().splitlines() or [""]
            raise ImportRefusedError(f"{path.name} cannot be read as C3D: {why[-1]}")
        if done.returncode or not out.is_file():
            raise ImportRefusedError(
                f"{path.name} cannot be read as C3D: the C3D library broke down on it; "
                "it is damaged, or lacks parameters that the standard asks for"
            )
        with np.load(out) as content:
            return np.asarray(content["analogs"]), json.loads(str(content["about"]))


def _check_length(path: Path, head: Head, analogs: Array) -> None:
    """The library reads zeros beyond the end of a file that is cut off."""
    if not analogs.size or not head.samples_a_frame:
        raise ImportRefusedError(f"{path.name} has no analog channels, so no forces")
    frames = len(analogs) // head.samples_a_frame
    values = 4 * head.points + head.analogs_a_frame
    held = (path.stat().st_size - head.data_start) // (values * head.bytes_a_value)
    if held < max(frames, head.frames):
        raise ImportRefusedError(
            f"{path.name} is cut off: it should have {max(frames, head.frames)} frames and holds "
            f"{max(held, 0)}"
        )
    if frames < head.frames and head.frames < _MOST_HEADER_FRAMES:
        raise ImportRefusedError(
            f"{path.name}: only {frames} of {head.frames} frames could be read"
        )


def _platform(entry: dict[str, Any]) -> RawPlatform:
    matrix = entry["calibration"]
    return RawPlatform(
        kind=entry["type"],
        corners=np.array(entry["corners"], dtype=float),
        origin=np.array(entry["origin"], dtype=float),
        channels=tuple(entry["channels"]),
        calibration=None if matrix is None else np.array(matrix, dtype=float),
    )
