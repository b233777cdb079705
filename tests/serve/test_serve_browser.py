"""The page in a real headless browser, in front of a real ``moundfeed serve``."""

from __future__ import annotations

import asyncio
import contextlib
import io
import os
import signal
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image

from docs.headless import Page, opened, running
from stream.monitor.presence import runtime_folder
from tests.monitor.test_monitor_link import serving
from tests.screens.invented import pitch, session
from tests.serve.serving import served
from tests.transport.waiting import eventually
from tui.palette import LOOKS


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[int]:
    with running(tmp_path_factory.mktemp("browser")) as port:
        yield port


@pytest.fixture
def folder(tmp_path: Path, short_folder: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(short_folder))
    return tmp_path / "session"


def viewers(process: subprocess.Popen[str]) -> list[int]:
    """Return the processes of the viewers of a server."""
    told = Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text()
    return [int(pid) for pid in told.split()]


def share(picture: bytes, colour: str) -> float:
    """Return which share of a picture has a colour."""
    image = Image.open(io.BytesIO(picture)).convert("RGB")
    wanted = tuple(int(colour[i : i + 2], 16) for i in (1, 3, 5))
    seen = {c: n for n, c in image.getcolors(image.width * image.height) or ()}
    return seen.get(wanted, 0) / (image.width * image.height)


async def look_well(page: Page, width: int, height: int, look: str, folder: Path) -> None:
    """The page is full of the screen, in its colours, and nothing of it went wrong.

    The last picture is kept beside ``folder`` for whoever wants to see it.
    """
    await page.until_drawn("FEED", "looking on", "PITCH 12", "PUSH-OFF", "LANDING", "Deck", "Help")
    await page.until("getComputedStyle(document.getElementById('note')).display === 'none'")
    for axis, length in (("Width", width), ("Height", height)):
        assert await page.value(f"document.documentElement.scroll{axis}") == length
        await page.until(
            f"Math.abs({length} - 12 - document.querySelector('.xterm-screen').offset{axis}) <= 12"
        )
    colours = LOOKS[look]
    for colour, least in ((colours.ground, 0.4), (colours.ink, 0.01), (colours.drive, 0.00002)):
        for _ in range(50):
            picture = await page.picture()
            folder.with_name(f"{width}x{height}.png").write_bytes(picture)
            if share(picture, colour) >= least:
                break
        else:
            raise AssertionError(f"too little of {colour} on the page")
    assert not page.said, page.said


async def test_a_tablet_lying_and_turned_round_and_a_phone(browser: int, folder: Path) -> None:
    async with serving(runtime_folder(folder)) as monitor, opened(browser) as page:
        monitor.view.take(session(12))
        with served(folder, "--port", "0") as (link, _):
            await page.size(1024, 768)
            await page.open(link)
            await look_well(page, 1024, 768, "dark", folder)
            await page.size(768, 1024)
            await look_well(page, 768, 1024, "dark", folder)
            await page.size(390, 844)  # smaller letters: the page opens anew by itself
            await page.until("document.getElementById('terminal').dataset.fontSize === '8'")
            await look_well(page, 390, 844, "dark", folder)
            own = link.split("?")[0]
            there = [a for a in page.requested if a.startswith(("http", "ws"))]
            assert {a.replace("ws:", "http:")[: len(own)] for a in there} == {own}
            assert await page.value("location.href") == own
            assert not await page.value("document.cookie"), "no script sees the key"


async def test_on_a_desk_in_daylight_until_it_is_stopped(browser: int, folder: Path) -> None:
    async with serving(runtime_folder(folder)) as monitor, opened(browser) as page:
        monitor.view.take(session(12))
        with served(folder, "--port", "0", "--look", "light") as (link, process):
            await page.size(1440, 900)
            await page.open(link)
            await look_well(page, 1440, 900, "light", folder)
            process.send_signal(signal.SIGINT)
            await eventually(lambda: process.poll() is not None)
            assert process.returncode == 0


async def test_keys_and_taps_change_the_screen_and_nothing_else(browser: int, folder: Path) -> None:
    async with serving(runtime_folder(folder)) as monitor, opened(browser) as page:
        acted: list[object] = []
        monitor.view.act = acted.append
        monitor.view.take(session(12))
        with served(folder, "--port", "0") as (link, process):
            await page.size(1024, 768)
            await page.open(link)
            await page.until_drawn("PITCH 12", "Help")
            for key in "pvsnuazq":
                await page.press(key)
            await page.press("d")
            await page.until_drawn("WHAT TO DO", "RECORDING")
            bottom = int(await page.value("document.querySelector('.xterm-screen').offsetHeight"))
            page.forget()
            # The row of keys is made anew with the screen; a tap in that moment meets nothing.
            for _ in range(20):
                await page.click(12, bottom - 8)  # the first key in the last row
                with contextlib.suppress(TimeoutError):
                    async with asyncio.timeout(5):
                        await page.until_drawn("PUSH-OFF")
                        break
            await page.until_drawn("PUSH-OFF")
            assert await page.value(
                "document.querySelector('.xterm-helper-textarea').inputMode"
            ) == "none", "a tap brings up no keyboard"  # fmt: skip
            assert len(viewers(process)) == 1, "q ends nothing here"
        assert not acted


async def test_a_page_that_was_cut_off_comes_back_with_every_pitch(
    browser: int, folder: Path
) -> None:
    async with serving(runtime_folder(folder)) as monitor, opened(browser) as page:
        monitor.view.take(session(12))
        with served(folder, "--port", "0") as (link, process):
            await page.size(1024, 768)
            await page.open(link)
            await page.until_drawn("PITCH 12")
            (viewer,) = viewers(process)
            os.kill(viewer, signal.SIGKILL)
            await eventually(lambda: viewer not in viewers(process))
            monitor.view.take([pitch(13), pitch(14)])
            await page.until_drawn("PITCH 14", " 13 P03", " 1 P03")
            (again,) = viewers(process)
            assert again != viewer


async def test_a_server_started_again_has_another_key_and_the_page_says_so(
    browser: int, folder: Path
) -> None:
    async with serving(runtime_folder(folder)) as monitor, opened(browser) as page:
        monitor.view.take(session(12))
        with served(folder, "--port", "0") as (link, process):
            await page.open(link)
            await page.until_drawn("PITCH 12")
            (viewer,) = viewers(process)
            process.kill()
            await eventually(lambda: not Path(f"/proc/{viewer}").exists(), "it ends by itself")
            await page.until("document.body.innerText.includes('does not answer')")
        port = link.split(":")[2].split("/")[0]
        with served(folder, "--port", port):
            await page.until("document.body.innerText.includes('not the right one')")
