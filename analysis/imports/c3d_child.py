"""Reads one C3D file with the C3D library, in a process of its own, and hands on plain arrays.

The library is C++ and can break down on a damaged file; then this process ends, not the program.
Called as ``python -m analysis.imports.c3d_child FILE.c3d OUT.npz``.
"""

from __future__ import annotations

import contextlib
import json
import resource
import sys
from pathlib import Path
from typing import Any

import numpy as np

#: A damaged file must not take the computer's whole memory, bytes.
_MOST_MEMORY = 6 * 1024**3
REFUSED = 3


def main(path: str, out: str) -> int:
    """Read ``path`` and write ``out``; return 0, or REFUSED with a line on standard error."""
    with contextlib.suppress(ValueError, OSError):  # where a system does not know the limit
        resource.setrlimit(resource.RLIMIT_AS, (_MOST_MEMORY, _MOST_MEMORY))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    import ezc3d  # noqa: PLC0415 - after the limits

    try:
        file = ezc3d.c3d(path)
        parameters, header = file["parameters"], file["header"]
        about = {
            "labels": _texts(parameters, "ANALOG", "LABELS"),
            "units": _texts(parameters, "ANALOG", "UNITS"),
            "rate_hz": float(header["analogs"]["frame_rate"]),
            "point_rate_hz": float(header["points"]["frame_rate"]),
            "length_unit": "".join(_texts(parameters, "POINT", "UNITS")[:1]),
            "up": "".join(_texts(parameters, "POINT", "Y_SCREEN")[:1]),
            "platforms": _platforms(parameters),
        }
        analogs = np.asarray(file["data"]["analogs"], dtype=float)[0].T
    except Exception as error:
        print(" ".join(str(error).split())[:200] or type(error).__name__, file=sys.stderr)
        return REFUSED
    np.savez(Path(out), analogs=analogs, about=np.array(json.dumps(about)))
    return 0


def _value(parameters: Any, group: str, name: str) -> Any:
    if group not in parameters or name not in parameters[group]:
        return []
    return parameters[group][name]["value"]


def _texts(parameters: Any, group: str, name: str) -> list[str]:
    """Return a list of texts that may go on in NAME2, NAME3, ... (255 is the most for one)."""
    texts: list[str] = []
    part = 1
    while found := _value(parameters, group, name if part == 1 else f"{name}{part}"):
        texts += [str(text).strip() for text in found]
        part += 1
    return texts


def _platforms(parameters: Any) -> list[dict[str, Any]]:
    """Return the force platforms as the file describes them, channels counted from 0."""
    used = np.asarray(_value(parameters, "FORCE_PLATFORM", "USED")).ravel()
    count = int(used[0]) if used.size else 0
    names = ("TYPE", "CORNERS", "ORIGIN", "CHANNEL", "CAL_MATRIX")
    found = {name: np.asarray(_value(parameters, "FORCE_PLATFORM", name)) for name in names}
    try:
        return [_platform(found, k, count) for k in range(count)]
    except (IndexError, ValueError):
        raise ValueError("its force platforms are not described as the standard asks") from None


def _platform(found: dict[str, Any], k: int, count: int) -> dict[str, Any]:
    kind = int(found["TYPE"].ravel()[k])
    matrix = found["CAL_MATRIX"]
    return {
        "type": kind,
        "corners": found["CORNERS"].reshape(3, 4, -1)[:, :, k].T.tolist(),
        "origin": found["ORIGIN"].reshape(3, -1)[:, k].tolist(),
        "channels": (found["CHANNEL"].reshape(-1, count)[:, k].astype(int) - 1).tolist(),
        "calibration": (
            matrix.reshape(*matrix.shape[:2], -1)[:, :, k].tolist()
            if matrix.ndim >= 2 and kind == 4
            else None
        ),
    }


if __name__ == "__main__":
    raise SystemExit(main(*sys.argv[1:3]))
