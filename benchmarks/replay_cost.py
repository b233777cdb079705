"""What a replay costs beside merely reading and decoding the recording.

The floor: the ``mcap`` library's message reader, used as its documentation
shows, with the checksums tested; then each force message's map decoded and
its frames seen as an array. Beside it, without a goal, the library's bare
record reader, which leaves topics and order to whoever calls it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import partial
from pathlib import Path

import msgspec
import numpy as np
from mcap.reader import make_reader
from mcap.records import Message
from mcap.stream_reader import StreamReader

from benchmarks.feeds import simulated
from benchmarks.figures import Figure, in_slices
from stream.recording.reader import read_recording
from stream.recording.replay import Mounds, Setup, setup_of

#: Messages in a slice: about as many as the program takes at once.
_SLICE = 1024
_decode = msgspec.msgpack.Decoder().decode
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
        works = (
            partial(messages, path),
            partial(records, path),
            partial(replay, path, setup_of(read_recording(path))),
        )
        read, bare, measured = in_slices(3 if quick else 15, *works)
        yield Figure(f"Replay, times reading and decoding: {what}", measured / read, "x", goal)
        yield Figure(f"The same, times the bare record reader: {what}", measured / bare, "x")
        path.unlink()


def messages(path: Path) -> Iterator[None]:
    """Read and decode every force message; pause after each slice."""
    with path.open("rb") as file:
        read = make_reader(file, validate_crcs=True).iter_messages()
        yield from _decoded(message for _, _, message in read)


def records(path: Path) -> Iterator[None]:
    """Do the same from the file's bare records."""
    with path.open("rb") as file:
        read = StreamReader(file, validate_crcs=True).records
        yield from _decoded(record for record in read if isinstance(record, Message))


def _decoded(read: Iterable[Message]) -> Iterator[None]:
    for number, message in enumerate(read, 1):
        _frames(message.data)
        if number % _SLICE == 0:
            yield


def _frames(payload: bytes) -> int:
    if payload.startswith(b"{"):
        return 0
    said = _decode(payload)
    if "frames" not in said:
        return 0
    return len(np.frombuffer(said["frames"], "<f4").reshape(-1, said["channels"]))


def replay(path: Path, setup: Setup) -> Iterator[None]:
    """Run the whole measurement over a recording, as the program does; pause after each batch."""
    recording = read_recording(path)
    mounds = Mounds(setup)
    for batch in recording.batches():
        mounds.receive_many(batch)
        yield
    mounds.finish()
