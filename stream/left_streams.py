"""Streams that a device has left: their late blocks, and a second device under the same name.

A block of a stream that was left is no restart. It is put aside as long as the
stream that is followed goes on; when that has fallen silent, whoever sends is
taken up again, also under a stream value of before. A stream of which one block
has come, and then the one before it goes on, was a broken block and no stream.
"""

from __future__ import annotations

from stream.outputs import Fault
from stream.wire import NS, ForceMessage

#: Streams that are remembered after they were left.
_REMEMBERED = 8
#: Silence of the followed stream after which one that was left is taken up again, ns of host time.
SILENT_NS = 2 * NS
#: So many blocks with no pause of a second between them are no late ones: a second device sends.
TOO_MANY = 8
_PAUSE_NS = NS


class LeftStreams:
    """Decides whether a block of another stream is put aside; host times come with the blocks."""

    def __init__(self) -> None:
        #: The streams that were left, oldest first, and whether more than one block of each came.
        self._left: dict[str, bool] = {}
        self._blocks = 0
        self._followed_ns = 0
        self._aside_ns = 0
        self._aside = 0

    def followed(self, received_ns: int) -> None:
        """Note that a block of the stream that is followed came at ``received_ns``."""
        self._followed_ns = received_ns
        self._blocks += 1

    def leave(self, stream: str, follow: str) -> None:
        """Note that ``follow`` is followed from now on in place of ``stream``."""
        known = self._left.pop(follow, False)
        if stream != follow:
            # One of the blocks counted is the one that leads away.
            self._left[stream] = self._blocks > 2
            if len(self._left) > _REMEMBERED:
                del self._left[next(iter(self._left))]
        self._blocks = 2 if known else 1

    def put_aside(self, message: ForceMessage, received_ns: int) -> Fault | None:
        """Return what is to be told if ``message`` is put aside; None: it begins a stream."""
        if message.stream not in self._left:
            return None
        if self._blocks < 2 and self._left[message.stream]:
            return None
        # Silence is counted anew where the host's clock was set back.
        self._followed_ns = min(self._followed_ns, received_ns)
        if received_ns - self._followed_ns >= SILENT_NS:
            return None
        again = 0 <= received_ns - self._aside_ns < _PAUSE_NS
        self._aside = self._aside + 1 if again else 1
        self._aside_ns = received_ns
        if self._aside < TOO_MANY:
            return Fault(
                message.source,
                "late_stream",
                "A block of a stream that the device had left before came late and was left out. "
                "If this goes on, a second device may be sending under this mound's name.",
            )
        return Fault(
            message.source,
            "two_devices",
            f"Two devices send under the name {message.source!r}: one is measured, the blocks of "
            "the other are left out. Stop the one that does not belong to this mound, or give it "
            "a name of its own.",
        )
