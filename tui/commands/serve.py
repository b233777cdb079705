"""``moundfeed serve``: the screen of a running monitor in a browser, to look on."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from tui.commands.connection import add_connection_arguments, connection_options
from tui.commands.errors import BadInput, RunFailed
from tui.commands.screen import add_screen_arguments

if TYPE_CHECKING:
    import ssl

    from tui.commands.web_viewer import Look
    from tui.web.server import ScreenServer

_LOOPBACK = ("127.0.0.1", "::1", "localhost")
_ANY = ("0.0.0.0", "::")


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command."""
    parser = subparsers.add_parser(
        "serve",
        help="offer the screen to a browser",
        description="Shows the screen of a running monitor on tablets and phones, in a browser. "
        "Who opens the page needs the link with its key, which is shown once at the start, and "
        "can look on but change nothing. It listens on this computer only unless --host says "
        "otherwise; see docs/browser.md before you do.",
    )
    where = parser.add_argument_group("which monitor")
    where.add_argument("--session", type=Path, metavar="DIR", help="the one of this session")
    where.add_argument(
        "--at", metavar="tcp://HOST:PORT", help="one that was started with --view elsewhere"
    )
    parser.add_argument(
        "--host", default=_LOOPBACK[0], metavar="ADDRESS", help="listen there (127.0.0.1)"
    )
    parser.add_argument("--port", type=int, default=8470, metavar="N", help="(8470)")
    parser.add_argument(
        "--viewers", type=_count, default=8, metavar="N", help="most at one time (8)"
    )
    parser.add_argument("--certificate", metavar="FILE", help="serve https:// with it (PEM)")
    parser.add_argument("--certificate-key", metavar="FILE", help="its private key (PEM)")
    add_connection_arguments(parser)
    add_screen_arguments(parser)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> None:
    """Serve until stopped."""
    import asyncio

    try:
        import textual_serve  # noqa: F401 - only to know whether it is there
    except ImportError:
        raise BadInput("serve needs more packages: pip install '.[web]'") from None
    from tui.commands.web_viewer import command
    from tui.web.access import Access
    from tui.web.server import ScreenServer

    look = _look(arguments)
    tls = _tls(arguments)
    access = Access(secure=tls is not None)
    server = ScreenServer(
        command(look),
        host=arguments.host,
        port=arguments.port,
        access=access,
        most=arguments.viewers,
        look=arguments.look,
        tell=lambda viewers: _say(f"{viewers} of {arguments.viewers} look on"),
        tls=tls,
    )
    asyncio.run(_serve(server, arguments.host, access.key, tls is not None))


async def _serve(server: ScreenServer, host: str, key: str, encrypted: bool) -> None:
    import asyncio
    import signal

    try:
        port = await server.start()
    except OSError as error:
        raise RunFailed(f"{host}:{server.port}: {error.strerror or error}") from None
    stop = asyncio.Event()
    for number in (signal.SIGINT, signal.SIGTERM):
        asyncio.get_running_loop().add_signal_handler(number, stop.set)
    _tell_link(f"http{'s' if encrypted else ''}://{_named(host)}:{port}/?key={key}")
    if host not in _LOOPBACK and not encrypted:
        _say(
            "not encrypted: whoever is on this network can read along. Use a network of your own, "
            "or give --certificate"
        )
    await stop.wait()
    _say("ending; every viewer's screen closes")
    await server.stop()


def _tell_link(link: str) -> None:
    print(f"Open this link in the browser of the tablet:\n\n  {link}\n", flush=True)
    if sys.stdout.isatty():
        import segno

        segno.make(link, micro=False).terminal(compact=True, border=2)
    print("Whoever has the link can look on. Ctrl-C ends it.", flush=True)


def _look(arguments: argparse.Namespace) -> Look:
    """Return what the viewers look at; raise BadInput where there can be nothing."""
    from stream.access.address import parse_address
    from stream.monitor.presence import find, held_elsewhere, is_held, runtime_folder
    from tui.commands.web_viewer import Look

    options = connection_options(arguments)
    session: Path | None = arguments.session
    if (session is None) == (arguments.at is None):
        raise BadInput("whose screen? Give --session DIR or --at tcp://HOST:PORT")
    if session is not None and find(runtime_folder(session)) is None:
        if not (session / "session.json").exists():
            raise BadInput(f"no monitor runs for {session}, and it is no session")
        now = f"no monitor runs for {session} now; viewers see it when one is started"
        _say(held_elsewhere(session) if is_held(session) else now)
    if arguments.at is not None and parse_address(arguments.at).is_mqtt:
        raise BadInput("--at needs the tcp://HOST:PORT of a monitor that was started with --view")
    return Look(
        session=str(session.absolute()) if session else None,
        at=arguments.at,
        keys=options.keys,
        source=options.source,
        units=arguments.units,
        decimal=arguments.decimal,
        look=arguments.look,
    )


def _tls(arguments: argparse.Namespace) -> ssl.SSLContext | None:
    import ssl

    if not arguments.certificate:
        return None
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    try:
        context.load_cert_chain(arguments.certificate, arguments.certificate_key)
    except (OSError, ssl.SSLError) as error:
        raise BadInput(
            f"{arguments.certificate}: the certificate and its key cannot be used ({error})"
        ) from None
    return context


def _named(host: str) -> str:
    """Return the host as others on the network name it."""
    import socket

    if host in _ANY:
        # No packet is sent: it only asks by which address this computer would send one.
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            try:
                probe.connect(("192.0.2.1", 9))
                host = probe.getsockname()[0]
            except OSError:
                host = socket.gethostname()
    return f"[{host}]" if ":" in host else host


def _say(text: str) -> None:
    print(f"moundfeed serve: {text}", file=sys.stderr, flush=True)


def _count(text: str) -> int:
    if not text.isdecimal() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of viewers")
    return int(text)
