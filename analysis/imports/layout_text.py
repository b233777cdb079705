"""A layout file for platforms that another program described."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence

import numpy as np

from stream.layout import Array, Platform, PlatformKind

#: A surface that falls by less than this share is level.
_LEVEL = 0.01
#: Gaps of at least this share of the widest one are as wide: rows of tiles.
_AS_WIDE = 0.9
#: Between the drive foot at the rubber and the shortest stride, m in front of the rubber.
_BETWEEN_FEET_M = 0.45
#: What may not stand in a comment of TOML, line ends before all.
_CONTROL = re.compile(r"[\x00-\x08\x0a-\x1f\x7f]")


def layout_toml(
    channels: int, platforms: Sequence[Platform], spare: Mapping[str, int], notes: Sequence[str]
) -> str:
    """Return the layout of ``platforms`` as TOML; ``notes`` stand in it as comments."""
    feet, split = _feet(platforms)
    lines = [f"# {_CONTROL.sub(' ', note)}" for note in notes]
    lines += [
        'name = "imported"',
        f"channels = {channels}",
        f'feet = "{feet}"',
        f"split_x_m = {_number(split)}",
        "",
        "[deck]",
        *(f"{key} = {_number(value)}" for key, value in _deck(platforms).items()),
    ]
    for platform in platforms:
        lines += ["", "[[platform]]", *_platform_lines(platform)]
    if spare:
        lines += ["", "[spare]", *(f"{_text(k)} = {v}" for k, v in spare.items())]
    return "\n".join(lines) + "\n"


def _platform_lines(p: Platform) -> list[str]:
    lines = [
        f"name = {_text(p.name)}",
        f'kind = "{p.kind.value}"',
        f"channels = {list(p.channels)}",
        f'sense = "{"reaction" if p.sense > 0 else "action"}"',
        f"corners_m = {_matrix(p.corners)}",
    ]
    if p.kind is PlatformKind.WRENCH and p.origin.any():
        lines.append(f"origin_m = [{', '.join(map(_number, p.origin.tolist()))}]")
    if not np.array_equal(p.calibration, np.eye(len(p.channels))):
        lines.append(f"calibration = {_matrix(p.calibration)}")
    return lines


def _feet(platforms: Sequence[Platform]) -> tuple[str, float]:
    """Return how the feet are told apart, and where the boundary lies.

    It is put into the widest gap between the platforms' centres along x; of gaps as wide (rows
    of tiles) into the one nearest to the middle between a drive foot and the shortest stride.
    """
    order = sorted(platforms, key=lambda p: float(p.centre[0]))
    centres = np.array([p.centre[0] for p in order])
    if len(order) == 1:
        return "by_lever", float(centres[0])
    gaps = np.diff(centres)
    behind = np.maximum.accumulate([float(p.corners[:, 0].max()) for p in order])[:-1]
    edges = behind[gaps >= _AS_WIDE * gaps.max()]
    return "by_place", float(edges[np.argmin(np.abs(edges - _BETWEEN_FEET_M))])


def _deck(platforms: Sequence[Platform]) -> dict[str, float]:
    """Return a deck that the platforms cover: level, then falling as the sloped ones do."""
    corners = np.concatenate([p.corners for p in platforms])
    back, front = float(corners[:, 0].min()), float(corners[:, 0].max())
    falls = [(p, p.axes[0, 2] / p.axes[2, 2]) for p in platforms]
    sloped = [(p, fall) for p, fall in falls if fall > _LEVEL]
    return {
        "back_m": back,
        "front_of_level_m": min([float(p.corners[:, 0].min()) for p, _ in sloped], default=front),
        "front_m": front,
        "half_width_m": float(np.abs(corners[:, 1]).max()),
        "fall_per_m": float(np.mean([fall for _, fall in sloped])) if sloped else 0.0,
    }


def _matrix(rows: Array) -> str:
    return "[" + ", ".join(f"[{', '.join(map(_number, row))}]" for row in rows.tolist()) + "]"


def _text(text: str) -> str:
    """Return a text as TOML: JSON's escapes, but no halves of a character, and none for DEL."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _number(value: float) -> str:
    """Return a float as TOML, to a nanometre's worth of digits."""
    text = f"{value + 0.0:.12g}"
    return text if any(c in text for c in ".en") else text + ".0"
