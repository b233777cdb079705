"""What a replay costs beside merely reading and decoding the recording.

The floor: the ``mcap`` library's own stream reader, which tests the checksums
and makes an object a message, then each force message's map decoded and its
frames seen as an array.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from pathlib import Path

import msgspec
import numpy as np
from mcap.records import Message
from mcap.stream_reader import StreamReader

from benchmarks.feeds import simulated
from benchmarks.figures import Figure, in_turn, ratio
from stream.recording.reader import read_recording
from stream.recording.replay import Mounds, setup_of

_CASES = (
    ("12 channels, 10-frame blocks, a pitch every 35 s", 1.5, ("--block", "10")),
    ("12 channels, 10-frame blocks, a pitch every 25 s", 1.5, ("--block", "10", "--quick")),
    ("150 channels, 10-frame blocks", 1.5, ("--block", "10", "--quick", "--layout", "tiled")),
    ("12 channels, 1-frame messages", 1.3, ("--block", "1", "--quick")),
)


def figures(folder: Path, *, quick: bool) -> Iterator[Figure]:
    """Measure each case on an invented session."""
    pitches = 6 if quick else 25
    for number, (what, goal, options) in enumerate(_CASES):
        path = simulated(folder / f"replay-{number}.mcap", "--pitches", str(pitches), *options)
        times = in_turn(3 if quick else 5, partial(floor, path), partial(replay, path))
        yield Figure(f"Replay, times reading and decoding: {what}", ratio(times, 1), "x", goal)
        path.unlink()


def floor(path: Path) -> int:
    """Read and decode every force message; return the number of frames."""
    decode, frames = msgspec.msgpack.Decoder().decode, 0
    with path.open("rb") as file:
        for record in StreamReader(file, validate_crcs=True).records:
            if isinstance(record, Message) and not record.data.startswith(b"{"):
                said = decode(record.data)
                if "frames" in said:
                    block = np.frombuffer(said["frames"], "<f4").reshape(-1, said["channels"])
                    frames += len(block)
    return frames


def replay(path: Path) -> int:
    """Run the whole measurement over a recording; return the number of outputs."""
    recording = read_recording(path)
    mounds = Mounds(setup_of(recording))
    outputs = sum(len(mounds.receive_many(batch)) for batch in recording.batches())
    return outputs + len(mounds.finish())
