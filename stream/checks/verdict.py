"""What a check is, and what it says: the vocabulary of the registry and of its results."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

import msgspec

from stream.checks.evidence import Evidence, Need
from stream.checks.tare import Tare
from stream.snapshot import Outcome

FORMAT_VERSION = 1
LBF_N = 4.4482216152605


class Status(StrEnum):
    """How a check ended."""

    PASS = "pass"
    WARN = "warn"
    FAIL = "fail"
    NOT_RUN = "not_run"


@dataclass(frozen=True)
class Finding:
    """What a check found. ``fields`` fill the sentence of its status; ``limit`` is the one applied.

    ``blames`` names the channels, platforms or causes a person should look at;
    ``detail`` holds figures by name for whoever wants all of them.
    """

    status: Status
    value: float | None
    unit: str
    limit: str
    fields: Mapping[str, object] = field(default_factory=dict)
    blames: tuple[str, ...] = ()
    detail: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Check:
    """One entry of the registry.

    ``limit`` is the rule in words, ``reason`` why it is that, ``source`` where
    it comes from. ``sentences`` has one text for each status the judge can
    reach, filled with the finding's fields: what was seen, then what to do.
    ``on_empty_deck`` means nothing while a person stands on the deck that
    should be empty; ``after_zero`` rests on the zero: with a thing left in it
    it would give wrong advice.
    """

    name: str
    title: str
    needs: tuple[Need, ...]
    limit: str
    reason: str
    source: str
    sentences: Mapping[Status, str]
    judge: Callable[[Evidence], Finding]
    on_empty_deck: bool = False
    after_zero: bool = False

    @property
    def of_the_feed(self) -> bool:
        """Whether the feed alone is judged, whatever is on the deck."""
        return not {Need.QUIET, Need.LOADED} & set(self.needs)


class Result(msgspec.Struct, frozen=True):
    """One check's result, as JSON carries it."""

    check: str
    status: Status
    value: float | None
    unit: str
    limit: str
    say: str
    blames: tuple[str, ...] = ()
    detail: dict[str, float] = {}


class Report(msgspec.Struct, frozen=True):
    """A whole set-up check. ``ok`` where nothing failed; times in ns by the host's clock.

    ``tare`` is the zero taken on the empty deck, None where there was none.
    """

    ok: bool
    checks: tuple[Result, ...]
    source: str
    layout: str
    taken_ns: int | None
    by: str = ""
    quiet_s: float | None = None
    loaded_s: float | None = None
    mass_kg: float | None = None
    at_m: tuple[float, float] | None = None
    gravity_mps2: float | None = None
    body_weight_n: float | None = None
    tare: Tare | None = None
    v: int = FORMAT_VERSION

    @property
    def failed(self) -> tuple[Result, ...]:
        """The checks that failed."""
        return tuple(r for r in self.checks if r.status is Status.FAIL)

    @property
    def outcome(self) -> Outcome:
        """How it ended: without a zero taken it is not finished, although nothing failed."""
        left = {r.check for r in self.checks if r.status is Status.NOT_RUN}
        if not self.ok:
            return Outcome.FAILED
        if "zero" in left:
            return Outcome.UNFINISHED
        return Outcome.WITHOUT_MASS if "weight" in left else Outcome.PASSED


def encode_report(report: Report) -> bytes:
    """Return the report as indented JSON."""
    return msgspec.json.format(msgspec.json.encode(report), indent=1) + b"\n"


def verdict_line(report: Report | None) -> str:
    """Return the one line that a report of a session prints about its set-up check."""
    if report is None:
        return "No set-up check was made for this session: its figures are unproven."
    outcome = report.outcome
    left = ", ".join(r.check for r in report.checks if r.status is Status.NOT_RUN)
    if outcome is Outcome.FAILED:
        names = ", ".join(r.check for r in report.failed)
        return f"The set-up check of this session did not pass ({names})."
    if outcome is Outcome.UNFINISHED:
        return (
            "The set-up check was not finished: no zero was taken, so the figures of this session "
            f"are unproven (not run: {left})."
        )
    run = sum(r.status is not Status.NOT_RUN for r in report.checks)
    text = f"The set-up check of this session {outcome} ({run} checks"
    text += f"; not run: {left})." if left else ")."
    if report.body_weight_n is not None:
        text += f" {body_weight_words(report.body_weight_n)}"
    return text


def body_weight_words(newtons: float) -> str:
    """Return the sentence on the body weight that was found, in both units.

    1 lbf = 4.4482216152605 N exactly: NIST SP 811 (2008), appendix B.8.
    """
    return f"Body weight {newtons:.0f} N ({newtons / LBF_N:.0f} lbf)."
