"""Layouts, settings, rosters, connections, recordings and session folders gone bad."""

from __future__ import annotations

import math
import random
import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from benchmarks.fuzz_mutations import OF_BYTES, OF_TEXTS, Mutation
from benchmarks.fuzz_oracle import Broken, check_outputs
from simulators.feed import Device, messages, packed
from simulators.recorded import record
from simulators.scenario import Plan, compose
from stream.access.options import OptionsError, options_from_mapping, read_options
from stream.files import FileError, load_layout, load_roster, load_settings, shipped_layouts
from stream.layout import Layout
from stream.outputs import NotCountedRecord, PitchRecord
from stream.pipeline import Pipeline
from stream.recording.head import RecordingError
from stream.recording.reader import read_recording
from stream.recording.replay import Mounds, setup_of
from stream.recording.session import Session, SessionError
from stream.wire import Packet

_OWN = (FileError, OptionsError, RecordingError, SessionError)
_EPOCH = 1_700_000_000_000_000_000
#: Messages sent through a layout or settings that were taken.
_TRIED = 60
_MOST_KEPT = 2000
_LARGEST_BYTES = 5_000_000


@dataclass(frozen=True)
class Base:
    """A good file, how it is spoilt and what reads it."""

    kind: str
    data: bytes
    mutations: tuple[Mutation, ...]
    read: Callable[[Path], None]


class FileFuzz:
    """One spoilt file after the other; :meth:`one` says what became of it."""

    def __init__(self, seed: int) -> None:
        self.rng = random.Random(seed)
        self.number = 0
        self.kept = 0
        self.last = b""
        self._folder = tempfile.TemporaryDirectory(prefix="fuzz-")
        self._path = Path(self._folder.name)
        self._kept: list[tuple[Base, bytes]] = []
        layout = load_layout("two-plates")
        self._scenario = compose(Plan(seed=seed, pitches=1, pitchers=1, quick=True), layout.deck)
        sent = [
            packed(item, _EPOCH)
            for item in messages(self._scenario, layout, Device(block=10), None, _EPOCH)
        ]
        self._feed = [Packet(s.topic, s.payload, s.host_ns) for s in sent]
        recording = self._path / "base.mcap"
        record(recording, iter(sent), self._scenario, layout)
        self._bases = self._make_bases(recording.read_bytes(), layout)
        self._now = (self._bases[0], b"")

    def one(self) -> str:
        """Spoil one file and read it; raise for whatever must not be."""
        rng = self.rng
        self.number += 1
        if self._kept and rng.random() < 0.4:
            base, data = rng.choice(self._kept)
        else:
            base = rng.choice(self._bases)
            data = base.data
        for _ in range(rng.choice((1, 1, 2, 3))):
            data = rng.choice(base.mutations)(rng, data)[:_LARGEST_BYTES]
        self._now, self.last = (base, data), data
        path = self._path / f"spoilt.{base.kind}"
        path.write_bytes(data)
        try:
            base.read(path)
        except _OWN as error:
            if not str(error).strip():
                raise Broken(f"a bad {base.kind} was refused without a word") from error
            return f"{base.kind} refused in words"
        return f"{base.kind} read"

    def keep(self) -> None:
        """The last file reached something new: spoil it further."""
        self.kept += 1
        if len(self._kept) < _MOST_KEPT:
            self._kept.append(self._now)

    def _make_bases(self, recording: bytes, layout: Layout) -> list[Base]:
        texts, raw = tuple(OF_TEXTS), tuple(OF_BYTES)
        folder = Path(__file__).parents[1] / "configs"
        bases = [
            Base("toml", file.read_text().encode(), texts, self.check_layout)
            for file in shipped_layouts().values()
        ]
        settings = b"filter_hz = 40.0\ncontact_bw = 0.1\nquiet_sd = 0.015\npitch_stride_m = 0.7\n"
        roster = (folder / "example-roster.csv").read_bytes()
        connection = (folder / "example-connection.toml").read_bytes()
        session = self._path / "session"
        made = Session.create(
            session,
            source="mound-a",
            layout_text=layout.origin_text,
            settings_text="",
            roster=self._scenario.roster,
        )
        core = Pipeline("mound-a", layout)
        outputs = core.receive_many(self._feed) + core.finish()
        for output in outputs:
            found = getattr(output, "record", None)
            if isinstance(found, PitchRecord | NotCountedRecord):
                made.add_record(found)
        made.add_log("tare", {"tare": {"values": [0.0] * 12}}, 1)
        made.close()
        return [
            *bases,
            Base("settings", settings, texts, self._settings),
            Base("csv", roster, texts, _finite_roster),
            Base("connection", connection, texts, self._options),
            Base("mcap", recording, raw, self._recording),
            Base("mcap", recording, raw, self._recording),
            *(
                Base(name, (session / name).read_bytes(), texts, self._session(name))
                for name in ("session.json", "pitches.jsonl", "log.jsonl", "roster.csv")
            ),
        ]

    def check_layout(self, path: Path) -> None:
        layout = load_layout(str(path))
        for platform in layout.platforms:
            if not np.isfinite(platform.to_wrench).all():
                raise Broken(f"platform {platform.name} turns readings into no numbers")
        deck = layout.deck
        if not all(map(math.isfinite, (deck.back, deck.front, deck.half_width, layout.split_x))):
            raise Broken("the deck's size is no number")
        if layout.channels == 12 and self.rng.random() < 0.2:
            check_outputs(Pipeline("mound-a", layout).receive_many(self._some()))

    def _settings(self, path: Path) -> None:
        settings = load_settings(path)
        if self.rng.random() < 0.2:
            core = Pipeline("mound-a", load_layout("two-plates"), settings)
            check_outputs(core.receive_many(self._feed) + core.finish())

    def _some(self) -> list[Packet]:
        start = self.rng.randrange(max(1, len(self._feed) - _TRIED))
        return self._feed[start : start + _TRIED]

    def _options(self, path: Path) -> None:
        options_from_mapping(read_options(path))

    def _recording(self, path: Path) -> None:
        recording = read_recording(path)
        mounds = Mounds(setup_of(recording))
        measure = self.rng.random() < 0.1
        for batch in recording.batches():
            if measure:
                check_outputs(mounds.receive_many(batch))
        if measure:
            check_outputs(mounds.finish())
        recording.report.sentences()

    def _session(self, name: str) -> Callable[[Path], None]:
        def read(path: Path) -> None:
            folder = self._path / "spoilt-session"
            shutil.copytree(self._path / "session", folder, dirs_exist_ok=True)
            shutil.copy(path, folder / name)
            session = Session.open(folder)
            for kept in session.pitches():
                if isinstance(kept, PitchRecord):
                    numbers = [*kept.metrics.values(), *kept.events_s.values()]
                    if not all(n is None or math.isfinite(n) for n in numbers):
                        raise Broken("a pitch of a session has no number")
            session.next_number()
            for _ in session.log():
                pass
            session.close()

        return read


def _finite_roster(path: Path) -> None:
    for pitcher in load_roster(path):
        for value in (pitcher.height_m, pitcher.weigh_in_kg):
            if value is not None and not math.isfinite(value):
                raise Broken("a roster's number is none")
