"""Pitchers: what differs from one to another, and from pitch to pitch.

Means and standard deviations between pitchers lie between two published
college populations: Kageyama et al. 2015, J Sports Sci Med 14:246-255 (30
pitchers) and the open data set of Wasserberger et al. 2022 (403 pitches of 100
pitchers). Standard deviations from pitch to pitch are the second one's
within-session typical errors. What has no published value is common practice,
no source, and says so.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from simulators.body import Body, Sway

MPH = 0.44704


class Style(StrEnum):
    """How the pitcher delivers."""

    WINDUP = "windup"
    STRETCH = "stretch"
    SLIDE_STEP = "slide_step"


@dataclass(frozen=True, slots=True)
class _Spread:
    mean: float
    between: float
    within: float
    low: float
    high: float


#: Forces in body weights, times in s, speeds in m/s, stride in statures, angle in degrees.
TRAITS: dict[str, _Spread] = {
    "drive_forward": _Spread(0.88, 0.140, 0.049, 0.52, 1.30),
    "drive_vertical": _Spread(1.385, 0.175, 0.068, 1.05, 1.95),
    "drive_side": _Spread(0.135, 0.060, 0.017, 0.02, 0.35),
    "landing_braking": _Spread(1.165, 0.170, 0.082, 0.60, 1.85),
    "landing_vertical": _Spread(2.005, 0.225, 0.126, 1.35, 3.30),
    "landing_side": _Spread(0.25, 0.090, 0.048, 0.03, 0.60),
    "speed_gained": _Spread(2.75, 0.240, 0.056, 2.1, 3.4),
    "speed_at_lift": _Spread(0.31, 0.090, 0.030, 0.05, 0.6),
    "stride": _Spread(0.838, 0.056, 0.015, 0.68, 1.00),
    "stride_angle": _Spread(1.8, 5.6, 1.6, -14.0, 17.0),
    "lift_to_contact": _Spread(0.90, 0.220, 0.040, 0.58, 1.60),
    # Guido & Werner 2012, J Strength Cond Res 26:1782-1785: about 45 ms.
    "landing_peak_at": _Spread(0.045, 0.005, 0.002, 0.030, 0.062),
    # From here on: common practice, no source.
    "drive_peak_before": _Spread(0.115, 0.018, 0.006, 0.06, 0.18),
    "toe_off_at": _Spread(0.045, 0.024, 0.006, -0.03, 0.12),
    "fall_speed": _Spread(0.70, 0.110, 0.030, 0.4, 1.1),
    "dip_time": _Spread(0.50, 0.060, 0.015, 0.36, 0.66),
    "shoulder": _Spread(0.06, 0.035, 0.02, 0.0, 0.13),
    "speed_kept": _Spread(1.00, 0.180, 0.050, 0.5, 1.6),
    "lift_rise": _Spread(0.055, 0.015, 0.004, 0.02, 0.10),
    "set_share": _Spread(0.55, 0.060, 0.010, 0.42, 0.70),
    "set_spread": _Spread(0.50, 0.070, 0.010, 0.33, 0.70),
    "rubber_place": _Spread(0.0, 0.090, 0.008, -0.20, 0.20),
    "drag": _Spread(0.04, 0.020, 0.008, 0.0, 0.085),
}
#: Forward and vertical peaks go together: correlation between pitchers, and within one, chosen
#: so that the resultant's published standard deviations come out.
_TOGETHER = {
    "drive_vertical": ("drive_forward", 0.57, 0.47),
    "landing_vertical": ("landing_braking", 0.51, 0.87),
    "speed_gained": ("drive_forward", 0.50, 0.40),
}
BALL_SPEED_MPH = _Spread(84.75, 4.76, 0.615, 55.0, 104.0)
#: Between pitchers, ball speed goes with the landing resultant, r = 0.36 (Wasserberger et al.
#: 2022); from pitch to pitch of one pitcher it does not.
SPEED_CORRELATION = 0.36
_USUAL_HEIGHT_M = 1.853
_LANDING_MEAN, _LANDING_SD = 2.32, 0.28


@dataclass(frozen=True, eq=False)
class Profile:
    """One invented pitcher: body, hand, habits and how he tires."""

    code: str
    throws: str
    body: Body
    sway: Sway
    traits: dict[str, float]
    ball_mph: float
    fatigue: float  # share of force lost over 100 pitches
    seed: int

    @property
    def side(self) -> int:
        """The sign of y on the arm side."""
        return -1 if self.throws == "R" else 1


@dataclass(frozen=True, eq=False)
class Draw:
    """One pitch to be: this time's traits, and the ball's speed in m/s."""

    style: Style
    traits: dict[str, float]
    speed_mps: float


def draw_body(rng: np.random.Generator, wide: bool) -> Body:
    """Draw a college pitcher's body, or (``wide``) any from 45 to 130 kg."""
    if wide:
        mass = rng.uniform(45.0, 130.0)
        index = 21.5 + 8.0 * (mass - 45.0) / 85.0 + rng.normal(0.0, 0.8)
        return Body(float(mass), float(np.clip(np.sqrt(mass / index), 1.40, 2.08)))
    z = rng.standard_normal(2)
    mass = np.clip(90.7 + 10.2 * z[0], 65.0, 125.0)
    height = np.clip(1.853 + 0.072 * (0.6 * z[0] + 0.8 * z[1]), 1.65, 2.05)
    return Body(float(mass), float(height))


def draw_profile(
    rng: np.random.Generator, code: str, throws: str | None = None, wide: bool = False
) -> Profile:
    """Draw a pitcher; seven of ten throw with the right hand unless told."""
    hand = throws or ("R" if rng.random() < 0.7 else "L")
    body = draw_body(rng, wide)
    usual = {k: s.mean for k, s in TRAITS.items()}
    # Equal Froude numbers: a smaller body moves more slowly (common practice, no source).
    usual["speed_gained"] *= float(np.sqrt(body.height_m / _USUAL_HEIGHT_M))
    traits = _draw(rng, usual, "between")
    landing = np.hypot(traits["landing_braking"], traits["landing_vertical"])
    z = SPEED_CORRELATION * (landing - _LANDING_MEAN) / _LANDING_SD
    z += np.sqrt(1 - SPEED_CORRELATION**2) * rng.standard_normal()
    return Profile(
        code=code,
        throws=hand,
        body=body,
        sway=Sway.draw(rng),
        traits=traits,
        ball_mph=BALL_SPEED_MPH.mean + BALL_SPEED_MPH.between * float(z),
        fatigue=float(np.clip(rng.normal(0.03, 0.02), 0.0, 0.08)),
        seed=int(rng.integers(2**31)),
    )


def draw_pitch(rng: np.random.Generator, profile: Profile, style: Style, thrown: int) -> Draw:
    """Draw one pitch after ``thrown`` earlier ones."""
    tired = 1.0 - profile.fatigue * thrown / 100.0
    means = dict(profile.traits)
    for key in ("drive_forward", "drive_vertical", "landing_braking", "landing_vertical"):
        means[key] *= tired
    traits = _draw(rng, means, "within")
    # Who pushes up more has fallen no farther: he falls more slowly at foot contact.
    push = traits["drive_vertical"] - TRAITS["drive_vertical"].mean
    traits["fall_speed"] = max(traits["fall_speed"] - 0.9 * push, 0.2)
    if style is Style.SLIDE_STEP:
        traits["lift_to_contact"] = float(np.clip(rng.normal(0.5, 0.03), 0.42, 0.6))
        traits["fall_speed"] *= 0.6
        traits["lift_rise"] = 0.0
        traits["speed_at_lift"] *= 0.4
    speed = profile.ball_mph * (1.0 - 0.6 * profile.fatigue * thrown / 100.0)
    speed += BALL_SPEED_MPH.within * rng.standard_normal()
    speed = float(np.clip(speed, BALL_SPEED_MPH.low, BALL_SPEED_MPH.high))
    return Draw(style, traits, round(speed * MPH, 2))


def _draw(rng: np.random.Generator, means: dict[str, float], level: str) -> dict[str, float]:
    z = {key: float(rng.standard_normal()) for key in TRAITS}
    for key, (partner, between, within) in _TOGETHER.items():
        r = between if level == "between" else within
        z[key] = r * z[partner] + float(np.sqrt(1 - r * r)) * z[key]
    drawn = {}
    for key, spread in TRAITS.items():
        scale = spread.between if level == "between" else spread.within
        drawn[key] = float(np.clip(means[key] + scale * z[key], spread.low, spread.high))
    return drawn
