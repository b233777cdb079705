"""The zero with which a recording's measurement begins."""

from __future__ import annotations

from analysis.exports.errors import ExportError
from analysis.exports.frames import FrameReader
from stream.layout import Layout
from stream.pipeline import Pipeline
from stream.recording.reader import Recording
from stream.recording.replay import setup_of


def first_zero(recording: Recording, layout: Layout, source: str | None) -> tuple[float, ...]:
    """Return the zero with which the measurement of ``recording`` begins, raw units (channels,).

    It is the zero that was in force when the recording began, or else that of the first quiet
    second of each side of the deck.
    """
    setup = setup_of(recording, layout=layout)
    if setup.start.tare is not None:
        return setup.start.tare
    core: Pipeline | None = None
    reader = FrameReader(recording, setup.layout, source)
    for packet in recording.packets():
        if not reader.is_force(packet):
            continue
        core = core or Pipeline(reader.source or "", setup.layout, setup.settings)
        core.receive(packet)
        zero = core.zero.whole_reference
        if zero is not None:
            return tuple(zero.tare.tolist())
    raise ExportError(
        f"{recording.path.name} has no quiet second on an empty deck from which a zero could be "
        "taken; leave --tare out"
    )
