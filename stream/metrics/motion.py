"""Motion of the centre of mass, by impulse and momentum from quiet standing."""

from __future__ import annotations

from stream.curves import between, integral, value_at
from stream.metrics.registry import Group, measured
from stream.movement import Movement

_TO_CONTACT = ("first_move", "foot_contact")
_TO_BRAKE_END = ("first_move", "brake_end")
_SPEED_SOURCE = (
    "impulse-momentum theorem; Wasserberger et al. 2022 (open data set), "
    "peak 3.06 +- 0.25 m/s, 100 pitchers"
)


@measured(
    "forward_speed_mps",
    label="Body speed at contact",
    short="body m/s",
    unit="m/s",
    definition="Forward velocity of the centre of mass at foot contact: whole-deck Fx / mass "
    "integrated from quiet standing.",
    source=_SPEED_SOURCE,
    group=Group.MOTION,
    span=_TO_CONTACT,
    whole_deck=True,
)
def forward_speed_mps(m: Movement) -> float:
    """Forward speed of the centre of mass at foot contact, m/s."""
    return value_at(m.forward_speed, m.at("foot_contact"))


@measured(
    "peak_forward_speed_mps",
    label="Body speed, greatest",
    short="body max",
    unit="m/s",
    definition="Greatest forward velocity of the centre of mass up to brake end.",
    source=_SPEED_SOURCE,
    group=Group.MOTION,
    span=_TO_BRAKE_END,
    whole_deck=True,
)
def peak_forward_speed_mps(m: Movement) -> float:
    """Greatest forward speed of the centre of mass, m/s."""
    return float(between(m.forward_speed, m.at("first_move"), m.at("brake_end")).max())


@measured(
    "forward_speed_remaining_mps",
    label="Body speed remaining",
    short="rem. speed",
    unit="m/s",
    definition="Forward velocity of the centre of mass at brake end.",
    group=Group.MOTION,
    span=_TO_BRAKE_END,
    whole_deck=True,
)
def forward_speed_remaining_mps(m: Movement) -> float:
    """Forward speed of the centre of mass at brake end, m/s."""
    return value_at(m.forward_speed, m.at("brake_end"))


@measured(
    "drive_power_wkg",
    label="Forward power",
    short="power",
    unit="W/kg",
    definition="Greatest forward mechanical power per kg, Fx vx / m of the whole deck, before "
    "foot contact.",
    group=Group.MOTION,
    span=_TO_CONTACT,
    whole_deck=True,
)
def drive_power_wkg(m: Movement) -> float:
    """Greatest forward power before foot contact, W/kg."""
    return float(between(m.forward_power, m.at("first_move"), m.at("foot_contact")).max())


@measured(
    "braking_power_wkg",
    label="Braking power",
    short="brake pow",
    unit="W/kg",
    definition="Most negative forward mechanical power per kg, foot contact to brake end.",
    group=Group.MOTION,
    span=_TO_BRAKE_END,
    also=("foot_contact",),
    whole_deck=True,
)
def braking_power_wkg(m: Movement) -> float:
    """Most negative forward power from foot contact to brake end, W/kg."""
    return float(between(m.forward_power, m.at("foot_contact"), m.at("brake_end")).min())


@measured(
    "drive_work_j",
    label="Forward work",
    short="work",
    unit="J",
    definition="Integral of forward power, from rest to foot contact: the forward kinetic "
    "energy gained, a check on the integration.",
    source="work-energy theorem",
    group=Group.MOTION,
    span=_TO_CONTACT,
    whole_deck=True,
)
def drive_work_j(m: Movement) -> float:
    """Forward work done on the body up to foot contact, J."""
    start = float(m.still_until)
    return m.mass_kg * integral(m.forward_power, start, m.at("foot_contact"), m.rate_hz)


@measured(
    "braking_work_j",
    label="Braking work",
    short="brake work",
    unit="J",
    definition="Integral of forward power, foot contact to brake end: the forward kinetic "
    "energy taken out (negative).",
    source="work-energy theorem",
    group=Group.MOTION,
    span=_TO_BRAKE_END,
    also=("foot_contact",),
    whole_deck=True,
)
def braking_work_j(m: Movement) -> float:
    """Forward work done on the body from foot contact to brake end, J."""
    return m.mass_kg * integral(m.forward_power, m.at("foot_contact"), m.at("brake_end"), m.rate_hz)
