"""A cable that can be pulled or made slow: passes TCP bytes on until it is cut."""

from __future__ import annotations

import asyncio

from tests.transport.waiting import free_port


class Cable:
    """Listens on ``port`` and passes everything on to ``to``."""

    def __init__(self, to: int) -> None:
        self.port = free_port()
        self.connections = 0
        #: How much it carries each way; None: all there is.
        self.bytes_per_s: float | None = None
        self._to = to
        self._server: asyncio.Server | None = None
        self._writers: list[asyncio.StreamWriter] = []

    async def plug(self) -> None:
        self._server = await asyncio.start_server(self._pass_on, "127.0.0.1", self.port)

    async def cut(self) -> None:
        """Cut it, in both directions and without a farewell."""
        assert self._server is not None
        self._server.close()
        for writer in self._writers:
            writer.transport.abort()
        self._writers.clear()

    async def _pass_on(self, near: asyncio.StreamReader, back: asyncio.StreamWriter) -> None:
        self.connections += 1
        far, there = await asyncio.open_connection("127.0.0.1", self._to)
        self._writers += [back, there]
        await asyncio.gather(self._pump(near, there), self._pump(far, back))

    async def _pump(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        try:
            while data := await reader.read(16384):
                if self.bytes_per_s is not None:
                    await asyncio.sleep(len(data) / self.bytes_per_s)
                writer.write(data)
                await writer.drain()
        except OSError:
            pass
        finally:
            writer.close()
