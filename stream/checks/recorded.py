"""The set-up check of a recording: it finds the empty and the loaded stretch by itself."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from stream.checks.evidence import Evidence
from stream.checks.plan import Plan
from stream.checks.registry import report
from stream.checks.stretches import collect, empty_and_loaded
from stream.checks.survey import Survey
from stream.checks.verdict import Report
from stream.layout import Layout
from stream.wire import ForceMessage

#: Shortest stretch that counts as steady, s (rod test: still for at least a second).
LEAST_STEADY_S = 1.0

#: A force message and when it came (host clock, ns), or None for one that could not be read.
Received = tuple[ForceMessage | None, int]


def check_recorded(
    layout: Layout, plan: Plan, source: str, received: Callable[[], Iterator[Received]]
) -> Report:
    """Judge a recorded feed; ``received`` gives its messages from the beginning, twice."""
    survey = Survey(layout)
    last_ns: int | None = None
    for message, came_ns in received():
        if message is None:
            survey.refuse()
        else:
            survey.add(message, came_ns)
            last_ns = came_ns
    weight = None if plan.mass_kg is None else plan.mass_kg * plan.gravity
    steady = survey.steady(LEAST_STEADY_S)
    spans = empty_and_loaded(layout, steady, survey.nominal_hz, weight)
    messages = (message for message, _ in received() if message is not None)
    quiet, loaded = collect(survey, messages, *spans)
    evidence = Evidence(
        layout=layout,
        timing=survey.timing(),
        quiet=quiet,
        loaded=loaded,
        reach=survey.reach(),
        mass_kg=plan.mass_kg,
        spot=plan.spot,
        gravity=plan.gravity,
    )
    return report(evidence, source=source, taken_ns=last_ns, by=plan.by)
