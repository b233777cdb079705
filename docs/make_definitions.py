"""Writes docs/definitions.md from the registries: ``python -m docs.make_definitions``.

What a registry or a constant knows is taken from there, so that the page
cannot tell of another number than the one that is used.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from pathlib import Path

from msgspec.structs import fields

from analysis.words import FLAGS
from stream import book, counting, events, filters, report, stance, zero
from stream.feet import CREEP_MPS, LEAST_LEVER_M
from stream.metrics import METRICS, Group, Metric
from stream.outputs import NotCountedReason
from stream.rows import ROW_S
from stream.settings import Settings

PAGE = Path(__file__).with_name("definitions.md")

UNITS = {
    "N": "newton",
    "% BW": "per cent of body weight",
    "N s": "newton second",
    "% BW/s": "per cent of body weight per second",
    "s": "second",
    "m": "metre",
    "m/s": "metre per second",
    "W/kg": "watt per kilogram of body mass",
    "J": "joule",
    "deg": "degree",
    "": "a ratio, without unit",
}

SETTINGS = {
    "filter_hz": "overall -3 dB cut-off of the zero-phase low-pass, Hz (`none`: unfiltered)",
    "contact_bw": "foot contact: vertical force of the lead leg",
    "plant_bw": "foot plant: vertical force of the lead leg",
    "onset_bw": "push-off begin: forward force of the drive leg",
    "toe_off_bw": "toe-off: vertical force of the drive leg",
    "pressure_bw": "a centre of pressure is told only where the foot carries at least this",
    "quiet_sd": "quiet standing: SD over 0.5 s, share of the mean",
    "quiet_band_sd": "first move: width of the quiet band, SD",
    "move_hold_s": "first move: how long the band must be left, s",
    "brake_limit_s": "latest brake end after foot contact, s",
    "lightest_person_kg": "lightest person who may be on the deck, kg",
    "pitch_forward_speed_mps": "a pitch has at least this body speed at foot contact, m/s",
    "pitch_landing_bw": "a pitch has at least this vertical landing force",
    "pitch_stride_m": "a pitch has at least this stride, m",
    "weight_mismatch": "weigh-in and set position may differ by this share",
}

NOT_COUNTED = {
    NotCountedReason.STEP_OFF: "The pitcher left the set position backwards or off the deck "
    "without a delivery.",
    NotCountedReason.NO_LANDING: "A leg was lifted or moved, and no landing with forward speed "
    "followed.",
    NotCountedReason.THROW_OVER: "The body turned or strode away from home: faster than "
    f"{counting.TURN_SPEED_MPS:g} m/s sideways or backwards, or more than "
    f"{counting.MOST_ACROSS:g} m across per metre forward.",
    NotCountedReason.SECOND_PERSON: "More load than one person's: "
    f"{100 * counting.LEFT_BEHIND_BW:.0f} % of body weight still on the drive foot's side when "
    f"braking is over, or a mean above {100 * counting.MOST_MEAN_LOAD_BW:.0f} %.",
    NotCountedReason.FEED_GAP: "Frames of the movement never came and what did come is no pitch by "
    "itself, or the feed broke off, began anew or had a hole of more than 2 s while the pitcher "
    "was set or moving. A pitch may be missing.",
    NotCountedReason.OTHER: "A landing that falls short of any pitch; `why` says in what. The "
    "limits are the settings `pitch_...`, "
    f"{100 * counting.LEAST_BRAKING_BW:.0f} % braking, "
    f"{100 * counting.LEAST_PUSH_BW:.0f} % push-off, and a push-off from "
    f"{counting.RUBBER_REACH_M[0]:g} to {counting.RUBBER_REACH_M[1]:g} m towards home from the "
    "front edge of the rubber.",
}

DEFAULTS = Settings()


def page() -> str:
    """Return the page's text."""
    parts = (
        _HEAD,
        _events(),
        _metrics(),
        _precise(),
        _zero(),
        _flags(),
        _not_counted(),
        _settings(),
    )
    return "\n\n".join(_wrapped(part.strip()) for part in parts) + "\n"


_HEAD = """
# What is measured, and how it is defined

This page is made by `python -m docs.make_definitions` from the registries in the code; change
those, not this page.

Forces are ground reactions on the pitcher in the mound frame: origin at the middle of the front
edge of the rubber, at its top; x towards home plate, y to the left of a pitcher who faces home,
z up. The *drive* foot is the one on the rubber, the *lead* foot the one that lands. Right- and
left-handers share the frame; only what says arm side, open or closed is mirrored. Times are
seconds from foot contact. What could not be measured is null and has a flag that says why; it is
never 0.

The values describe a movement. They are no medical advice; decisions on workload and injury belong
to licensed staff.
"""


def _events() -> str:
    rows = ((f"`{e.key}`", e.label, e.definition) for e in events.EVENTS)
    return f"## Events\n\n{_table(('key', 'label', 'definition'), rows)}"


def _metrics() -> str:
    parts = ["## Metrics"]
    head = ("key", "label", "unit", "definition", "read between", "needs", "source")
    for group in Group:
        chosen = [m for m in METRICS if m.group is group]
        parts.append(f"### {group.value.capitalize()}\n\n{_table(head, map(_metric, chosen))}")
    used = dict.fromkeys(m.unit for m in METRICS)
    units = _table(("unit", "in words"), ((unit or "(none)", UNITS[unit]) for unit in used))
    parts.append(
        f"### Units\n\n{units}\n\nThe screen can show US customary units; files are always in SI."
    )
    return "\n\n".join(parts)


def _metric(m: Metric) -> tuple[str, ...]:
    first, last = m.span
    between = f"`{first}`" if first == last else f"`{first}` to `{last}`"
    needs = ", ".join([*(need.name.lower() for need in m.needs), *(f"`{e}`" for e in m.also)])
    return f"`{m.key}`", m.label, m.unit, m.definition, between, needs, m.source


def _precise() -> str:
    design = filters.design_cutoff(40.0, 200.0)
    return f"""
## Made precise

**Filter.** The reported values come from a zero-phase Butterworth low-pass, two passes of 2nd
order. The cut-off in the settings is that of both passes together: for 40 Hz at 200 Hz sampling
one pass is designed for {design:.3f} Hz (the correction, {filters.TWO_PASS_CORRECTION:.6f}, is on
the tangent-warped frequency). Foot contact is read from the unfiltered force.

**Quiet standing.** The SD is that of the means of {1000 * ROW_S:.0f} ms, not of single samples: so
10 N of sensor noise does not hide a light pitcher's stillness. Over {stance.WINDOW_S:g} s it is
under {100 * DEFAULTS.quiet_sd:g} % of their mean (what the deck's own noise adds is allowed for)
and they have no trend; at least {stance.LEAST_S:g} s of it is quiet standing.

**Body weight.** The median vertical force of the whole deck in quiet standing, at least 1 s of it,
without its last {report.WEIGHT_MARGIN_S:g} s, in which a movement may begin. A pitcher whose
roster entry has a weigh-in is measured by that instead.

**First move.** The quiet band has a floor of {100 * events.LEAST_BAND_BW:g} % of body weight and
{1000 * events.LEAST_BAND_M:g} mm, so that a noiseless feed's stillness is not left by a breath. It
is taken from the last second of quiet standing in which the centre of pressure stays put too: a
slow shift from foot to foot can begin inside quiet standing.

**Push-off begin.** The last upward crossing of {100 * DEFAULTS.onset_bw:g} % of body weight before
the greatest forward push of the drive leg.

**Foot contact.** The last upward crossing of {100 * DEFAULTS.contact_bw:g} % of body weight, on
the unfiltered force and interpolated between samples, before the lead foot bears half the body: a
foot that brushes the ground first does not count. It is null if a frame beside it never came.

**Impulses and works.** The trapezoid rule, with the two end samples interpolated to the events.
Velocity of the centre of mass is the whole deck's Fx over body mass, integrated the same way from
rest: the end of the last second of quiet standing in which 50 ms means of force and centre of
pressure stay within four least bands (0.5 % of body weight, 2 mm). It lies before the first move,
which a deck's noise can hide for a while. Greatest values in an interval count its interpolated
ends; the two resultant peaks are the greatest sample, their times the top of a parabola through
that sample and its neighbours.

**Slopes.** At 200 Hz the steepest slopes read low (a central difference passes 0.94 of a 20 Hz
component and 0.76 of a 40 Hz one). A rise is never to be compared with figures from faster plates.

**Feet by place** (`two-plates`, `tiled`). Platforms behind a boundary are the drive foot's, the
others the lead foot's. With tiles the boundary is put behind the landed foot, so that a drag of
the drive foot stays its own. With two plates it cannot be moved: what the drive foot drags on the
lead platform after toe-off is counted as the lead foot's. Tiles take their force at their centre,
so places are known to part of a tile only and are listed under `estimated`.

**Feet by lever** (`four-corner`). Single support is exact. In double support the lead foot bears
F (x - x_drive) / (x_lead - x_drive), x being the centre of pressure of the whole deck. x_drive is
taken from the single support just before the landing; x_lead is the first place at least
{LEAST_LEVER_M:g} m in front of it where the centre of pressure moves slower than
{CREEP_MPS:g} m/s. The lever rule holds for the vertical force; of the horizontal force the drive
foot keeps the direction that it had just before the landing, and the lead foot has the rest. What
rests on this split is an estimate and is listed under `estimated`; what the whole deck tells
(speeds, powers, works) is not.

**Ball speed.** It belongs to the pitch whose foot contact is 0 to {book.PAIR_WITHIN_NS / 1e9:g} s
before it by the device's clock.
"""


def _zero() -> str:
    lightest = DEFAULTS.lightest_person_kg
    return f"""
## The zero: a thing, a foot, a person

The zero is taken from steady stretches of at least {zero.QUIET_S:g} s and is a mean over at most
{zero.MEMORY_S:g} s. Steady means that vertical and horizontal load of {1000 * ROW_S:.0f} ms steps
stay within {zero.LEAST_TOLERANCE_N:g} N, or 4 SD of their noise. With `by_place` each side of the
deck has a zero of its own.

- **A thing** (a bucket, a tarp, or an offset of the sensors) weighs at most
  {100 * zero.THING_SHARE:.0f} % of the lightest person ({zero.THING_SHARE * lightest:g} kg with the
  settings' {lightest:g} kg) and at rest pushes along the ground less than
  {100 * zero.MOST_LEAN:.0f} % of its weight. It becomes part of the zero, and the screen says so.
- **A foot** leans: a load that pushes along the ground more than that is somebody's foot, never a
  thing. The first zero of a run is the exception, for sensors' own offsets lean any way.
- **A person** is more load than a thing's, or a side of the deck whose steady load goes with a load
  on the other that does not move. Only where the rest of the deck bears less than
  {100 * zero.FREE_SHARE:.0f} % of the lightest person, or moves by more than
  {zero.MOVING_N:g} N meanwhile, is a steady load taken for a thing.

A zero that the operator asks for takes what lies still on the deck, whatever it is.
"""


def _flags() -> str:
    rows = ((f"`{flag}`", words) for flag, words in FLAGS.items())
    return f"## Flags of a pitch\n\n{_table(('flag', 'what it says'), rows)}"


def _not_counted() -> str:
    rows = ((f"`{reason}`", NOT_COUNTED[reason]) for reason in NotCountedReason)
    return f"## Movements not counted\n\n{_table(('reason', 'what it says'), rows)}"


def _settings() -> str:
    names = (field.name for field in fields(Settings))
    rows = ((f"`{name}`", f"{getattr(DEFAULTS, name):g}", SETTINGS[name]) for name in names)
    return (
        "## Settings\n\nA settings file is TOML with some of these names. Shares (`_bw` and those "
        "that say so) are of 1: 0.10 is 10 %.\n\n"
        f"{_table(('name', 'default', 'meaning'), rows)}"
    )


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a Markdown table; a bar inside a cell is escaped."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join(
        "| " + " | ".join(cell.replace("|", "\\|") for cell in line) + " |" for line in lines
    )


def _wrapped(part: str) -> str:
    """Return ``part`` with its prose in lines of 100; headings and tables as they are."""
    blocks = []
    for block in part.split("\n\n"):
        items = block.split("\n- ")
        if block[0] in "#|":
            blocks.append(block)
        elif block.startswith("- "):
            items[0] = items[0].removeprefix("- ")
            blocks.append("\n".join(_filled(item, "- ", "  ") for item in items))
        else:
            blocks.append(_filled(block, "", ""))
    return "\n\n".join(blocks)


def _filled(text: str, first: str, rest: str) -> str:
    return textwrap.fill(
        " ".join(text.split()),
        100,
        initial_indent=first,
        subsequent_indent=rest,
        break_long_words=False,
        break_on_hyphens=False,
    )


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
