"""Platforms of a C3D file that measure no moments: tiles, whose force acts at the centre."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from analysis.imports.c3d_file import C3DContent, RawPlatform
from analysis.imports.c3d_platforms import PlateFeed
from analysis.imports.notes import grouped
from stream.layout import PlatformKind


def forces_only(
    content: C3DContent, plates: Sequence[PlateFeed], notes: list[str]
) -> list[PlateFeed]:
    """Return ``plates`` on channels counted anew, those without moments as such; tell ``notes``.

    TYPE 2 always names six channels: where one channel of zeros stands for all three moments,
    nothing was measured, and a place that is always the centre is an estimate.
    """
    told: list[tuple[str, str]] = []
    found: list[PlateFeed] = []
    first = 0
    for raw, plate in zip(content.platforms, plates, strict=True):
        channels, platform = plate.channels, plate.platform
        if _without_moments(raw, content):
            channels = channels[:, :3]
            platform = replace(
                platform,
                kind=PlatformKind.FORCE,
                origin=np.zeros(3),
                calibration=platform.calibration[:3, :3],
            )
            told.append((platform.name, "no moments; the force is taken to act at the centre."))
        used = range(first, first + channels.shape[1])
        found.append(PlateFeed(channels, replace(platform, channels=tuple(used))))
        first = used.stop
    notes += grouped(told)
    return found


def _without_moments(raw: RawPlatform, content: C3DContent) -> bool:
    moments = set(raw.channels[3:6])
    if raw.kind != 2 or len(moments) > 1:
        return False
    return not np.nan_to_num(content.analogs[:, list(moments)]).any()
