"""One sentence under the numbers."""

from __future__ import annotations

import pytest

from analysis.baseline import compare_pitch
from analysis.sentence import sentence
from stream.outputs import PitchRecord
from tests.screens.invented import record

EARLIER = [record(i) for i in range(1, 10)]


def say(key: str, value: float) -> tuple[str, str]:
    if key == "speed_mps":
        return f"{value / 0.44704:.1f}", "mph"
    return f"{value:.0f}", "% body weight"


def of(pitch: PitchRecord, earlier: list[PitchRecord]) -> str:
    return sentence(compare_pitch(pitch, earlier), say, "P03")


@pytest.mark.parametrize(
    ("pitch", "expected"),
    [
        (record(10), "Like the other pitches of P03."),
        (
            record(10, speed_mps=None),
            "Like the other pitches of P03.",
        ),
        (
            record(10, speed_mps=34.2),
            "Ball speed 4.5 mph below P03's usual; the rest as usual.",
        ),
        (
            record(10, land=280.0),
            "Landing 59 above and braking 30 above P03's usual (% body weight).",
        ),
        (
            record(10, push=130.0, speed_mps=34.2),
            "Push-off 36 % body weight below and ball speed 4.5 mph below P03's usual.",
        ),
    ],
)
def test_what_differs_is_named_with_its_size(pitch: PitchRecord, expected: str) -> None:
    assert of(pitch, EARLIER) == expected


def test_too_few_and_nothing_measured() -> None:
    assert of(record(3), EARLIER[:2]).startswith("Too few pitches of P03")
    nothing = record(10, metrics={}, speed_mps=None)
    assert of(nothing, EARLIER) == "Nothing of this pitch could be measured."


def test_what_was_not_measured_is_named() -> None:
    part = record(10, metrics={"drive_peak_bw": 166.0})
    text = of(part, EARLIER)
    assert "Not measured: landing" in text
    assert "rest as usual" not in text
