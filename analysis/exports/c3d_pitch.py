"""One pitch as a C3D file: force platforms, events, and what the file should say of itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from analysis.exports.c3d_plates import TYPE, Plates, plates_of
from analysis.exports.errors import ExportError
from analysis.exports.rates import RatePlan, plan_rates, resample
from analysis.exports.sync import Sync
from analysis.exports.windows import PitchWindow
from analysis.invented import SENTENCE
from analysis.running import is_void
from analysis.sessions.clock import day_of
from stream.events import EVENTS
from stream.metrics import METRICS
from stream.outputs import PitchRecord

if TYPE_CHECKING:
    import ezc3d

Array = npt.NDArray[np.float64]

_INTEGER = 2  # the C3D library's kind of a parameter
_DRIVE = frozenset({"drive_onset", "drive_peak", "drive_toe_off"})
_LEAD = frozenset({"foot_contact", "foot_plant", "landing_peak", "brake_end"})
_LONGEST_TEXT = 255


@dataclass(frozen=True)
class Written:
    """What became of one pitch: its rates, and the error of resampling.

    ``error_n`` the largest of any force channel, ``error_share`` that over the largest force.
    ``cut_frames`` were left out because frames never came between them and foot contact.
    """

    plan: RatePlan
    error_n: float
    error_share: float
    cut_frames: int


def write_pitch(
    path: Path,
    window: PitchWindow,
    session: str,
    point_hz: float | None,
    sync: Sync,
    invented: bool,
) -> Written:
    """Write one pitch to ``path``, with a word where it is ``invented``.

    Raise :class:`ExportError` where it cannot be told whole.
    """
    library = _library()
    start, end = _whole_stretch(window)
    plan = plan_rates(window.rate_hz, point_hz)
    spare = sorted(window.layout.spare.items())
    raw = window.samples[start:end]
    plates = plates_of(window.layout, raw)
    channels = np.hstack([plates.channels, raw[:, [index for _, index in spare]]])
    fine, error = resample(channels, plan.up)
    frames = len(fine) // plan.per_point
    fine = fine[: frames * plan.per_point]
    forces = [k for k, unit in enumerate(plates.units) if unit == "N"]
    error_n = float(error[forces].max())
    written = Written(
        plan=plan,
        error_n=error_n,
        error_share=error_n / float(np.abs(fine[:, forces]).max()),
        cut_frames=len(window.samples) - (end - start),
    )
    file = library.c3d()
    _fill_rates(file, plates, [name for name, _ in spare], fine, plan, frames)
    _fill_plates(file, plates)
    first = window.first_frame + start
    _fill_events(file, window.record, first, window.rate_hz, (frames - 1) / plan.point_hz)
    _fill_analysis(file, window.record)
    _fill_about(file, window, first, session, written, sync)
    if invented:
        file.add_parameter("PITCH", "INVENTED", [_short(SENTENCE)])
    file.write(str(path))
    _see_that_it_is_there(path, fine)
    return written


def _library() -> Any:
    try:
        import ezc3d  # noqa: PLC0415 - an optional extra
    except ImportError:
        raise ExportError("C3D files need 'ezc3d'; install it with: pip install '.[c3d]'") from None
    return ezc3d


def _whole_stretch(window: PitchWindow) -> tuple[int, int]:
    """Return [start, end) of the unbroken rows around foot contact: C3D has no missing sample."""
    contact = window.record.foot_contact_frame
    there = np.asarray(np.isfinite(window.samples).all(axis=1))
    at = len(there) // 2 if contact is None else int(contact) - window.first_frame
    if not 0 <= at < len(there) or not there[at]:
        raise ExportError("frames are missing at foot contact")
    holes = np.flatnonzero(~there)
    start = int(holes[holes < at].max(initial=-1)) + 1
    end = int(holes[holes > at].min(initial=len(there)))
    return start, end


def _fill_rates(
    file: ezc3d.c3d, plates: Plates, spare: Sequence[str], fine: Array, plan: RatePlan, frames: int
) -> None:
    parameters = file["parameters"]
    parameters["POINT"]["RATE"]["value"] = [plan.point_hz]
    parameters["POINT"]["UNITS"]["value"] = ["mm"]
    parameters["ANALOG"]["RATE"]["value"] = [plan.analog_hz]
    parameters["ANALOG"]["LABELS"]["value"] = [*plates.labels, *spare]
    parameters["ANALOG"]["UNITS"]["value"] = [*plates.units, *([""] * len(spare))]
    file.add_parameter("POINT", "X_SCREEN", ["+X"])
    file.add_parameter("POINT", "Y_SCREEN", ["+Z"])
    file["data"]["points"] = np.zeros((4, 0, frames))
    file["data"]["analogs"] = fine.T[None]


def _fill_plates(file: ezc3d.c3d, plates: Plates) -> None:
    count = plates.use.shape[1]
    file.add_parameter("FORCE_PLATFORM", "CORNERS", plates.corners)
    file.add_parameter("FORCE_PLATFORM", "ORIGIN", np.zeros((3, count)))
    platform = file["parameters"]["FORCE_PLATFORM"]
    # Integers are set in place: the library stores added ones as reals, which readers refuse.
    platform["USED"]["value"] = [count]
    platform["TYPE"]["value"] = [TYPE] * count
    platform["ZERO"]["value"] = [1, 0]
    platform["CHANNEL"]["value"] = plates.use


def _fill_events(
    file: ezc3d.c3d, record: PitchRecord, first: int, rate_hz: float, last_s: float
) -> None:
    """The EVENT group of the C3D user guide: times in minutes and seconds from the first frame."""
    contact = record.foot_contact_frame
    found: list[tuple[float, str, str, str]] = []
    for event in EVENTS:
        after = record.events_s.get(event.key)
        if contact is None or after is None:
            continue
        at = (contact - first) / rate_hz + after
        if 0.0 <= at <= last_s:
            found.append((at, event.label, event.definition, _side(event.key, record.throws)))
    found.sort()
    if not found:
        return
    times = np.array([[at // 60.0 for at, *_ in found], [at % 60.0 for at, *_ in found]])
    _integers(file, "EVENT", "USED", [len(found)])
    file.add_parameter("EVENT", "CONTEXTS", [side for *_, side in found])
    file.add_parameter("EVENT", "LABELS", [label for _, label, _, _ in found])
    file.add_parameter("EVENT", "DESCRIPTIONS", [_short(say) for _, _, say, _ in found])
    file.add_parameter("EVENT", "SUBJECTS", [record.pitcher or "-"] * len(found))
    file.add_parameter("EVENT", "TIMES", times)


def _side(key: str, throws: str | None) -> str:
    """Return whose event it is: a right-hander drives from the right foot and lands on the left."""
    if throws is None or key not in _DRIVE | _LEAD:
        return "General"
    return "Right" if (throws == "R") == (key in _DRIVE) else "Left"


def _fill_analysis(file: ezc3d.c3d, record: PitchRecord) -> None:
    """The ANALYSIS group of the C3D user guide: what was measured, one value each."""
    there = [m for m in METRICS if record.metrics.get(m.key) is not None]
    if not there:
        return
    _integers(file, "ANALYSIS", "USED", [len(there)])
    file.add_parameter("ANALYSIS", "NAMES", [m.key for m in there])
    file.add_parameter("ANALYSIS", "DESCRIPTIONS", [_short(m.definition) for m in there])
    file.add_parameter("ANALYSIS", "SUBJECTS", [record.pitcher or "-"] * len(there))
    file.add_parameter("ANALYSIS", "CONTEXTS", ["General"] * len(there))
    file.add_parameter("ANALYSIS", "UNITS", [m.unit or "ratio" for m in there])
    values = [float(record.metrics[m.key] or 0.0) for m in there]
    file.add_parameter("ANALYSIS", "VALUES", np.array(values))


def _fill_about(
    file: ezc3d.c3d, window: PitchWindow, first: int, session: str, written: Written, sync: Sync
) -> None:
    record = window.record
    begin_ns = window.host.ns + round((first - window.first_frame) * 1e9 / window.rate_hz)
    _integers(file, "SUBJECTS", "USED", [1])
    file.add_parameter("SUBJECTS", "NAMES", [record.pitcher or "-"])
    texts = {
        "SESSION": session,
        "MOUND": record.source,
        "LAYOUT": window.layout.name,
        "THROWS": record.throws or "unknown",
        "VOID": "yes" if is_void(record) else "no",
        "FLAGS": ";".join(record.flags) or "none",
        "STREAM": record.stream,
        "SYNC_METHOD": sync.method,
        "SYNC": sync.say([window]),
        "SAMPLES": written.plan.words(),
        "ZERO": "the empty deck's zero is taken off",
    }
    numbers = {
        "NUMBER": float(record.number),
        "FIRST_FRAME": float(first),
        "FEED_HZ": window.rate_hz,
        "RESAMPLING_ERROR_N": written.error_n,
        "BODY_WEIGHT_N": record.body_weight_n,
        "SPEED_MPS": record.speed_mps,
        "SYNC_START_S": sync.start_s(window, first),
        "SYNC_UNCERTAINTY_S": sync.uncertainty_s(window),
    }
    if day_of(begin_ns) is not None:
        texts["UTC"] = utc_text(begin_ns)
    for name, text in texts.items():
        file.add_parameter("PITCH", name, [_short(text) or "-"])
    for name, number in numbers.items():
        if number is not None:
            file.add_parameter("PITCH", name, np.array([number]))


def utc_text(ns: int) -> str:
    """Return a time of the host's clock as ISO 8601 in UTC, to the microsecond."""
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=ns // 1000)
    return moment.isoformat(timespec="microseconds")


def _integers(file: ezc3d.c3d, group: str, name: str, values: list[int]) -> None:
    file.add_parameter(group, name, np.array(values, dtype=float))
    parameter: Any = file["parameters"][group][name]
    parameter["type"], parameter["value"] = _INTEGER, values


def _short(text: str) -> str:
    return "".join(c if c.isascii() and c.isprintable() else " " for c in text)[:_LONGEST_TEXT]


def _see_that_it_is_there(path: Path, fine: Array) -> None:
    """Read the file again and count: the library has left data out without a word."""
    again = np.asarray(_library().c3d(str(path))["data"]["analogs"])
    if again.shape[1:] != fine.T.shape:
        raise ExportError(
            f"{path.name} holds {again.shape[2]} of {len(fine)} samples: the C3D library failed"
        )
