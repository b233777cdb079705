"""The set-up check as the core of a mound runs it: one that runs, and the last one made.

The operator's messages start and guide it (:mod:`stream.actions`), force
messages feed it, and screens see it in the snapshot. All of it rests on what
is recorded, so a replay makes the same check at the same place.
"""

from __future__ import annotations

from collections.abc import Iterable

from stream.actions import CheckMove, GuideCheck, StartCheck
from stream.checks import CHECKS, run_check
from stream.checks.channels import SATURATION
from stream.checks.evidence import Need
from stream.checks.feed import CLOCK, CONTINUITY, LATENCY, RATE
from stream.checks.plan import TITLES, Plan, Step
from stream.checks.procedure import Procedure
from stream.checks.response import under
from stream.checks.verdict import Report, Result, Status, verdict_line
from stream.layout import Layout
from stream.settings import Settings
from stream.snapshot import CheckFound, CheckMade, CheckNow, CheckStepNow, StepState
from stream.wire import ForceMessage

#: A check that nobody ends is dropped after so long, s of feed.
LONGEST_S = 1800.0
#: How often the feed is judged while the operator is busy, quarter seconds.
_JUDGE_EVERY = 4
_OF_THE_FEED = (RATE, CONTINUITY, CLOCK, LATENCY, SATURATION)
_NONE_RUNS = "No set-up check is running; start one first."
_BESIDE = "The marked spot lies beside the deck; nothing was started."


class Checking:
    """The set-up checks of one mound. ``last`` is the report of the last one made."""

    def __init__(
        self, source: str, layout: Layout, settings: Settings, last: Report | None = None
    ) -> None:
        self.last = last
        self._source = source
        self._layout = layout
        self._settings = settings
        self._procedure: Procedure | None = None
        self._results: dict[str, Result] = {}
        self._judged = 0
        self._began: int | None = None
        self._seen: tuple[int, Step, CheckNow] | None = None

    @property
    def running(self) -> bool:
        """Whether a check wants the feed."""
        return self._procedure is not None and not self._procedure.done

    def start(self, asked: StartCheck) -> str | None:
        """Begin a check; return a sentence if that is refused."""
        if asked.at_m is not None and under(self._layout, asked.at_m) is None:
            return _BESIDE
        plan = Plan(
            seconds=asked.seconds,
            mass_kg=asked.mass_kg,
            spot=asked.at_m,
            stand=asked.stand,
            gravity=asked.gravity,
            by=asked.by,
        )
        self._procedure = Procedure(self._layout, plan, self._settings)
        self._results = {}
        self._judged, self._began, self._seen = 0, None, None
        return None

    def guide(self, asked: GuideCheck) -> Report | str | None:
        """Do what the operator wants; return the report if that ended the check, or a refusal."""
        procedure = self._procedure
        if procedure is None:
            return _NONE_RUNS
        self._seen = None
        match asked.move:
            case CheckMove.STOP:
                self._procedure = None
                return None
            case CheckMove.BACK:
                procedure.back()
                self._judged, self._began = 0, None
                self._forget(procedure)
                return None
            case CheckMove.SKIP:
                procedure.skip()
            case CheckMove.TAKE:
                if not procedure.take_now():
                    return "Nothing stands still yet: wait a few seconds, then take it again."
        return self._step_left(procedure)

    def refuse(self) -> None:
        """Count a message that could not be read."""
        if self._procedure is not None and self.running:
            self._procedure.refuse()

    def take(self, message: ForceMessage, received_ns: int) -> Report | None:
        """Take the next force message; return the report if the check is done with it."""
        procedure = self._procedure
        if procedure is None or procedure.done:
            return None
        if message.samples.shape[1] != self._layout.channels:
            procedure.refuse()
            return None
        step, block = procedure.step, procedure.block
        procedure.feed(message, received_ns)
        if self._began is None or message.first_frame < self._began:
            self._began = message.first_frame
        if message.first_frame - self._began > LONGEST_S * message.rate_hz:
            self._procedure = None
            return None
        if procedure.step is not step:
            return self._step_left(procedure)
        if procedure.block != block and procedure.block - self._judged >= _JUDGE_EVERY:
            self._judged = procedure.block
            evidence = procedure.evidence()
            judged = (run_check(c, evidence) for c in _OF_THE_FEED)
            self._results |= {r.check: r for r in judged if r.status is not Status.NOT_RUN}
        return None

    def now(self) -> CheckNow | None:
        """Return the check that runs as a screen shows it, None where there is none."""
        procedure = self._procedure
        if procedure is None:
            return None
        key = (procedure.block, procedure.step)
        if self._seen is None or self._seen[:2] != key:
            self._seen = (*key, self._picture(procedure))
        return self._seen[2]

    def made(self, now_ns: int) -> CheckMade | None:
        """Return the last check made as a screen shows it."""
        last = self.last
        if last is None:
            return None
        age_s = None if last.taken_ns is None else (now_ns - last.taken_ns) / 1e9
        say, found = verdict_line(last), _found(last.checks)
        return CheckMade(last.ok, last.by, age_s, say, found, last.outcome)

    def _step_left(self, procedure: Procedure) -> Report | None:
        """Judge everything seen so far; return the report if the check is done."""
        report = procedure.report(self._source)
        self._results = {r.check: r for r in report.checks if r.status is not Status.NOT_RUN}
        if not procedure.done:
            return None
        self.last = report
        return report

    def _forget(self, procedure: Procedure) -> None:
        """Forget the results of what is to be done again."""
        evidence = procedure.evidence()
        lacking = {Need.QUIET: evidence.quiet is None, Need.LOADED: evidence.loaded is None}
        gone = {c.name for c in CHECKS if any(lacking.get(need, False) for need in c.needs)}
        self._results = {name: r for name, r in self._results.items() if name not in gone}

    def _picture(self, procedure: Procedure) -> CheckNow:
        now, plan = procedure.now(), procedure.plan
        steps = [
            CheckStepNow(TITLES[step], _state(step, k, procedure, now.number))
            for k, step in enumerate(plan.steps[:-1], 1)
        ]
        made = self.last if procedure.done else None
        in_order = [self._results[c.name] for c in CHECKS if c.name in self._results]
        return CheckNow(
            done=procedure.done,
            number=min(now.number, now.of),
            steps=steps,
            do=now.do,
            progress=now.progress,
            hindrance=now.hindrance,
            found=_found(made.checks if made else in_order),
            mass_kg=plan.mass_kg,
            at_m=plan.spot,
            body_weight_n=made.body_weight_n if made else None,
            outcome=made.outcome if made else None,
        )


def _state(step: Step, number: int, procedure: Procedure, now: int) -> StepState:
    if number == now:
        return StepState.NOW
    if number > now:
        return StepState.AHEAD
    return StepState.DONE if step in procedure.taken else StepState.SKIPPED


def _found(results: Iterable[Result]) -> list[CheckFound]:
    return [CheckFound(r.check, r.status.value, r.value, r.unit, r.say) for r in results]
