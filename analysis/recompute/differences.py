"""Whether a session measured again gives the numbers that were stored, to the last bit."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from stream.outputs import NotCountedRecord, PitchRecord

#: Fields of a record that are compared as one; events and metrics are compared key by key.
_FIELDS = (
    "stream",
    "pitcher",
    "throws",
    "foot_contact_frame",
    "body_weight_n",
    "estimated",
    "flags",
    "speed_mps",
    "note",
)


def differences(stored: Sequence[PitchRecord], measured: Sequence[PitchRecord]) -> tuple[str, ...]:
    """Return each difference in words, by pitch number; none means bit for bit the same."""
    before = {record.number: record for record in stored}
    after = {record.number: record for record in measured}
    said: list[str] = []
    for number in sorted(before.keys() | after.keys()):
        old, new = before.get(number), after.get(number)
        if old is None:
            said.append(f"pitch {number}: measured, but not stored")
        elif new is None:
            said.append(f"pitch {number}: stored, but not found in the recordings")
        else:
            said += (f"pitch {number}: {what}" for what in _of_one(old, new))
    return tuple(said)


def differences_not_counted(
    stored: Sequence[NotCountedRecord], measured: Sequence[NotCountedRecord]
) -> tuple[str, ...]:
    """Return each movement not counted that only one of the two has, in words."""
    old, new = set(stored), set(measured)
    sides = [(r, "stored, but not measured again") for r in old - new]
    sides += [(r, "measured, but not stored") for r in new - old]
    sides.sort(key=lambda side: (side[0].frame, side[1]))
    return tuple(f"{r.not_counted.value} at frame {r.frame:.1f}: {what}" for r, what in sides)


def _of_one(old: PitchRecord, new: PitchRecord) -> Iterator[str]:
    for name in _FIELDS:
        was, is_now = getattr(old, name), getattr(new, name)
        if was != is_now:
            yield f"{name} {_said(was)}, now {_said(is_now)}"
    yield from _of_values(old.events_s, new.events_s)
    yield from _of_values(old.metrics, new.metrics)


def _of_values(old: Mapping[str, float | None], new: Mapping[str, float | None]) -> Iterator[str]:
    for key in dict.fromkeys([*old, *new]):
        if old.get(key) != new.get(key) or (key in old) != (key in new):
            yield f"{key} {_said(old.get(key))}, now {_said(new.get(key))}"


def _said(value: object) -> str:
    if value is None:
        return "not measured"
    if isinstance(value, tuple | list):
        return _listed(value) or "(none)"
    return repr(value)


def _listed(values: Iterable[object]) -> str:
    return " ".join(str(value) for value in values)
