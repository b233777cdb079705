"""A live feed of an invented session in which anything may be bad, through one core."""

from __future__ import annotations

import contextlib
import random
from collections.abc import Iterator
from typing import Any

import msgspec

from benchmarks.fuzz_mutations import OF_MESSAGES
from benchmarks.fuzz_oracle import Broken, check_outputs, check_snapshot, is_valid_force
from simulators.feed import Device, messages, packed
from simulators.scenario import Plan, compose
from stream import actions
from stream.actions import decode_action, encode_action
from stream.files import load_layout
from stream.monitor import protocol
from stream.outputs import Fault
from stream.pipeline import Pipeline
from stream.recording.content import device_time
from stream.snapshot import decode_snapshot, encode_snapshot
from stream.wire import Packet, WireError, parse_topic

SOURCE = "mound-a"
#: Of the messages, so many are bad; the others keep the core in the middle of things.
BAD = 0.8
_KINDS = ("force", "speed", "operator", "pitch", "event", "health", "session", "other")
_LOOK_EVERY = 200
_MOST_KEPT = 4000
#: Beyond what the core takes at all, and what is mutated further (else sizes explode).
_LARGEST_BYTES = 20 * 1024 * 1024
_LARGEST_KEPT_BYTES = 64 * 1024


class MessageFuzz:
    """One message after the other; :meth:`one` says what became of it."""

    def __init__(self, seed: int) -> None:
        self.rng = random.Random(seed)
        self.layout = load_layout("two-plates")
        scenario = compose(Plan(seed=seed, pitches=3, pitchers=1, quick=True), self.layout.deck)
        epoch = 1_700_000_000_000_000_000
        self._good = [
            Packet(sent.topic, sent.payload, sent.host_ns)
            for sent in (
                packed(item, epoch)
                for item in messages(scenario, self.layout, Device(), None, epoch)
            )
        ]
        self._good += [self._action(action) for action in _ACTIONS]
        self._kept: list[Packet] = []
        self.number = 0
        self.kept = 0
        self.last = b""
        self.pitches = 0
        self._begin()

    def one(self) -> str:
        """Push one message through; raise for whatever must not be."""
        if self._left < 2:
            self.pitches += check_outputs(self._core.finish())
            self._begin()
        self.number += 1
        packet = self._next()
        self.last = bytes(packet.payload)
        counters, rejected = self._core.continuity.counters, self._core.watchman.rejected
        frames, refused = counters.frames, rejected.total()
        outputs = self._core.receive_many((packet,))
        self.pitches += check_outputs(outputs)
        more = counters.frames > frames
        if more and not is_valid_force(self.last, SOURCE):
            raise Broken("frames were taken from what is no force message")
        if rejected.total() - refused not in (0, 1):
            raise Broken("one message was refused twice")
        if rejected.total() > refused and not any(isinstance(o, Fault) for o in outputs):
            raise Broken("a message was refused and nothing was said")
        if self.number % _LOOK_EVERY == 0:
            self._look(packet.received_ns)
        self._other_readers(packet)
        if more:
            return "taken"
        return "refused and counted" if rejected.total() > refused else "no new frames"

    def keep(self) -> None:
        """The last message reached something new: mutate it further."""
        self.kept += 1
        if len(self._kept) < _MOST_KEPT and len(self._packet.payload) <= _LARGEST_KEPT_BYTES:
            self._kept.append(self._packet)

    def _begin(self) -> None:
        """Start the feed again into a new core, in half of the lives with less that is bad."""
        self._feed: Iterator[Packet] = iter(self._good)
        self._left = len(self._good)
        self._bad = BAD * self.rng.choice((1.0, 0.02))
        self._core = Pipeline(SOURCE, self.layout)
        self._packet = self._good[0]

    def _next(self) -> Packet:
        rng = self.rng
        packet = self._good_one()
        if rng.random() < self._bad:
            match rng.randrange(12):
                case 0:  # lost: the next one comes instead
                    packet = self._good_one()
                case 1:  # again
                    packet = self._packet
                case 2:  # any other, out of order
                    packet = rng.choice(self._good)
                case 3:  # on another topic
                    packet = msgspec.structs.replace(packet, topic=self._topic())
                case 4 if self._kept:
                    packet = rng.choice(self._kept)
                case _:
                    base = rng.choice(self._kept) if self._kept and rng.random() < 0.3 else packet
                    payload = rng.choice(OF_MESSAGES)(rng, bytes(base.payload))
                    if rng.random() < 0.2:
                        payload = rng.choice(OF_MESSAGES)(rng, payload)
                    payload = payload[:_LARGEST_BYTES]
                    packet = Packet(base.topic, payload, packet.received_ns)
        self._packet = packet
        return packet

    def _good_one(self) -> Packet:
        self._left -= 1
        return next(self._feed)

    def _topic(self) -> str:
        rng = self.rng
        name = rng.choice((SOURCE, SOURCE, "mound-b", "", "a/b", "x" * 65, "\x00", "#", "+"))
        root = rng.choice(("moundfeed", "moundfeed", "moundfeed", "", "other"))
        return f"{root}/{name}/{rng.choice(_KINDS)}"

    def _look(self, now_ns: int) -> None:
        check_outputs(self._core.tick(now_ns + self.rng.choice((0, 10**9, 10**12, -(10**12)))))
        snapshot = self._core.snapshot(now_ns)
        check_snapshot(snapshot)
        encode_snapshot(snapshot)
        msgspec.json.encode(self._core.health(now_ns))

    def _other_readers(self, packet: Packet) -> None:
        """Whoever else reads what strangers send: each refuses with its own error alone."""
        payload: Any = packet.payload
        with contextlib.suppress(WireError):
            parse_topic(packet.topic)
        device_time(payload, 0)
        with contextlib.suppress(WireError):
            decode_action(payload)
        for kind in (protocol.Ask, protocol.Alive, protocol.CaughtUp, protocol.Told):
            with contextlib.suppress(msgspec.DecodeError):
                protocol.decode(payload, kind)
        with contextlib.suppress(msgspec.DecodeError):
            decode_snapshot(payload)

    @staticmethod
    def _action(action: actions.Action) -> Packet:
        return Packet(f"moundfeed/{SOURCE}/operator", encode_action(action), 0)


_ACTIONS: tuple[actions.Action, ...] = (
    actions.ChoosePitcher(source=SOURCE, t_ns=1, pitcher="P01"),
    actions.Void(source=SOURCE, t_ns=1, number=1, reason="slipped"),
    actions.Restore(source=SOURCE, t_ns=1, number=1),
    actions.Note(source=SOURCE, t_ns=1, number=1, text="high"),
    actions.EnterSpeed(source=SOURCE, t_ns=1, number=1, speed_mps=38.0),
    actions.Reassign(source=SOURCE, t_ns=1, number=1, pitcher="P02"),
    actions.TakeZero(source=SOURCE, t_ns=1, by="operator"),
)
