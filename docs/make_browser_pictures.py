"""Makes the pictures of docs/browser.md: ``python -m docs.make_browser_pictures``.

The demo's invented session up to a pitch is held as a monitor holds it, a real
``moundfeed serve`` shows it, and a headless chromium of the size of a tablet
and of a phone takes the pictures. Nothing is drawn by hand.
"""

from __future__ import annotations

import asyncio
import io
import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import zmq.asyncio
from PIL import Image

from docs.headless import Page, opened, running
from docs.make_pictures import PICTURES, PITCH, Demo
from stream.monitor.compose import endpoints, presence_of
from stream.monitor.link import ViewServer
from stream.monitor.presence import announce, claim, runtime_folder
from stream.outputs import Pitch
from stream.snapshot import Level, Sentence

#: Names and sizes in points: a tablet that lies, a phone that stands and one that lies.
SIZES = {"tablet": (1024, 768), "phone": (390, 844), "phone-lying": (844, 390)}
_COLOURS = 64
_BEAT_S = 0.05


async def held(demo: Demo, folder: Path, done: asyncio.Event) -> None:
    """Be a monitor for ``folder`` that shows the demo's session as it stands."""
    latest = demo.link.latest
    assert latest is not None
    with claim(folder) as file, zmq.asyncio.Context() as context:
        server = ViewServer(context, endpoints(folder))
        announce(file, presence_of(folder, ""))
        server.take([Pitch(v.record, v.traces) for v in demo.link.pitches if v.traces is not None])
        task = asyncio.create_task(server.run())
        said = [Sentence(Level.INFO, "connection", "Connected.")]
        while not done.is_set():
            server.alive([latest.source], said)
            if server.wants_picture(latest.source):
                server.show(latest)
            await asyncio.sleep(_BEAT_S)
        task.cancel()
        await asyncio.wait({task})
        server.close()


@contextmanager
def served(session: Path) -> Iterator[str]:
    """Run ``moundfeed serve`` and give its link."""
    words = [sys.executable, "-m", "tui.commands.main", "serve", "--session", str(session)]
    with subprocess.Popen([*words, "--port", "0"], stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            for line in process.stdout:
                if found := re.search(r"https?://\S+\?key=\S+", line):
                    yield found[0]
                    break
        finally:
            process.terminate()


async def taken(page: Page, size: tuple[int, int]) -> bytes:
    """Return the page at ``size`` as soon as two pictures of it are the same."""
    await page.size(*size)
    await asyncio.sleep(3.0)  # a phone's page opens anew with smaller letters
    await page.until_drawn(f"PITCH {PITCH}", "LANDING")
    before = b""
    while (picture := await page.picture()) != before:
        before = picture
        await asyncio.sleep(1.0)
    return picture


def keep(picture: bytes, name: str) -> None:
    """Write a picture with as few colours as its screen needs."""
    image = Image.open(io.BytesIO(picture)).convert("RGB").quantize(_COLOURS)
    image.save(PICTURES / f"browser-{name}.png", optimize=True)


async def make(folder: Path) -> None:
    """Make all pictures, with ``folder`` for what is needed meanwhile."""
    demo = Demo(folder)
    for _ in demo.play():
        pass
    session, done = demo.session, asyncio.Event()
    monitor = asyncio.create_task(held(demo, runtime_folder(session), done))
    with running(folder) as port, served(session) as link:
        async with opened(port) as page:
            for name, size in SIZES.items():
                await page.size(*size)
                await page.open(link)
                keep(await taken(page, size), name)
    done.set()
    await monitor


if __name__ == "__main__":
    with tempfile.TemporaryDirectory(prefix="mf-") as made:
        os.environ["XDG_RUNTIME_DIR"] = made
        asyncio.run(make(Path(made)))
