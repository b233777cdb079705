"""The zero taken in a set-up check: kept with who took it and when, and how it moves afterwards."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
import numpy as np

from stream.checks.evidence import Quiet
from stream.forces import platform_forces
from stream.layout import Array, Layout

#: A zero that moved by this share of body weight matters (0.5 %); it is told from half of it on.
MATTERS_BW = 0.005
TELL_BW = 0.5 * MATTERS_BW


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


def moved_n(layout: Layout, taken: Tare, now: Sequence[float] | Array) -> float:
    """Return how much vertical force the whole deck reads at the zero ``now`` (channels,), N.

    That is what the zero taken would leave in every vertical force of a pitch.
    """
    added = np.asarray(now, dtype=float) - np.array(taken.values)
    return float(platform_forces(layout, added[None, :]).force[..., 2].sum())


def moved_sentence(moved: float, body_weight_n: float | None) -> str:
    """Return how the zero moved, in words, and what to do where that matters."""
    text = f"The zero moved by {moved:+.1f} N since it was taken"
    if not body_weight_n:
        return text + "."
    share = abs(moved) / body_weight_n
    text += f" ({share:.2%} of body weight)"
    if share >= MATTERS_BW:
        return (
            text + ": it matters now. Empty the deck, see that nothing lies on it, and take the "
            "zero anew."
        )
    if share >= TELL_BW:
        return text + ": not yet enough to matter; take it anew at the next break."
    return text + ": that does not matter."
