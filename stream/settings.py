"""Settings of the measurement: every threshold in one place, with its unit.

The defaults are the definitions in docs/definitions.md. A settings file is
TOML with some of these names; what it does not name keeps its default.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

import msgspec
from msgspec import Meta

Share = Annotated[float, Meta(gt=0.0, lt=3.0)]


class SettingsError(ValueError):
    """Settings that cannot be; the text names the one."""


class Settings(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Settings of detection and measurement. Shares (``_bw``) are of body weight, 1.0 = 100 %."""

    #: Overall -3 dB cut-off of the zero-phase low-pass, Hz; None measures unfiltered.
    filter_hz: Annotated[float, Meta(ge=1.0, le=1000.0)] | None = 40.0
    contact_bw: Share = 0.10
    plant_bw: Share = 1.00
    onset_bw: Share = 0.05
    toe_off_bw: Share = 0.10
    #: Centre of pressure is told only where the foot carries at least this.
    pressure_bw: Share = 0.10
    #: Quiet standing: SD of 0.5 s under this share of its mean.
    quiet_sd: Annotated[float, Meta(gt=0.0, lt=0.2)] = 0.015
    #: First move: quiet band in SD, and how long it must be left.
    quiet_band_sd: Annotated[float, Meta(ge=1.0, le=20.0)] = 5.0
    move_hold_s: Annotated[float, Meta(gt=0.0, le=0.5)] = 0.050
    #: Latest `brake_end` after foot contact.
    brake_limit_s: Annotated[float, Meta(ge=0.2, le=1.0)] = 0.5
    #: Lightest person who may be on the deck; a steady load well under it is a thing.
    lightest_person_kg: Annotated[float, Meta(ge=20.0, le=100.0)] = 40.0
    #: A pitch needs at least these (a delivery short of them is named, not counted).
    pitch_forward_speed_mps: Annotated[float, Meta(ge=0.0, le=5.0)] = 1.2
    pitch_landing_bw: Share = 1.15
    pitch_stride_m: Annotated[float, Meta(ge=0.0, le=3.0)] = 0.7
    #: Set position and weigh-in may differ by this share before `weight_mismatch`.
    weight_mismatch: Annotated[float, Meta(gt=0.0, lt=0.5)] = 0.03


def settings_from_mapping(table: Mapping[str, Any]) -> Settings:
    """Build settings from a parsed TOML table; raise :class:`SettingsError`.

    TOML has no null: ``filter_hz = "none"`` asks for unfiltered measurement.
    """
    plain = dict(table)
    if plain.get("filter_hz") == "none":
        plain["filter_hz"] = None
    unknown = [name for name in plain if name not in Settings.__struct_fields__]
    if unknown:
        raise SettingsError(
            f"there is no setting {unknown[0]!r}; there are {', '.join(Settings.__struct_fields__)}"
        )
    try:
        return msgspec.convert(plain, Settings)
    except msgspec.ValidationError as error:
        raise SettingsError(f"settings: {error}") from None


def settings_to_mapping(settings: Settings) -> dict[str, Any]:
    """Return every setting by name, ``"none"`` for no filter: what a recording carries."""
    plain: dict[str, Any] = msgspec.to_builtins(settings)
    if plain["filter_hz"] is None:
        plain["filter_hz"] = "none"
    return plain
