"""One plain sentence about one pitch, made from its comparisons and nothing else."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType

from analysis.baseline import COMPARE_FROM, Comparison, Standing, overall

#: What a coach calls the watched metrics, in the middle of a sentence.
SPOKEN: Mapping[str, str] = MappingProxyType(
    {
        "drive_peak_bw": "push-off",
        "landing_peak_bw": "landing",
        "speed_mps": "ball speed",
        "drive_forward_bw": "push towards home",
        "landing_braking_bw": "braking",
        "stride_m": "stride",
    }
)
#: More than two differences in one sentence are not heard.
MOST_NAMED = 2

#: Writes a value of a metric: (number, unit).
Say = Callable[[str, float], tuple[str, str]]


def sentence(comparisons: Sequence[Comparison], say: Say, who: str) -> str:
    """Return the sentence; ``say(key, value)`` writes a value, ``who`` names the pitcher.

    It names at most two unusual metrics, those that stand apart first, in the
    order in which a coach asks, and says how far they are from the pitcher's
    own median.
    """
    standing = overall(comparisons)
    if standing is Standing.NOT_MEASURED:
        return "Nothing of this pitch could be measured."
    if standing is Standing.TOO_FEW:
        had = max((c.baseline.count for c in comparisons if c.baseline), default=0)
        if had >= COMPARE_FROM:
            return f"Too few measured pitches of {who} to compare with."
        return f"Too few pitches of {who} to compare with yet; it takes {COMPARE_FROM}."
    unusual = [
        c for wanted in (Standing.APART, Standing.EDGE) for c in comparisons if c.standing is wanted
    ]
    missing = [c for c in comparisons if c.standing is Standing.NOT_MEASURED]
    if not unusual:
        return f"Like the other pitches of {who}.{_missing(missing)}"
    text = _differences(unusual[:MOST_NAMED], say, who)
    rest = "; the rest as usual" if len(unusual) == 1 and not missing else ""
    return f"{text[0].upper()}{text[1:]}{rest}.{_missing(missing)}"


def _differences(named: Sequence[Comparison], say: Say, who: str) -> str:
    """Say how far each is from the usual; a unit that they share is said once."""
    written = [say(c.key, abs(c.difference or 0.0)) for c in named]
    shared = {unit for _, unit in written} if len(named) > 1 else set()
    parts = []
    for comparison, (number, unit) in zip(named, written, strict=True):
        side = "above" if (comparison.difference or 0.0) > 0 else "below"
        amount = number if len(shared) == 1 else f"{number} {unit}"
        parts.append(f"{SPOKEN[comparison.key]} {amount} {side}")
    unit_said = f" ({shared.pop()})" if len(shared) == 1 else ""
    return f"{' and '.join(parts)} {who}'s usual{unit_said}"


def _missing(missing: Sequence[Comparison]) -> str:
    """Name what was not measured; a ball speed that nobody gave needs no mention."""
    names = [SPOKEN[c.key] for c in missing if c.key != "speed_mps"]
    if not names:
        return ""
    return f" Not measured: {', '.join(names)}."
