"""Whether a session's table and report grow straight with its pitches.

One invented session is repeated as further recordings of one session folder,
with pitch numbers that go on; the program itself writes table and report, each
as a process of its own. Both measure the recordings again.
"""

from __future__ import annotations

import subprocess
from collections.abc import Iterator
from pathlib import Path

import msgspec

from benchmarks.feeds import PROGRAM, cost_of, simulated
from benchmarks.figures import Figure
from stream.recording.plain import PlainWriter
from stream.recording.reader import read_recording
from stream.recording.start import METADATA_NAME, RunStart

_AT_ONCE = 25
_WORKS = {
    "report": ["report", "-o", "page.html", "--overwrite"],
    "table": ["export", "--to", "csv", "-o", "table.csv", "--overwrite"],
}


def figures(folder: Path, *, quick: bool, most_pitches: int = 1000) -> Iterator[Figure]:
    """Compare a session of ``most_pitches`` with one of a tenth, per pitch."""
    many = 250 if quick else most_pitches
    few = max(_AT_ONCE, many // 10)
    sessions = [_session(folder / str(count), count) for count in (few, many)]
    for what, command in _WORKS.items():
        (few_s, few_mb), (many_s, many_mb) = (
            cost_of([*command, str(session)], session.parent) for session in sessions
        )
        yield Figure(
            f"Session's {what}, {many} pitches: processor time a pitch, times that of {few}",
            many_s / many * few / few_s,
            "x",
            1.15,
        )
        yield Figure(f"Session's {what}, {many} pitches: processor time", many_s, "s")
        yield Figure(f"Session's {what}, {many} pitches: greatest memory", many_mb, "MB")
        yield Figure(
            f"Session's {what}: memory beyond that of {few} pitches, per 1,000 pitches",
            (many_mb - few_mb) / (many - few) * 1000,
            "MB",
        )


def _session(folder: Path, pitches: int) -> Path:
    """Return a session of so many pitches, rounded down to whole repetitions."""
    path = simulated(folder.with_suffix(".mcap"), "--quick", "--pitches", str(_AT_ONCE),
                     "--block", "10")  # fmt: skip
    replay = [*PROGRAM, "replay", str(path), "--session", str(folder)]
    subprocess.run(replay, check=True, capture_output=True)
    recorded = read_recording(folder / "recording-001.mcap")
    packets = list(recorded.packets())
    start = RunStart.from_metadata(recorded.metadata.get(METADATA_NAME, {}))
    lines = [
        msgspec.json.decode(line) for line in (folder / "pitches.jsonl").read_bytes().splitlines()
    ]
    counted = sum("number" in line for line in lines)
    with (folder / "pitches.jsonl").open("ab") as table:
        for turn in range(1, pitches // _AT_ONCE):
            first = msgspec.structs.replace(
                start, recording=turn + 1, first_number=turn * counted + 1
            )
            with PlainWriter(
                folder / f"recording-{turn + 1:03d}.mcap",
                extra_metadata={**recorded.metadata, METADATA_NAME: first.to_metadata()},
            ) as recording:
                for packet in packets:
                    recording.write(packet, packet.received_ns)
            for line in lines:
                moved = (
                    {**line, "number": line["number"] + turn * counted}
                    if "number" in line
                    else line
                )
                table.write(msgspec.json.encode(moved) + b"\n")
    return folder
