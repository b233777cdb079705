"""A power cut takes the operator's log: it is found again in the recording (invented sessions)."""

from __future__ import annotations

import shutil
import time
from collections.abc import Sequence
from pathlib import Path

import msgspec
import pytest

from simulators.scenario import Plan
from stream.actions import Action, ChoosePitcher, Note, Void, encode_action
from stream.changes import actions_of
from stream.files import settings_text
from stream.monitor.earlier import take_up
from stream.outputs import PitchClosed
from stream.recording.reader import read_recording
from stream.recording.session import Session
from stream.recording.start import METADATA_NAME, RunStart
from stream.recording.writer import RecordingWriter
from stream.settings import Settings
from stream.snapshot import Level
from stream.wire import Packet, TopicKind, topic
from tests.core.mounds import SOURCE, session

PLAN = Plan(seed=6, pitches=2, quick=True, traffic=0.0)
CHOSEN = ChoosePitcher(source=SOURCE, t_ns=4, pitcher="")
NOTED = Note(source=SOURCE, t_ns=5, number=1, text="high")
VOIDED = Void(source=SOURCE, t_ns=6, number=1, reason="warm-up")
ACTIONS: Sequence[Action] = (CHOSEN, NOTED, VOIDED, NOTED)


@pytest.fixture(scope="module")
def cut_off(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A session whose recording was cut off, its pitches written and its log lost.

    The operator acted once the first pitch was closed, so its line says nothing of that.
    """
    folder = tmp_path_factory.mktemp("cut") / "session"
    invented = session(PLAN)
    kept = Session.create(
        folder,
        source=SOURCE,
        layout_text=invented.layout.origin_text,
        settings_text=settings_text(Settings()),
        roster=invented.scenario.roster,
    )
    start = RunStart(source=SOURCE, pitcher=invented.scenario.chosen[0].pitcher)
    core, acted, count = invented.pipeline(), False, 0
    live = folder.with_name("live.mcap")
    with RecordingWriter(
        live,
        layout_text=invented.layout.origin_text,
        roster_csv=invented.scenario.roster.coded().to_csv(),
        settings_text=settings_text(Settings()),
        extra_metadata={METADATA_NAME: start.to_metadata()},
    ) as writer:
        for packet in invented.packets(40):
            count += writer.write(packet)
            for output in core.receive(packet):
                if isinstance(output, PitchClosed):
                    kept.add_record(output.record)
                    acted, before = True, acted
                    for action in () if before else ACTIONS:
                        did = Packet(
                            topic(SOURCE, TopicKind.OPERATOR),
                            encode_action(action),
                            packet.received_ns,
                        )
                        core.receive(did)
                        count += writer.write(did)
        deadline = time.monotonic() + 20.0
        while writer.synced_messages < count:
            assert time.monotonic() < deadline
            time.sleep(0.01)
        shutil.copy(live, folder / "recording-001.mcap")
    kept.close()
    return folder


@pytest.mark.fault(
    "a power cut takes the lines of the operator's log that were not yet on the disk",
    "the next run finds what the operator did in the recording; a void pitch stays void",
)
@pytest.mark.parametrize("kept", range(len(ACTIONS) + 1))
def test_what_the_operator_did_is_found_again(cut_off: Path, tmp_path: Path, kept: int) -> None:
    folder = tmp_path / "session"
    shutil.copytree(cut_off, folder)
    opened = Session.open(folder)
    for action in ACTIONS[:kept]:
        opened.add_log("action", msgspec.to_builtins(action))
    earlier = take_up(opened, session(PLAN).scenario.roster, 0)
    assert actions_of(opened.log()) == ACTIONS, "each once, at its time and in its order"
    first = earlier.pitches[0]
    assert (first.number, first.flags, first.note) == (1, ("void",), "high")
    said = " ".join(notice.text for notice in earlier.notices)
    lost = len(ACTIONS) - kept
    assert (f"the operator's actions: {lost}" in said) == (lost > 0)
    opened.close()
    again = Session.open(folder)
    assert take_up(again, session(PLAN).scenario.roster, 0).pitches == earlier.pitches
    assert actions_of(again.log()) == ACTIONS, "nothing is found twice"


@pytest.mark.fault(
    "the monitor is away for a while, and pitches are thrown meanwhile",
    "the next run says for how long nothing was recorded, and that a pitch may be missing",
)
@pytest.mark.parametrize(
    ("away_s", "says"), [(1.0, None), (17.0, "for 17 s:"), (300.0, "5 min"), (9000.0, "2 h")]
)
def test_how_long_nothing_was_recorded_is_told(
    cut_off: Path, tmp_path: Path, away_s: float, says: str | None
) -> None:
    folder = tmp_path / "session"
    shutil.copytree(cut_off, folder)
    *_, last = read_recording(folder / "recording-001.mcap").packets()
    opened = Session.open(folder)
    now_ns = last.received_ns + round(away_s * 1e9)
    (notice,) = take_up(opened, session(PLAN).scenario.roster, now_ns).notices
    opened.close()
    assert ("Nothing was recorded" in notice.text) == (says is not None)
    assert says is None or says in notice.text
    assert notice.level is (Level.INFO if says is None else Level.WARNING)
