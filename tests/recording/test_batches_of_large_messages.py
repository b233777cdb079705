"""A recording of large messages is read in many batches, so that it is never in memory whole."""

from pathlib import Path

import numpy as np

from stream.recording.container import Container
from stream.recording.reader import read_recording

TOPIC = "moundfeed/mound-a/force"
MEGABYTE = 1024 * 1024


def test_no_batch_holds_more_than_some_megabytes(tmp_path: Path) -> None:
    path, container = tmp_path / "large.mcap", Container()
    noise = np.random.default_rng(1)
    sent = [noise.bytes(MEGABYTE) for _ in range(16)]
    with path.open("wb") as file:
        file.write(container.head({}))
        for number, payload in enumerate(sent):
            container.add(TOPIC, payload, number, number)
            file.write(container.chunk())
        file.write(container.tail())
    batches = list(read_recording(path).batches())
    assert [p.payload for batch in batches for p in batch] == sent
    assert max(sum(len(p.payload) for p in batch) for batch in batches) <= 5 * MEGABYTE
