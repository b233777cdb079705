"""From a new session to its first pitch: the set-up check by keys, the pitcher, the numbers.

Real processes: an invented device over ZeroMQ, the monitor, and the screen on a
pseudo-terminal, of which nothing but keys and what stands on it is used.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from simulators.scenario import Plan, compose
from stream.files import load_layout
from stream.monitor.presence import find, runtime_folder
from stream.outputs import PitchRecord
from stream.recording.session import Session
from tests.journeys.large import stands_large
from tests.screens.hand_device import HandDevice
from tests.screens.pseudo_terminal import DOWN, ENTER, ESCAPE, own_runtime, terminal

__all__ = ["own_runtime"]
pytestmark = pytest.mark.usefixtures("own_runtime")

#: One pitch and nothing else, from so long before its foot contact on.
THROWN = Plan(
    seed=16, pitches=1, pitchers=1, traffic=0.0, things=0.0, quick=True, speeds_missing=0.0
)
BEFORE_S = 7.0
SPOT = (1.8, 0.3)
MPH_MPS = 0.44704  # NIST SP 811 (2008), appendix B.8


def test_set_up_to_first_pitch(tmp_path: Path) -> None:
    folder, roster = tmp_path / "tuesday", tmp_path / "roster.csv"
    scenario = compose(THROWN, load_layout("two-plates").deck)
    roster.write_text(scenario.roster.to_csv())
    with HandDevice() as device, terminal(
        "watch", "--from", device.url, "--layout", "two-plates", "--pitchers", str(roster),
        "--session", str(folder), size=(120, 40),
    ) as term:  # fmt: skip
        term.until_shown(
            "FEED LIVE", "no set-up check yet; k makes it", "Press p to say who throws"
        )

        term.press("k")
        term.until_shown("known mass, lb", "spot x, forward, ft", "checked by")
        term.press("20 kg", DOWN, "1.8 m", DOWN, "0.3 m", DOWN, "J. D.", ENTER)
        term.until_shown("step 1 of 3", "Step off the deck")
        term.until_shown("step 2 of 3", "Put the 44.1 lb on the marked spot ◎, 5.91 ft in front of")
        device.bear(20.0, SPOT)
        term.until_shown("step 3 of 3", "✓ pass", "known mass reads 44.1 lb")
        device.bear(82.0, (0.0, 0.0))
        term.until_shown("Done: nothing failed", "Body weight 181 lbf")
        device.bear(0.0, SPOT)
        term.press(ESCAPE)

        term.until_shown("No pitch yet.", "PUSH-OFF", "nobody named is throwing")
        term.press("p")
        term.until_shown("Who is throwing from now on?", "P01")
        term.press("P01", ENTER)
        term.until_true(lambda text: "nobody named" not in text and "P01" in text, "P01 throws")

        device.play(scenario, scenario.pitches[0].contact - BEFORE_S)
        term.until_shown("PITCH 1", "COUNTED")
        row = re.compile(r"\b1 P01 +(\d+) +(\d+) +(\d+\.\d)\b")
        term.until_true(lambda text: row.search(text) is not None, "a ball speed in the table")
        seen, lines = row.search(term.text), term.lines
        term.press("q")
        term.until_shown("Leave the screen")
        term.press("e")
        assert term.ended() == 0

    assert find(runtime_folder(folder)) is None, "the monitor has ended"
    session = Session.open(folder)
    check = session.check()
    assert check is not None
    assert check["ok"]
    assert check["by"] == "J. D."
    assert check["mass_kg"] == 20.0
    # Whoever stood on the deck for the check has left it: that may be a movement not counted.
    (record,) = [each for each in session.pitches() if isinstance(each, PitchRecord)]
    assert record.pitcher == "P01"
    push, landing = record.metrics["drive_peak_bw"], record.metrics["landing_peak_bw"]
    assert push is not None
    assert landing is not None
    assert record.speed_mps is not None
    written = (f"{push:.0f}", f"{landing:.0f}", f"{record.speed_mps / MPH_MPS:.1f}")
    assert seen is not None
    assert seen.groups() == written
    for number in written:
        assert stands_large(lines, number), "\n".join([number, *lines])
