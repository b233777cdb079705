"""The registry of checks, and how they are run over evidence."""

from __future__ import annotations

from stream.checks.channels import SATURATION, STUCK
from stream.checks.evidence import Evidence
from stream.checks.feed import CLOCK, CONTINUITY, LATENCY, RATE
from stream.checks.load import POSITION, SIGNS, WEIGHT
from stream.checks.mains import MAINS
from stream.checks.quiet import DRIFT, NOISE, PERSON_N, ZERO, left_on, load_on
from stream.checks.tare import take_tare
from stream.checks.verdict import Check, Report, Result, Status

CHECKS: tuple[Check, ...] = (
    RATE,
    CONTINUITY,
    CLOCK,
    LATENCY,
    ZERO,
    NOISE,
    MAINS,
    DRIFT,
    STUCK,
    SATURATION,
    SIGNS,
    WEIGHT,
    POSITION,
)

NAMES = tuple(c.name for c in CHECKS)


def run_check(c: Check, evidence: Evidence) -> Result:
    """Judge one check; what it needs and was not seen makes it `not_run`, with the reason."""
    lacking: str | None = evidence.missing(c.needs)
    if lacking is None and c.on_empty_deck and evidence.quiet is not None:
        load = load_on(evidence)
        lacking = "an empty deck" if load > PERSON_N else None
    if lacking is not None:
        return Result(c.name, Status.NOT_RUN, None, "", c.limit, f"Not run: it needs {lacking}.")
    if c.after_zero and left_on(evidence) is not None:
        say = "Not judged: the zero must be right first, see zero."
        return Result(c.name, Status.NOT_RUN, None, "", c.limit, say)
    found = c.judge(evidence)
    say = c.sentences[found.status].format(**found.fields)
    return Result(
        c.name,
        found.status,
        found.value,
        found.unit,
        found.limit,
        say,
        found.blames,
        dict(found.detail),
    )


def run(evidence: Evidence) -> tuple[Result, ...]:
    """Judge every check of the registry, in its order."""
    return tuple(run_check(c, evidence) for c in CHECKS)


def report(
    evidence: Evidence,
    *,
    source: str,
    taken_ns: int | None,
    by: str = "",
    body_weight_n: float | None = None,
) -> Report:
    """Judge every check and return the whole report."""
    results = run(evidence)
    # Neither somebody's weight nor a mass left there must ever become a zero.
    emptied = (
        evidence.quiet is not None and load_on(evidence) <= PERSON_N and left_on(evidence) is None
    )
    return Report(
        ok=all(r.status is not Status.FAIL for r in results),
        checks=results,
        source=source,
        layout=evidence.layout.name,
        taken_ns=taken_ns,
        by=by,
        quiet_s=evidence.quiet.seconds if evidence.quiet else None,
        loaded_s=evidence.loaded.seconds if evidence.loaded else None,
        mass_kg=evidence.mass_kg,
        at_m=evidence.spot,
        gravity_mps2=evidence.gravity,
        body_weight_n=body_weight_n,
        tare=take_tare(evidence.quiet, by, taken_ns) if emptied and evidence.quiet else None,
    )
