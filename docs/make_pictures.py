"""Makes the README's pictures from the demo: ``python -m docs.make_pictures``.

The invented session of ``moundfeed demo`` is simulated to a recording and run
through the core into the screens that a user sees; each is then written as it
stands. Nothing is drawn by hand.
"""

from __future__ import annotations

import asyncio
import re
import tempfile
from collections.abc import Iterator
from pathlib import Path

from textual.app import App

from analysis.sessions.stored import read_session
from stream.monitor.view import LocalLink
from stream.outputs import Pitch
from stream.recording.reader import read_recording
from stream.recording.replay import Mounds, setup_of
from tui.app import MoundfeedApp
from tui.commands.main import main
from tui.notices import DEMO_NOTICE
from tui.review.app import ReviewApp

PICTURES = Path(__file__).with_name("pictures")
SIZE = (120, 40)
#: The picture is taken so long after the foot contact of this pitch.
PITCH = 18
AFTER_S = 3.0
_LONGEST_S = 120.0


class Demo:
    """The demo's session in a recording, in a session folder, and up to a pitch on a link."""

    def __init__(self, folder: Path) -> None:
        recording = folder / "demo.mcap"
        session = folder / "demo"
        demo = ["--layout", "two-plates", "--seed", "1", "--pitchers", "1", "--quick"]
        run("simulate", "--to", str(recording), *demo, "--pitches", str(PITCH + 2))
        run("replay", str(recording), "--session", str(session))
        self.session = session
        self.recording = read_recording(recording)
        self.setup = setup_of(self.recording)
        self.link = LocalLink(clock=lambda: 0.0)

    def play(self) -> Iterator[None]:
        """Feed the link up to the picture; yield once a second of the session."""
        mounds = Mounds(self.setup)
        until_ns: int | None = None
        second = 0
        for packet in self.recording.packets():
            outputs = mounds.receive_many([packet])
            self.link.feed(outputs)
            if any(isinstance(o, Pitch) and o.record.number == PITCH for o in outputs):
                until_ns = packet.received_ns + round(AFTER_S * 1e9)
            over = until_ns is not None and packet.received_ns >= until_ns
            if over or packet.received_ns // 10**9 != second:
                second = packet.received_ns // 10**9
                for core in mounds.cores.values():
                    self.link.show(core.snapshot(packet.received_ns))
                yield
            if over:
                return
        raise RuntimeError(f"the demo's session has no pitch {PITCH}")


async def live(demo: Demo) -> None:
    """Draw the coach's and the operator's screen."""
    app = MoundfeedApp(demo.link, demo.setup.layout, demo.setup.roster, notice=DEMO_NOTICE)
    async with app.run_test(size=SIZE) as pilot:
        for _ in demo.play():
            app.pull()
            app.remember()
        await pilot.pause()
        keep(app, "coach")
        await pilot.press("d")
        await pilot.pause()
        app.pull()
        await pilot.pause()
        keep(app, "operator")


async def stored(demo: Demo) -> None:
    """Draw the review of the same session, with its curves."""
    app = ReviewApp([read_session(demo.session)])
    async with app.run_test(size=(160, 46)) as pilot:
        for _ in range(round(_LONGEST_S / 0.2)):
            await pilot.pause(0.2)
            if not app.reading.busy:
                break
        await pilot.press("end")
        await pilot.pause(0.5)
        keep(app, "review")


def keep(app: App[None], name: str) -> None:
    """Write the screen as an SVG that asks nobody for anything."""
    picture = app.export_screenshot()
    for left_out in (r"@font-face \{.*?\}", r"<circle[^>]*/>", r"<!--.*?-->"):
        picture = re.sub(left_out, "", picture, flags=re.DOTALL)
    (PICTURES / f"{name}.svg").write_text(picture.replace("Fira Code", "ui-monospace"))


def run(*words: str) -> None:
    """Run one of the program's commands."""
    if main(words):
        raise RuntimeError(f"moundfeed {' '.join(words)} failed")


if __name__ == "__main__":
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as made:
        invented = Demo(Path(made))
        asyncio.run(live(invented))
        asyncio.run(stored(invented))
