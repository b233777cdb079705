"""A recording through the core again: with what it carries, or with what is given instead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from msgspec.structs import replace

from stream.files import FileError, parse_layout, parse_roster, parse_settings
from stream.layout import Layout
from stream.outputs import Output
from stream.pipeline import Pipeline
from stream.recording.reader import Recording
from stream.recording.start import METADATA_NAME, RunStart
from stream.roster import Roster
from stream.settings import Settings
from stream.wire import Packet, parse_topic


@dataclass(frozen=True)
class Setup:
    """What a replay measures with."""

    layout: Layout
    settings: Settings
    roster: Roster
    start: RunStart


def setup_of(
    recording: Recording,
    *,
    layout: Layout | None = None,
    settings: Settings | None = None,
    roster: Roster | None = None,
    pitcher: str | None = None,
) -> Setup:
    """Return what is given, and for the rest what the recording carries.

    Raise :class:`stream.files.FileError` where there is no layout, or where
    the recording's own cannot be used.
    """
    name, said = recording.path.name, recording.metadata
    if layout is None:
        if "layout" not in said:
            raise FileError(f"{name} carries no layout; give one (a file, or a shipped name)")
        layout = parse_layout(said["layout"].get("toml", ""), f"the layout in {name}")
    if settings is None:
        settings = parse_settings(
            said.get("settings", {}).get("toml", ""), f"the settings in {name}"
        )
    if roster is None:
        text = said.get("roster", {}).get("csv")
        roster = Roster() if text is None else parse_roster(text, f"the roster in {name}")
    try:
        start = RunStart.from_metadata(said.get(METADATA_NAME, {}))
    except ValueError as error:
        raise FileError(f"{name}: {error}") from None
    if start.tare is not None and len(start.tare) != layout.channels:
        raise FileError(
            f"{name} begins with a zero of {len(start.tare)} channels, the layout has "
            f"{layout.channels}"
        )
    if pitcher is not None:
        start = replace(start, pitcher=pitcher)
    return Setup(layout, settings, roster, start)


class Mounds:
    """One core a mound, for whatever mounds a recording holds.

    What the run began with (pitcher, number of the first pitch, zero) holds
    for the mound that it names, or for all if it names none. ``never_settled``
    are pitches that the books keep able to be measured anew.
    """

    def __init__(
        self, setup: Setup, only: str | None = None, never_settled: frozenset[int] = frozenset()
    ) -> None:
        self._setup = setup
        self._only = only
        self._never_settled = never_settled
        self._sources: dict[str, str] = {}
        self.cores: dict[str, Pipeline] = {}

    def receive_many(self, packets: Sequence[Packet]) -> list[Output]:
        """Take packets in order of recording; the outputs come mound by mound."""
        topics = {packet.topic for packet in packets}
        sources = {self._source(topic) for topic in topics}
        out: list[Output] = []
        for source in sorted(sources):
            if self._only not in (None, source):
                continue
            own = (
                packets
                if len(sources) == 1
                else [p for p in packets if self._sources[p.topic] == source]
            )
            out += self._core(source).receive_many(own)
        return out

    def finish(self) -> list[Output]:
        """The recording has ended."""
        return [output for core in self.cores.values() for output in core.finish()]

    def _source(self, topic: str) -> str:
        if topic not in self._sources:
            self._sources[topic] = parse_topic(topic)[0]
        return self._sources[topic]

    def _core(self, source: str) -> Pipeline:
        if source not in self.cores:
            setup, start = self._setup, self._setup.start
            if start.source not in ("", source):
                start = RunStart(pitcher=start.pitcher)
            self.cores[source] = Pipeline(
                source,
                setup.layout,
                setup.settings,
                setup.roster,
                pitcher=start.pitcher,
                first_number=start.first_number,
                tare=start.tare,
            )
            self.cores[source].book.never_settled = self._never_settled
        return self.cores[source]
