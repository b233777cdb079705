"""The guided set-up check: what the operator is to do now, fed with the feed itself.

Screen and command share it. It has no clock of its own: progress is counted
in frames. Step off the deck -> known mass on the marked spot -> stand on; the
feed is judged all the while.
"""

from __future__ import annotations

from collections import deque
from dataclasses import replace

import numpy as np

from stream.checks.evidence import Evidence, Loaded, Quiet
from stream.checks.plan import Now, Plan, Step, instruction
from stream.checks.quiet import LEFT_N, PERSON_N, left_on
from stream.checks.registry import report
from stream.checks.stretches import LOAD_CHANGE, Collector, Span
from stream.checks.survey import Steady, Survey
from stream.checks.verdict import Report
from stream.forces import platform_forces
from stream.layout import Array, Layout
from stream.movement import STANDARD_GRAVITY
from stream.settings import Settings
from stream.wire import ForceMessage

#: Quiet standing: the vertical force of the whole deck is this steady for this long.
STAND_S = 2.0
_DEFAULTS = Settings()


class Procedure:
    """One guided set-up check of one mound."""

    def __init__(
        self, layout: Layout, plan: Plan, settings: Settings = _DEFAULTS, *, live: bool = True
    ) -> None:
        self.layout = layout
        self.plan = plan
        self._settings = settings
        self._live = live
        self._survey = Survey(layout, live=live)
        self._taken: set[Step] = set()
        self._recent: deque[ForceMessage] = deque()
        self._at = 0
        self._since = 0
        self._quiet: Quiet | None = None
        #: What the empty deck read, (channels,) raw units; None until it was seen to be empty.
        self.empty_reading: Array | None = None
        self._loaded: Loaded | None = None
        self._weight: float | None = None
        self._last_ns: int | None = None

    @property
    def step(self) -> Step:
        """The present step."""
        return self.plan.steps[self._at]

    @property
    def done(self) -> bool:
        """Whether every step is behind."""
        return self.step is Step.DONE

    def refuse(self) -> None:
        """Count a message that could not be read."""
        self._survey.refuse()

    def feed(self, message: ForceMessage, received_ns: int) -> None:
        """Take the next message; a step whose load has stood long enough is left by itself."""
        self._last_ns = received_ns
        restarted = self._survey.stream not in (None, message.stream)
        if self._survey.stream is None:
            self._since = message.first_frame
        before = self._survey.next_frame // max(self._survey.block_frames, 1)
        self._survey.add(message, received_ns)
        if restarted:
            self._recent.clear()
            self._since = message.first_frame
        self._keep(message)
        if self.done or self._survey.next_frame // self._survey.block_frames == before:
            return
        window = self._window()
        if window is not None and self._hindrance(window) is None:
            self._take(window)

    def take_now(self) -> bool:
        """Take the steady load as it is (the operator is sure); False if nothing stands still."""
        window = None if self.done else self._window()
        if window is None:
            return False
        self._take(window)
        return True

    def skip(self) -> None:
        """Leave the present step undone: its checks will say that they were not run."""
        if not self.done:
            self._next()

    def back(self) -> None:
        """Do the step before again; what it had taken is forgotten.

        After the end the feed is judged anew: it was not followed meanwhile.
        """
        if self.done:
            self._survey = Survey(self.layout, live=self._live)
            self._recent.clear()
        self._at = max(self._at - 1, 0)
        self._since = self._survey.next_frame
        self._taken.discard(self.step)
        match self.step:
            case Step.EMPTY:
                self._quiet = self.empty_reading = None
            case Step.MASS:
                self._loaded = None
            case Step.STAND:
                self._weight = None
                if Step.MASS not in self._taken:
                    self._loaded = None
            case Step.DONE:
                pass

    @property
    def taken(self) -> frozenset[Step]:
        """The steps that were done, not skipped."""
        return frozenset(self._taken)

    @property
    def block(self) -> int:
        """The number of the newest quarter second; it changes when :meth:`now` may have."""
        return self._survey.next_frame // self._survey.block_frames

    def now(self) -> Now:
        """Return what to show."""
        steady = self._steady()
        lasted = (steady.end - steady.first) / self._survey.nominal_hz if steady else 0.0
        hindrance = None
        if not self.done:
            window = self._window()
            if window is not None:
                hindrance = self._hindrance(window)
            elif self.step is Step.EMPTY and self._waited_s > 1.0 and self._bears_person():
                hindrance = "Somebody seems to be on the deck: step off."
            elif self._waited_s > self._need_s and lasted < 0.5 * self._need_s:
                hindrance = "The load is still moving: wait until nothing moves."
        return Now(
            self.step,
            self._at + 1,
            len(self.plan.steps) - 1,
            instruction(self.step, self.plan),
            self._progress(lasted, hindrance),
            hindrance,
        )

    def report(self, source: str) -> Report:
        """Judge what has been seen so far."""
        return report(
            self.evidence(),
            source=source,
            taken_ns=self._last_ns,
            by=self.plan.by,
            body_weight_n=self._weight,
        )

    def evidence(self) -> Evidence:
        """Return what has been seen so far."""
        return Evidence(
            layout=self.layout,
            timing=self._survey.timing(),
            quiet=self._quiet,
            loaded=self._loaded,
            reach=self._survey.reach(),
            mass_kg=self.plan.mass_kg,
            spot=self.plan.spot,
            gravity=self.plan.gravity,
        )

    def _progress(self, lasted_s: float, hindrance: str | None) -> float:
        """Return how far the step is: a load that does not fit it goes no way at all."""
        if self.done:
            return 1.0
        return 0.0 if hindrance else min(lasted_s / self._need_s, 1.0)

    @property
    def _waited_s(self) -> float:
        frames = self._survey.next_frame - self._since
        return frames / self._survey.nominal_hz if self._survey.nominal_hz else 0.0

    @property
    def _need_s(self) -> float:
        return min(STAND_S, self.plan.seconds) if self.step is Step.STAND else self.plan.seconds

    def _keep(self, message: ForceMessage) -> None:
        self._recent.append(message)
        oldest = self._survey.next_frame - round((self.plan.seconds + 1.0) * message.rate_hz)
        while self._recent and self._recent[0].first_frame + len(self._recent[0].samples) < oldest:
            self._recent.popleft()

    def _steady(self) -> Steady | None:
        """Return the steady stretch that reaches up to now, None while something moves."""
        survey = self._survey
        if not survey.nominal_hz:
            return None
        spans = survey.steady(survey.block_frames / survey.nominal_hz, self._since)
        recent = survey.next_frame - 2 * survey.block_frames
        return spans[-1] if spans and spans[-1].end >= recent else None

    def _window(self) -> Array | None:
        """Return the newest raw samples once they have stood still long enough."""
        steady = self._steady()
        frames = round(self._need_s * self._survey.nominal_hz)
        if steady is None or steady.end - steady.first < frames:
            return None
        span = Span(steady.end - frames, steady.end)
        collector = Collector(self.layout, self._survey.stream, span)
        for message in self._recent:
            collector.add(message)
        got = collector.samples()
        return None if got is None else got[1]

    def _hindrance(self, window: Array) -> str | None:
        """Return what is wrong with taking ``window`` for the present step."""
        if self.step is Step.EMPTY:
            load = self._vertical(window).max()
            if load > PERSON_N:
                return (
                    f"The deck is not empty: {load:.0f} N stand on it. Step off. If nobody is "
                    "on it, say that it is empty."
                )
            left = self._left_on(window) if load > LEFT_N else None
            if left is not None:
                return (
                    f"{left}. Take everything off and do this step once more. If nothing lies on "
                    "it, say that it is empty."
                )
        if self.step is Step.MASS and self._quiet is not None:
            used = [c for p in self.layout.platforms for c in p.channels]
            added = (window.mean(axis=0) - self._quiet.samples.mean(axis=0))[used]
            if np.abs(added).max() < LOAD_CHANGE:
                return (
                    "No load is felt yet. Put the known mass on the marked spot. If it stands "
                    "there, nothing comes from that platform: look at its plugs, or skip."
                )
        if self.step is Step.STAND:
            weight, unsteady = self._standing(window)
            if weight < self._settings.lightest_person_kg * STANDARD_GRAVITY:
                return (
                    "Nobody's weight is felt yet. Stand on the deck with both feet. If somebody "
                    "does, that platform's upright force is missing: look at its plugs, or skip."
                )
            if unsteady > self._settings.quiet_sd:
                return "Stand still."
        return None

    def _left_on(self, window: Array) -> str | None:
        """Return what seems to lie on the deck if ``window`` were taken as the empty one."""
        taken = Quiet(self.layout, self._survey.rate_hz(), 0, window)
        return left_on(replace(self.evidence(), quiet=taken))

    def _bears_person(self) -> bool:
        """Whether the newest quarter second bears a person's weight, moving or not."""
        frames, newest = 0, []
        for message in reversed(self._recent):
            newest.append(message.samples)
            frames += len(message.samples)
            if frames >= self._survey.block_frames:
                break
        if not newest:
            return False
        load = float(self._vertical(np.concatenate(newest).astype(float)).sum())
        return load > self._settings.lightest_person_kg * STANDARD_GRAVITY

    def _vertical(self, window: Array, tare: Array | None = None) -> Array:
        """Mean vertical force of each platform, (platforms,) N."""
        mean = window.mean(axis=0, keepdims=True)
        return np.asarray(platform_forces(self.layout, mean, tare).force[0, :, 2])

    def _standing(self, window: Array) -> tuple[float, float]:
        """Return the median vertical force of the whole deck, N, and its SD as a share of it."""
        tare = None if self._quiet is None else self._quiet.samples.mean(axis=0)
        whole = platform_forces(self.layout, window, tare).force[..., 2].sum(axis=1)
        return float(np.median(whole)), float(whole.std() / max(abs(whole.mean()), 1.0))

    def _take(self, window: Array) -> None:
        steady = self._steady()
        assert steady is not None
        self._taken.add(self.step)
        first = steady.end - len(window)
        rate = self._survey.rate_hz()
        match self.step:
            case Step.EMPTY:
                emptied = self._left_on(window) is None
                self.empty_reading = window.mean(axis=0) if emptied else None
                self._quiet = Quiet(self.layout, rate, first, window)
            case Step.MASS:
                self._loaded = Loaded(self.layout, rate, first, window)
            case Step.STAND:
                self._weight = self._standing(window)[0]
                if self._loaded is None and self.plan.mass_kg is None:
                    self._loaded = Loaded(self.layout, rate, first, window)
            case Step.DONE:
                pass
        self._next()

    def _next(self) -> None:
        self._at += 1
        self._since = self._survey.next_frame
