"""The feed as the operator sees it: rate, delay, stalls, refusals, in numbers and in words.

Host times are data that come with each packet or tick; there is no clock here.
Where the host's clock was set back, what is remembered keeps its age.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Sequence
from itertools import pairwise
from operator import sub
from statistics import median

from stream.outputs import Fault
from stream.snapshot import FeedState, Level, Sentence
from stream.wire import NS

#: Silence that means the feed has stopped, s.
STALL_S = 1.0
#: How long something that happened stays worth a sentence, s.
RECENT_S = 20.0
#: The rate is measured over at most this long, s.
RATE_OVER_S = 10.0
#: Marks of arrival kept at least this far apart, s.
MARK_EVERY_S = 0.25
#: Frames a second may differ from the device's word by this share before it is said.
PACE_WITHIN = 0.05
_MARKS_FOR_PACE = 24
#: Packets are told a little later than they came; a time further back is a clock that was set, s.
SET_BACK_S = 1.0


class Watchman:
    """Watches one mound's arrivals."""

    def __init__(self, source: str) -> None:
        self._source = source
        self._marks: deque[tuple[int, int]] = deque(maxlen=round(RATE_OVER_S / MARK_EVERY_S) + 1)
        self._delays: deque[int] = deque(maxlen=2000)
        self._recent: dict[str, tuple[int, str]] = {}
        self._losses: deque[tuple[int, int]] = deque(maxlen=1000)
        self._least_delay: int | None = None
        self._nominal_hz = 0.0
        self.rejected: Counter[str] = Counter()
        self._newest_ns = 0
        self.last_ns: int | None = None
        self.stalled = False

    def restart(self) -> None:
        """A new stream: its clock and its frame count are new."""
        self._marks.clear()
        self._delays.clear()
        self._least_delay = None

    def arrived(self, received_ns: int, frames: int, rate_hz: float) -> None:
        """Note a block: ``frames`` taken so far; the device says that it sends ``rate_hz``."""
        self._pass_time(received_ns)
        if self.last_ns is not None and not 0 <= received_ns - self.last_ns <= STALL_S * NS:
            self._marks.clear()  # a pause, or the host's clock was set back
        self.last_ns, self._nominal_hz = received_ns, rate_hz
        self.stalled = False
        if not self._marks or received_ns - self._marks[-1][0] >= MARK_EVERY_S * NS:
            self._marks.append((received_ns, frames))

    def clock_stepped(self, by_ns: int, received_ns: int) -> list[Fault]:
        """The device clock was set by ``by_ns``: delays seen before it mean nothing now."""
        self._delays.clear()
        self._least_delay = None
        way = "forward" if by_ns > 0 else "back"
        say = (
            f"The device's clock was set {way} by {abs(by_ns) / NS:.1f} s. Pitches are not "
            "affected: they are timed by the frame count. A ball speed just sent may find no pitch."
        )
        return [self.note("clock_step", received_ns, say)]

    def on_time(self, received_ns: Sequence[int], newest_t_ns: Sequence[int]) -> None:
        """Note the delays of blocks whose newest frames are stamped ``newest_t_ns``."""
        self._pass_time(received_ns[-1])
        delays = list(map(sub, received_ns, newest_t_ns))
        self._delays.extend(delays)
        least = min(delays)
        if self._least_delay is None or least < self._least_delay:
            self._least_delay = least

    def refused(self, reason: str, received_ns: int, say: str) -> Fault:
        """Count a message that was not taken."""
        self.rejected[reason] += 1
        return self.note(reason, received_ns, say)

    def note(self, kind: str, now_ns: int, say: str) -> Fault:
        """Remember a sentence for as long as it is news."""
        self._recent[kind] = (now_ns, say)
        return Fault(self._source, kind, say)

    def lost(self, frames: int, received_ns: int) -> None:
        """Note that ``frames`` frames never came."""
        self._losses.append((received_ns, frames))

    def missed(self, seconds: float, received_ns: int) -> Fault:
        """Tell of so long a gap that a whole pitch may lie in it."""
        say = f"{lasting(seconds)} of the feed never came: a pitch thrown then is not in the list."
        return self.note("missed", received_ns, say)

    def tick(self, now_ns: int) -> list[Fault]:
        """Tell once when the feed has stopped coming."""
        self._pass_time(now_ns)
        if self.stalled or self.last_ns is None or now_ns - self.last_ns < STALL_S * NS:
            return []
        self.stalled = True
        return [Fault(self._source, "stalled", self._stalled_text(now_ns))]

    def silent_s(self, now_ns: int) -> float:
        """Return how long nothing has come; 0 where nothing ever came or the clock was set back."""
        return 0.0 if self.last_ns is None else max(now_ns - self.last_ns, 0) / NS

    def state(self) -> FeedState:
        """Return the feed's state in one word."""
        if self.last_ns is None:
            return FeedState.WAITING
        return FeedState.STALLED if self.stalled else FeedState.LIVE

    def rate_hz(self) -> float | None:
        """Return frames per second of the host's clock over the last seconds; None if too short."""
        if len(self._marks) < 5:
            return None
        (first_ns, first), (last_ns, last) = self._marks[0], self._marks[-1]
        return (last - first) * NS / (last_ns - first_ns)

    def delay_ms(self) -> tuple[float, float] | None:
        """Return (newest, worst recent) delay beyond the least one seen, ms.

        The clocks of device and host are not the same, so only what comes on
        top of the quickest block can be told.
        """
        if not self._delays or self._least_delay is None:
            return None
        return (
            (self._delays[-1] - self._least_delay) / 1e6,
            (max(self._delays) - self._least_delay) / 1e6,
        )

    def sentences(self, now_ns: int) -> list[Sentence]:
        """Return what the operator should know of the feed now, most urgent first."""
        said = []
        if self.last_ns is None:
            said.append(
                Sentence(
                    Level.WARNING,
                    "waiting",
                    "No feed yet. Switch the mound's device on and check its address and cable.",
                )
            )
        elif self.stalled:
            said.append(Sentence(Level.ALARM, "stalled", self._stalled_text(now_ns)))
        elif (pace := self._pace_hz()) and abs(pace / self._nominal_hz - 1.0) > PACE_WITHIN:
            said.append(Sentence(Level.ALARM, "pace", self._pace_text(pace)))
        recent = [frames for at, frames in self._losses if _is_recent(at, now_ns)]
        if recent:
            said.append(Sentence(Level.WARNING, "lost", _lost_text(sum(recent), len(recent))))
        for kind, (at, text) in self._recent.items():
            if _is_recent(at, now_ns):
                said.append(Sentence(Level.WARNING, kind, text))
        return said

    def _pass_time(self, now_ns: int) -> None:
        back = self._newest_ns - now_ns
        if 0 <= back <= SET_BACK_S * NS:
            return
        self._newest_ns = now_ns
        if back < 0:
            return
        if self.last_ns is not None:
            self.last_ns -= back
        self._losses = deque(((at - back, n) for at, n in self._losses), self._losses.maxlen)
        self._recent = {kind: (at - back, say) for kind, (at, say) in self._recent.items()}
        self._marks.clear()
        self._delays.clear()
        self._least_delay = None

    def _pace_hz(self) -> float | None:
        """Median over the last seconds, so that a burst after a pause is no other pace."""
        if len(self._marks) < _MARKS_FOR_PACE:
            return None
        return median(
            (after - before) * NS / (after_ns - before_ns)
            for (before_ns, before), (after_ns, after) in pairwise(self._marks)
        )

    def _pace_text(self, pace: float) -> str:
        return (
            f"{pace:.0f} frames a second arrive; the device says {self._nominal_hz:.0f}. Either "
            "frames are lost on the way, or it samples at another rate and all times are wrong: "
            "set the device right, then run the set-up check."
        )

    def _stalled_text(self, now_ns: int) -> str:
        silent = (now_ns - (self.last_ns or now_ns)) / NS
        return (
            f"The feed stopped {silent:.0f} s ago. Check the device's power and its cable; "
            "it is taken up again by itself."
        )


def lasting(seconds: float) -> str:
    """Return how long something lasted, in the unit that a person would take."""
    if seconds < 90.0:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.0f} min" if seconds < 5400.0 else f"{seconds / 3600.0:.0f} h"


def _is_recent(at_ns: int, now_ns: int) -> bool:
    return -SET_BACK_S * NS <= now_ns - at_ns < RECENT_S * NS


def _lost_text(frames: int, gaps: int) -> str:
    where = "a gap" if gaps == 1 else f"{gaps} gaps"
    return (
        f"{frames} frames were lost in {where} within {RECENT_S:.0f} s; a pitch with a hole loses "
        "values. Use a cable in place of wireless, check the plugs, and close other programs that "
        "read the device."
    )
