"""The set-up check of a live feed on the screen, with a monitor of its own or a session's."""

from __future__ import annotations

import argparse
import os
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from tui.commands.connection import connection_options
from tui.commands.errors import RunFailed
from tui.commands.screen import run_screen, units_of

if TYPE_CHECKING:
    from stream.checks.plan import Plan
    from stream.layout import Layout
    from stream.monitor.plan import Plan as MonitorPlan
    from stream.settings import Settings
    from stream.snapshot import CheckMade
    from tui.check_app import CheckApp


def check_on_screen(
    arguments: argparse.Namespace, plan: Plan, layout: Layout, settings: Settings | None
) -> CheckMade | None:
    """Guide through the check; return what it found, None if it was left before it was done.

    A session's monitor that runs already makes the check; else one is started
    and ends with the screen.
    """
    from stream.monitor.presence import RuntimeFolderError, find, runtime_folder
    from stream.monitor.process import MonitorError, start_monitor, stop_monitor

    session: Path | None = arguments.session
    try:
        runtime = runtime_folder(session if session else f"check-{os.getpid()}")
        running = find(runtime) is not None
        if not running:
            start_monitor(_monitor(arguments, layout, settings), runtime)
        try:
            return run_screen(lambda: _opened(arguments, plan, layout, runtime)).made
        finally:
            if not running:
                stop_monitor(runtime)
    except (MonitorError, RuntimeFolderError) as error:
        raise RunFailed(str(error)) from error


@asynccontextmanager
async def _opened(
    arguments: argparse.Namespace, plan: Plan, layout: Layout, runtime: Path
) -> AsyncIterator[CheckApp]:
    from stream.monitor.viewer import ViewerLink
    from tui.check_app import CheckApp

    async with ViewerLink(runtime, source=arguments.source) as link:
        yield CheckApp(link, layout, plan, units_of(arguments), arguments.look)


def _monitor(
    arguments: argparse.Namespace, layout: Layout, settings: Settings | None
) -> MonitorPlan:
    from stream.files import settings_text
    from stream.monitor.plan import Plan as MonitorPlan

    session: Path | None = arguments.session
    return MonitorPlan(
        feed=arguments.feed,
        layout=layout.origin_text,
        settings="" if settings is None else settings_text(settings),
        options=connection_options(arguments),
        session=None if session is None else str(session.absolute()),
        owner=os.getpid(),
    )
