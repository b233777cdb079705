"""What every answer says beside its numbers: association is not cause, and whom to ask."""

from __future__ import annotations

from analysis.study.agreement import AgreementResult
from analysis.study.planning import PlanResult
from analysis.study.traces import TraceResult

CAUTIONS = (
    "Two things that go together need not cause each other.",
    "A force or a joint load is not an injury and does not predict one by itself.",
    "Do not change a pitcher's mechanics on one number.",
    "This is descriptive feedback, not medical advice; decisions on workload, injury and "
    "return to play belong to qualified staff.",
)
#: These speak of devices, or of a study that is not made yet.
_NOT_ON_PITCHERS = (AgreementResult, TraceResult, PlanResult)


def cautions_of(result: object) -> tuple[str, ...]:
    """Return the cautions that apply to an answer."""
    return CAUTIONS[-1:] if isinstance(result, _NOT_ON_PITCHERS) else CAUTIONS
