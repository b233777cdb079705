"""Floods: of bad messages, and of bytes in files that are small by nature."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from stream.access.options import OptionsError, read_options
from stream.files import FileError, parse_settings
from stream.monitor.backroom import Backroom
from stream.monitor.service import Equipment
from stream.pipeline import Pipeline
from stream.recording.session import Session, SessionError
from stream.wire import Packet
from tests.monitor.fakes import Rig, Watched
from tests.robustness.bullpen import LAYOUT, invented
from tests.transport.waiting import eventually

Measured = Callable[[str], None]
FLOOD = 5000


@pytest.mark.fault(
    "thousands of bad messages a second",
    "each is counted by its reason; what is said of them is one line, and then how many more",
)
async def test_a_flood_of_bad_messages_is_counted_whole_and_said_once(measured: Measured) -> None:
    room = Backroom("test")
    watched = Watched(room)
    cores: list[Pipeline] = []

    def make(source: str) -> Pipeline:
        cores.append(Pipeline(source, LAYOUT))
        return cores[-1]

    force = next((topic, payload) for topic, payload in invented() if topic.endswith("/force"))
    async with Rig(make, Equipment(keepers=[watched], servers=[])) as rig:
        rig.send(Packet(*force, 1))
        for _ in range(FLOOD // 50):
            rig.send(*(Packet(force[0], b"\xc1", 1) for _ in range(50)))
        await eventually(lambda: cores and cores[0].watchman.rejected.total() == FLOOD)
        said = [s for s in watched.sentences if s.key == "unreadable"]
    await room.finish()
    assert cores[0].watchman.rejected == {"unreadable": FLOOD}
    assert 1 <= len(said) <= 3
    measured(f"{FLOOD} bad messages counted, {len(said)} line{'s' if len(said) > 1 else ''} said")


def test_a_sessions_description_of_absurd_size(tmp_path: Path) -> None:
    (tmp_path / "session.json").write_bytes(b" " * 100_000)
    with pytest.raises(SessionError, match="too large"):
        Session.open(tmp_path)


def test_a_connection_file_of_absurd_size(tmp_path: Path) -> None:
    file = tmp_path / "connection.toml"
    file.write_bytes(b"\n" * 2_000_000)
    with pytest.raises(OptionsError, match="too large"):
        read_options(file)


@pytest.mark.parametrize("text", ["filter_hz = 1e-9", "filter_hz = 0.5", "filter_hz = nan"])
def test_a_cut_off_that_no_filter_has_is_refused(text: str) -> None:
    """Far below the rate the filter's equations have no solution any more."""
    with pytest.raises(FileError, match="filter_hz"):
        parse_settings(text, "the settings")
