"""The zero taken in a set-up check: kept with who took it and when, and how it moves afterwards."""

from __future__ import annotations

import msgspec

from stream.checks.evidence import Quiet
from stream.checks.statistics import signed
from stream.movement import STANDARD_GRAVITY

#: A zero that moved by this share of body weight matters (0.5 %); it is told from half of it on.
MATTERS_BW = 0.005
TELL_BW = 0.5 * MATTERS_BW
USUAL_WEIGHT_N = 80.0 * STANDARD_GRAVITY


class Tare(msgspec.Struct, frozen=True):
    """A zero: mean raw reading of each channel on the empty deck, by whom and when.

    ``taken_ns`` by the host's clock; ``seconds`` of empty deck it rests on.
    It is replaced only by another check or by the operator's own request.
    """

    by: str
    taken_ns: int | None
    seconds: float
    values: tuple[float, ...]


def take_tare(quiet: Quiet, by: str, taken_ns: int | None) -> Tare:
    """Return the zero that ``quiet`` gives."""
    values = tuple(float(v) for v in quiet.samples.mean(axis=0))
    return Tare(by, taken_ns, quiet.seconds, values)


def moved_sentence(moved: float, body_weight_n: float | None) -> str:
    """Return how the zero moved, in words, and what to do where that matters.

    While nobody's weight is known, that of a usual pitcher stands in for it.
    """
    share = abs(moved) / (body_weight_n or USUAL_WEIGHT_N)
    whose = "body weight" if body_weight_n else "a usual body weight"
    text = f"The zero moved by {signed(moved, 1)} N since it was taken ({share:.2%} of {whose})"
    if share >= MATTERS_BW:
        return (
            text + ": it matters now. Empty the deck, see that nothing lies on it, and take the "
            "zero anew."
        )
    if share >= TELL_BW:
        return text + ": not yet enough to matter; take it anew at the next break."
    return text + ": that does not matter."
