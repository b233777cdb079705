"""Why a value of a pitch is missing or an estimate: from the record's flags, metric by metric."""

from __future__ import annotations

from stream.metrics.registry import Metric
from stream.outputs import PitchRecord

FEED_GAP = "feed_gap"


def why_missing(record: PitchRecord, metric: Metric) -> tuple[str, ...]:
    """Return the flags of ``record`` that explain why ``metric`` has no value.

    A record carries the flags of all its values together; those that concern
    this metric are what it needs and the events it reads between. Empty where
    it has a value, or where nothing in the record explains it.
    """
    if record.metrics.get(metric.key) is not None:
        return ()
    flags = set(record.flags)
    mine: list[str] = [need.value for need in metric.needs if need.value in flags]
    mine += [f"no_{event}" for event in metric.events if f"no_{event}" in flags]
    if mine:
        return tuple(dict.fromkeys(mine))
    rest = ("not_measured_again", FEED_GAP, metric.lack.value)
    return tuple(flag for flag in rest if flag in flags)[:1]
