"""A C3D file as a feed: its own force platforms, at its own analog rate."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from analysis.imports.axes import (
    Array,
    Placement,
    axis_name,
    direction,
    is_axis,
    placement,
)
from analysis.imports.c3d_file import C3DContent, read_c3d
from analysis.imports.c3d_platforms import PlateFeed, check_platforms, plate_feed, raw_normals
from analysis.imports.c3d_tiles import forces_only
from analysis.imports.c3d_units import Units, file_units
from analysis.imports.errors import ImportRefusedError
from analysis.imports.feed import ForeignFeed
from stream.forces import centre_of_pressure, platform_forces
from stream.layout import Deck, FeetRule, Layout

#: A platform that bears more tells which sign its forces have, N.
_LOADED_N = 100.0
_TRAVEL_M = 0.4


@dataclass(frozen=True)
class C3DOptions:
    """What the user states; None leaves it to the file and to the assumptions that are told."""

    up: str | None = None
    forward: str | None = None
    rubber_m: tuple[float, float, float] | None = None
    sense: str | None = None
    length_unit: str | None = None
    moment_unit: str | None = None
    sync: str | None = None


def read_c3d_feed(path: Path, options: C3DOptions) -> ForeignFeed:
    """Read ``path``; raise :class:`ImportRefusedError`."""
    content = read_c3d(path)
    check_platforms(content)
    notes: list[str] = []
    units = file_units(content, options.length_unit, options.moment_unit, notes)
    where = _placement(content, options, notes)
    plates = _plates(content, units, where, [1] * len(content.platforms))
    if not options.moment_unit:
        units = _checked_moments(content, units, where, plates, notes)
    senses = _senses(_plates(content, units, where, [1] * len(plates)), options, notes)
    plates = _plates(content, units, where, senses)
    _warn_of_direction(plates, notes)
    plates = forces_only(content, plates, notes)
    samples, spare = _with_sync(content, plates, options)
    return ForeignFeed(
        rate_hz=content.rate_hz,
        samples=samples,
        platforms=tuple(plate.platform for plate in plates),
        notes=tuple(notes),
        spare=spare,
    )


def _plates(
    content: C3DContent, units: Units, where: Placement, senses: list[int]
) -> list[PlateFeed]:
    return [
        plate_feed(raw, content, units, where, f"plate{k + 1}", 6 * k, senses[k])
        for k, raw in enumerate(content.platforms)
    ]


def _with_sync(
    content: C3DContent, plates: list[PlateFeed], options: C3DOptions
) -> tuple[Array, dict[str, int]]:
    columns, spare = [plate.channels for plate in plates], {}
    if options.sync is not None:
        if options.sync not in content.labels:
            known = ", ".join(content.labels[:12])
            raise ImportRefusedError(
                f"there is no analog channel {options.sync!r} (there are: {known})"
            )
        columns.append(content.analogs[:, [content.labels.index(options.sync)]])
        spare["sync"] = sum(plate.channels.shape[1] for plate in plates)
    return np.concatenate(columns, axis=1), spare


def _placement(content: C3DContent, options: C3DOptions, notes: list[str]) -> Placement:
    normals = raw_normals(content.platforms)
    dominant = np.zeros(3)
    dominant[int(np.argmax(np.abs(normals).mean(axis=0)))] = 1.0
    if options.up:
        up, why = direction(options.up), "as stated"
    elif is_axis(content.up) and abs(float(direction(content.up) @ dominant)) > 0.5:
        up, why = direction(content.up), "as the file's Y_SCREEN says"
    else:
        up, why = dominant, "taken from how the platforms lie"
    forward = direction(options.forward) if options.forward else _first_across(up)
    said = "as stated" if options.forward else "assumed; state it with --forward"
    notes.append(
        f"The file's {axis_name(up)} is up ({why}), its {axis_name(forward)} points to home "
        f"({said})."
    )
    if options.rubber_m is None:
        notes.append(
            "The file's own origin is taken as the front edge of the rubber (state it with "
            "--rubber); strides are measured from there."
        )
    return placement(up, forward, np.array(options.rubber_m or (0.0, 0.0, 0.0)))


def _first_across(up: Array) -> Array:
    """Return the first axis that is not up."""
    return direction("y" if abs(up[0]) > 0.5 else "x")


def _layout(plates: list[PlateFeed]) -> Layout:
    """Return a layout of ``plates`` for looking at their loads; the deck plays no part."""
    return Layout(
        name="looked at",
        channels=6 * len(plates),
        deck=Deck(0.0, 0.0, 1.0, 1.0, 0.0),
        platforms=tuple(plate.platform for plate in plates),
        feet=FeetRule.BY_PLACE,
        split_x=0.0,
    )


def _samples(plates: list[PlateFeed]) -> Array:
    return np.concatenate([plate.channels for plate in plates], axis=1)


def _senses(plates: list[PlateFeed], options: C3DOptions, notes: list[str]) -> list[int]:
    """Return +1 for each platform whose channels hold the reaction, -1 for the action."""
    if options.sense:
        notes.append(f"The channels hold the {options.sense}, as stated.")
        return [1 if options.sense == "reaction" else -1] * len(plates)
    vertical = platform_forces(_layout(plates), _samples(plates)).force[..., 2]
    signs: list[int | None] = []
    for load in vertical.T:
        heavy = load[np.abs(load) > max(_LOADED_N, 0.5 * float(np.nanmax(np.abs(load), initial=0)))]
        signs.append(None if not len(heavy) else 1 if np.median(heavy) > 0 else -1)
    seen = {s for s in signs if s is not None}
    if not seen:
        notes.append(
            "No platform bears a person, so nothing shows the sign of the forces; they are taken "
            "as reaction, as is usual in C3D files (state it with --sense)."
        )
        return [1] * len(plates)
    if len(seen) == 2:
        notes.append(
            "The platforms' signs differ; each is turned so that a person's weight counts up."
        )
    else:
        word = "reaction on the person" if 1 in seen else "action on the platform"
        notes.append(f"Under load the channels hold the {word} (seen from the sign of the weight).")
    usual = 1 if 1 in seen else -1
    return [usual if s is None else s for s in signs]


def _checked_moments(
    content: C3DContent, units: Units, where: Placement, plates: list[PlateFeed], notes: list[str]
) -> Units:
    """Return ``units``, or those with moments in N x the unit of length where only they can be."""
    other = Units(units.length, units.force, units.force * units.length)
    if np.isclose(other.moment, units.moment) or not any(p.kind == 2 for p in content.platforms):
        return units
    again = _plates(content, other, where, [1] * len(plates))
    if _share_on_platform(plates) > 0.5 or _share_on_platform(again) < 0.9:
        return units
    notes.append(
        "The moments' stated unit would put the load beside the platforms; they are taken in N "
        "times the unit of length (state it with --moment-unit)."
    )
    return other


def _share_on_platform(plates: list[PlateFeed]) -> float:
    """Return the share of loaded frames whose centre of pressure lies on its platform."""
    on = loaded = 0
    for plate in plates:
        alone = _layout([_alone(plate)])
        forces = platform_forces(alone, plate.channels)
        heavy = np.abs(forces.force[:, 0, 2]) > _LOADED_N
        sign = np.sign(forces.force[heavy, 0, 2])[:, None]
        place = centre_of_pressure(alone, platform_forces(alone, plate.channels[heavy] * sign))[
            :, 0
        ]
        corners = plate.platform.corners[:, :2]
        within = (place >= corners.min(axis=0)) & (place <= corners.max(axis=0))
        on, loaded = on + int(within.all(axis=1).sum()), loaded + int(heavy.sum())
    return on / loaded if loaded else 1.0


def _alone(plate: PlateFeed) -> PlateFeed:
    return PlateFeed(plate.channels, replace(plate.platform, channels=tuple(range(6))))


def _warn_of_direction(plates: list[PlateFeed], notes: list[str]) -> None:
    """Tell where the load travels against the direction that is taken to lead home."""
    layout, samples = _layout(plates), _samples(plates)
    forces = platform_forces(layout, samples)
    centres = np.stack([plate.platform.centre[:2] for plate in plates])
    total = forces.force[..., 2].sum(axis=1)
    loaded = np.flatnonzero(total > 2 * _LOADED_N)
    tenth = len(loaded) // 10
    if tenth < 5:
        return
    place = (forces.force[loaded, :, 2] @ centres) / total[loaded, None]
    x, y = np.median(place[-tenth:], axis=0) - np.median(place[:tenth], axis=0)
    if x < -_TRAVEL_M or abs(y) > max(_TRAVEL_M, abs(x)):
        way = "backwards" if x < -_TRAVEL_M and -x > abs(y) else "sideways"
        notes.append(
            f"The load travels {way}; if that is a pitcher's way home, say so with --forward."
        )
