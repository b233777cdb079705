"""A feed that comes through an MQTT broker."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncGenerator

from stream.access.address import Address
from stream.access.broker import (
    FIRST_WAIT_S,
    KEPT_FOR_S,
    LONGEST_WAIT_S,
    Broker,
    BrokerTrouble,
)
from stream.access.options import ConnectionOptions
from stream.snapshot import Level, Sentence
from stream.sources.source import CONNECTION, MOST_AT_ONCE, Tell, belongs
from stream.wire import TOPIC_ROOT, Packet, TopicKind


class MqttSource:
    """Subscribes to force and speed; subscribes anew after each connection that broke."""

    def __init__(self, address: Address, options: ConnectionOptions, tell: Tell) -> None:
        self._broker = Broker(address, options)
        self._source = options.source
        self._tell = tell
        self._left_out = 0

    @property
    def address(self) -> str:
        """Where the feed comes from, fit to be shown."""
        return str(self._broker.address)

    @property
    def dropped(self) -> int:
        """Messages dropped because nobody took them in time."""
        return self._broker.inbox.dropped

    @property
    def left_out(self) -> int:
        """Messages that are no force or speed message of a wanted mound."""
        return self._left_out

    async def batches(self) -> AsyncGenerator[list[Packet], None]:
        """Yield what waits now, again and again."""
        mound = self._source or "+"
        topics = [f"{TOPIC_ROOT}/{mound}/{kind}" for kind in (TopicKind.FORCE, TopicKind.SPEED)]
        wait = FIRST_WAIT_S
        while True:
            try:
                async with self._broker.connect(keep_s=KEPT_FOR_S) as connection:
                    await connection.subscribe(topics)
                    self._tell(self._connected())
                    wait = FIRST_WAIT_S
                    while True:
                        came = await connection.take(MOST_AT_ONCE)
                        batch = [p for p in came if belongs(p.topic, self._source)]
                        self._left_out += len(came) - len(batch)
                        if batch:
                            yield batch
            except BrokerTrouble as trouble:
                self._tell(Sentence(Level.ALARM, CONNECTION, str(trouble)))
            await asyncio.sleep(wait)
            wait = min(2 * wait, LONGEST_WAIT_S)

    def _connected(self) -> Sentence:
        if self._broker.unverified:
            text = (
                f"Connected to {self.address} without checking who it is (verify = false in the "
                "connection file): anybody could stand between. Give its certificates instead."
            )
            return Sentence(Level.WARNING, CONNECTION, text)
        return Sentence(Level.INFO, CONNECTION, f"Connected to {self.address}.")
