"""Says things once: the same state is not repeated, and a flood of faults becomes one line."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable

import msgspec

from stream.snapshot import Level, Sentence

#: Between two sentences of the same key, s; a change of level is said at once. A state that was
#: away for longer is a new one.
QUIET_S = 10.0
#: An alarm that stands is repeated after so long, s.
AGAIN_S = 120.0


class Voice:
    """Passes sentences on to ``say``, rate-limited by their key."""

    def __init__(
        self, say: Callable[[Sentence], None], clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._say = say
        self._clock = clock
        self._last: dict[str, tuple[float, Sentence]] = {}
        self._more: dict[str, int] = {}
        #: When each state was last seen to hold.
        self._held_at: dict[str, float] = {}

    def standing(self, sentences: Iterable[Sentence]) -> None:
        """Say of the states that hold now what is new, has changed or came back."""
        now = self._clock()
        for sentence in sentences:
            at, last = self._last.get(sentence.key, (0.0, None))
            age = now - at
            back = now - self._held_at.get(sentence.key, now) > QUIET_S
            self._held_at[sentence.key] = now
            changed = last is None or last.text != sentence.text
            urgent = back or last is None or last.level != sentence.level
            again = sentence.level is Level.ALARM and age > AGAIN_S
            if urgent or again or (changed and age > QUIET_S):
                self._pass_on(sentence)

    def happened(self, sentence: Sentence) -> None:
        """Say that something happened, and how often it did since it was said last."""
        last = self._last.get(sentence.key)
        if last is not None and self._clock() - last[0] < QUIET_S:
            self._more[sentence.key] = self._more.get(sentence.key, 0) + 1
            return
        held = self._more.pop(sentence.key, 0)
        if held:
            text = f"{sentence.text} ({held} more like this since it was last said.)"
            sentence = msgspec.structs.replace(sentence, text=text)
        self._pass_on(sentence)

    def _pass_on(self, sentence: Sentence) -> None:
        self._last[sentence.key] = (self._clock(), sentence)
        self._say(sentence)
