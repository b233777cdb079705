"""The file is MCAP as its open specification has it: the library's own readers agree with ours."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from mcap.reader import make_reader
from mcap.records import Message
from mcap.stream_reader import StreamReader
from mcap.writer import CompressionType, Writer

from stream.recording.container import Container, seal
from stream.recording.head import RecordingError
from stream.recording.plain import PlainWriter
from stream.recording.reader import read_recording
from stream.wire import Packet
from tests.recording.feed import EPOCH_NS, FORCE, packets


def write_plain(path: Path, sent: list[Packet]) -> None:
    with PlainWriter(path, layout_text="name = 'x'\n", roster_csv="pitcher\nP01\n") as writer:
        for packet in sent:
            writer.write(packet)


def test_library_reads_what_we_write(tmp_path: Path) -> None:
    sent = packets(300)
    path = tmp_path / "a.mcap"
    write_plain(path, sent)
    with path.open("rb") as file:
        reader = make_reader(file, validate_crcs=True)
        read = [
            Packet(channel.topic, message.data, message.log_time)
            for _, channel, message in reader.iter_messages()
        ]
        summary = reader.get_summary()
        metadata = {m.name: m.metadata for m in reader.iter_metadata()}
        assert reader.get_header().profile == "moundfeed"
    assert read == sent
    assert summary is not None
    assert summary.statistics is not None
    assert summary.statistics.message_count == 300
    assert summary.statistics.message_start_time == EPOCH_NS
    assert metadata["layout"] == seal("layout", {"toml": "name = 'x'\n"})
    # The stream reader tests the checksum of the whole data section too.
    with path.open("rb") as file:
        records = list(StreamReader(file, validate_crcs=True).records)
    messages = [r for r in records if isinstance(r, Message)]
    assert [m.data for m in messages] == [p.payload for p in sent]
    assert [m.publish_time for m in messages] == [p.received_ns - EPOCH_NS for p in sent]
    assert [m.sequence for m in messages] == list(range(300))


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["force", "speed", "operator", "pitch"]),
            st.binary(max_size=300),
            st.integers(-(2**63), 2**64),
        ),
        max_size=40,
    ),
    st.integers(1, 2000),
)
def test_any_messages_cut_into_any_chunks_come_back(
    messages: list[tuple[str, bytes, int]], chunk_bytes: int
) -> None:
    container = Container()
    parts = [container.head({"a": {"k": "v"}})]
    for kind, payload, time_ns in messages:
        container.add(f"moundfeed/m/{kind}", payload, time_ns, time_ns)
        if container.open_bytes >= chunk_bytes:
            parts.append(container.chunk())
    parts += [container.chunk(), container.tail()]
    data = b"".join(parts)
    records = StreamReader(BytesIO(data), validate_crcs=True).records
    read = [(m.data, m.log_time) for m in records if isinstance(m, Message)]
    assert read == [(p, min(max(t, 0), 2**64 - 1)) for _, p, t in messages]


@pytest.mark.parametrize("chunked", [True, False])
@pytest.mark.parametrize("compression", [CompressionType.NONE, CompressionType.ZSTD])
def test_a_file_of_the_librarys_own_writer_is_read(
    tmp_path: Path, chunked: bool, compression: CompressionType
) -> None:
    sent = packets(200)
    path = tmp_path / "foreign.mcap"
    with path.open("wb") as file:
        writer = Writer(file, chunk_size=4096, compression=compression, use_chunking=chunked)
        writer.start()
        writer.add_metadata("layout", {"toml": "name = 'x'"})
        schema = writer.register_schema("any", "", b"")
        channel = writer.register_channel(FORCE, "msgpack", schema)
        other = writer.register_channel("camera/1", "json", schema)
        for packet in sent:
            t = packet.received_ns
            writer.add_message(other, t, b"{}", t)
            writer.add_message(channel, t, bytes(packet.payload), t)
        writer.finish()  # type: ignore[no-untyped-call]  # the library leaves it untyped
    recording = read_recording(path)
    assert recording.metadata == {"layout": {"toml": "name = 'x'"}}
    assert list(recording.packets()) == sent
    assert not recording.truncated
    assert recording.report.damage == []
    assert recording.report.unchecked == (0 if chunked else 200)


def test_what_is_no_recording_is_said_in_a_sentence(tmp_path: Path) -> None:
    path = tmp_path / "notes.mcap"
    path.write_bytes(b"")
    with pytest.raises(RecordingError, match=r"notes\.mcap is empty"):
        read_recording(path)
    path.write_bytes(b"a picture, say" * 100)
    with pytest.raises(RecordingError, match="is not a recording"):
        read_recording(path)


def test_a_recording_is_never_written_over(tmp_path: Path) -> None:
    path = tmp_path / "a.mcap"
    write_plain(path, packets(3))
    with pytest.raises(FileExistsError):
        write_plain(path, packets(3))
