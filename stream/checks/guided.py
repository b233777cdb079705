"""One guided set-up check: the procedure, what is judged of it so far, and its picture."""

from __future__ import annotations

from stream.actions import CheckMove, StartCheck
from stream.checks.evidence import Need
from stream.checks.plan import TITLES, Plan, Step
from stream.checks.procedure import Procedure
from stream.checks.registry import CHECKS, run_check
from stream.checks.response import under
from stream.checks.running import as_found
from stream.checks.verdict import Report, Result, Status
from stream.layout import Array, Layout
from stream.settings import Settings
from stream.snapshot import CheckNow, CheckStepNow, StepState
from stream.wire import ForceMessage

#: A check that nobody ends is dropped after so long, s of feed.
LONGEST_S = 1800.0
#: How often the feed is judged while the operator is busy, quarter seconds.
_JUDGE_EVERY = 4
_BESIDE = "The marked spot lies beside the deck; nothing was started."


def begin(asked: StartCheck, source: str, layout: Layout, settings: Settings) -> GuidedCheck | str:
    """Return the check that is asked for, or a sentence if it is refused."""
    if asked.at_m is not None and under(layout, asked.at_m) is None:
        return _BESIDE
    plan = Plan(
        seconds=asked.seconds,
        mass_kg=asked.mass_kg,
        spot=asked.at_m,
        stand=asked.stand,
        gravity=asked.gravity,
        by=asked.by,
    )
    return GuidedCheck(source, layout, Procedure(layout, plan, settings))


class GuidedCheck:
    """A check under way, or done and still shown."""

    def __init__(self, source: str, layout: Layout, procedure: Procedure) -> None:
        self._source = source
        self._layout = layout
        self._procedure = procedure
        self._results: dict[str, Result] = {}
        self._judged = 0
        self._began: int | None = None
        self._seen: tuple[int, Step, CheckNow] | None = None
        #: Whether nobody ended it for so long that it is dropped.
        self.given_up = False

    @property
    def done(self) -> bool:
        """Whether it wants nothing more."""
        return self._procedure.done

    @property
    def empty_reading(self) -> Array | None:
        """What the empty deck read, (channels,) raw units; None until it was seen to be empty."""
        return self._procedure.empty_reading

    def guide(self, move: CheckMove) -> Report | str | None:
        """Do what the operator wants; return the report if that ended the check, or a refusal."""
        procedure = self._procedure
        self._seen = None
        match move:
            case CheckMove.BACK:
                procedure.back()
                self._judged, self._began = 0, None
                self._forget()
                return None
            case CheckMove.SKIP:
                procedure.skip()
            case CheckMove.TAKE:
                if not procedure.take_now():
                    return "Nothing stands still yet: wait a few seconds, then take it again."
        return self._step_left()

    def refuse(self) -> None:
        """Count a message that could not be read."""
        self._procedure.refuse()

    def take(self, message: ForceMessage, received_ns: int) -> Report | None:
        """Take the next force message; return the report if the check is done with it."""
        procedure = self._procedure
        if message.samples.shape[1] != self._layout.channels:
            procedure.refuse()
            return None
        step, block = procedure.step, procedure.block
        procedure.feed(message, received_ns)
        if self._began is None or message.first_frame < self._began:
            self._began = message.first_frame
        if message.first_frame - self._began > LONGEST_S * message.rate_hz:
            self.given_up = True
            return None
        if procedure.step is not step:
            return self._step_left()
        if procedure.block != block and procedure.block - self._judged >= _JUDGE_EVERY:
            self._judged = procedure.block
            evidence = procedure.evidence()
            judged = (run_check(c, evidence) for c in CHECKS if c.of_the_feed)
            self._results |= {r.check: r for r in judged if r.status is not Status.NOT_RUN}
        return None

    def now(self, last: Report | None) -> CheckNow:
        """Return it as a screen shows it; ``last`` is its own report when it is done."""
        procedure = self._procedure
        key = (procedure.block, procedure.step)
        if self._seen is None or self._seen[:2] != key:
            self._seen = (*key, self._picture(last))
        return self._seen[2]

    def _step_left(self) -> Report | None:
        """Judge everything seen so far; return the report if the check is done."""
        report = self._procedure.report(self._source)
        self._results = {r.check: r for r in report.checks if r.status is not Status.NOT_RUN}
        return report if self._procedure.done else None

    def _forget(self) -> None:
        """Forget the results of what is to be done again."""
        evidence = self._procedure.evidence()
        lacking = {Need.QUIET: evidence.quiet is None, Need.LOADED: evidence.loaded is None}
        gone = {c.name for c in CHECKS if any(lacking.get(need, False) for need in c.needs)}
        self._results = {name: r for name, r in self._results.items() if name not in gone}

    def _picture(self, last: Report | None) -> CheckNow:
        procedure = self._procedure
        now, plan = procedure.now(), procedure.plan
        steps = [
            CheckStepNow(TITLES[step], _state(step, k, procedure, now.number))
            for k, step in enumerate(plan.steps[:-1], 1)
        ]
        made = last if procedure.done else None
        in_order = [self._results[c.name] for c in CHECKS if c.name in self._results]
        return CheckNow(
            done=procedure.done,
            number=min(now.number, now.of),
            steps=steps,
            do=now.do,
            progress=now.progress,
            hindrance=now.hindrance,
            found=as_found(made.checks if made else in_order),
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
