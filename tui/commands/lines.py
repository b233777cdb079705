"""What happens on the mound as plain lines, for a terminal and for screen readers."""

from __future__ import annotations

from collections.abc import Iterable

from analysis.baseline import compare_pitch
from analysis.running import is_void
from analysis.sentence import sentence
from stream.checks.verdict import verdict_line
from stream.outputs import (
    CheckDone,
    NotCounted,
    Output,
    Pitch,
    PitchChanged,
    PitchRecord,
    UnpairedSpeed,
    ZeroLearnt,
    ZeroSet,
)
from tui.safe_text import plain
from tui.said import in_units
from tui.table import unit_of
from tui.units import System, Units
from tui.words import NOT_COUNTED

_SI, _US = Units(System.SI), Units(System.US)


class Lines:
    """Turns outputs into sentences; with several mounds each line begins with its mound.

    A ball speed is told in both systems of units.
    """

    def __init__(self, units: Units = _US) -> None:
        self._units = units
        self._pitches: dict[str, dict[int, PitchRecord]] = {}
        self._sources: set[str] = set()

    def of(self, output: Output) -> Iterable[str]:
        """Yield the lines that ``output`` is worth."""
        match output:
            case Pitch(record=record):
                told = f"{pitch_sentence(record)} {self._likeness(record)}"
                self._pitches.setdefault(record.source, {})[record.number] = record
                yield self._from(record.source, told)
            case PitchChanged(record=record):
                known = self._pitches.setdefault(record.source, {})
                before = known[record.number].speed_mps if record.number in known else None
                known[record.number] = record
                if record.speed_mps != before and record.speed_mps is not None:
                    text = f"Pitch {record.number}: ball speed {speed(record.speed_mps)}."
                    yield self._from(record.source, text)
            case NotCounted(record=movement):
                why = in_units(plain(movement.why), self._units)
                text = f"Not counted, {NOT_COUNTED[movement.not_counted]}: {why}."
                yield self._from(movement.source, text)
            case UnpairedSpeed():
                text = f"Ball speed {speed(output.speed_mps)} belongs to no pitch."
                yield self._from(output.source, text)
            case ZeroSet(tare=tare):
                who = f" by {plain(tare.by, 60)}" if tare.by else ""
                yield self._from(output.source, f"The zero was taken{who} and is kept.")
            case CheckDone(report=report):
                said = in_units(plain(verdict_line(report), 500), self._units)
                yield self._from(output.source, said)
            case ZeroLearnt():
                yield self._from(output.source, in_units(plain(output.say), self._units))
            case _:
                pass

    def _likeness(self, record: PitchRecord) -> str:
        """Say how the pitch stands to the same pitcher's pitches before it."""
        earlier = [
            pitch
            for pitch in self._pitches.get(record.source, {}).values()
            if pitch.pitcher == record.pitcher and not is_void(pitch)
        ]
        who = plain(record.pitcher, 32) or "this pitcher"
        return sentence(compare_pitch(record, earlier), self._written, who)

    def _written(self, key: str, value: float) -> tuple[str, str]:
        return self._units.number(unit_of(key), value), self._units.name(unit_of(key))

    def _from(self, source: str, text: str) -> str:
        self._sources.add(source)
        return text if len(self._sources) == 1 else f"{source}: {text}"


def pitch_sentence(record: PitchRecord) -> str:
    """Return one sentence on a pitch: who, push-off, landing, and ball speed if it is known."""
    who = f", {plain(record.pitcher, 32)}" if record.pitcher else ""
    parts = [
        _share("push-off", record.metrics.get("drive_peak_bw")),
        _share("landing", record.metrics.get("landing_peak_bw")),
    ]
    if record.speed_mps is not None:
        parts.append(f"ball speed {speed(record.speed_mps)}")
    return f"Pitch {record.number}{who}: {', '.join(parts)}."


def speed(mps: float) -> str:
    """Return a ball speed in both units."""
    both = f"{_SI.quantity('ball', mps)} ({_US.quantity('ball', mps)})"
    return both.replace("\N{NO-BREAK SPACE}", " ")


def _share(what: str, value: float | None) -> str:
    return f"{what} not measured" if value is None else f"{what} {value:.0f} % of body weight"
