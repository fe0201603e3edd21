"""`lightoff serve` and `lightoff demo`: a shop's pages on this computer."""

from __future__ import annotations

import contextlib
import gc
import os
import signal
import socket
import sys
from pathlib import Path
from typing import NoReturn

import click

from lightoff.cli.reading import moment
from lightoff.cli.telling import say
from lightoff.ground.errors import Refusal
from lightoff.ground.message import message
from lightoff.texts import Speaker
from lightoff.work.workshop import INVENTED, open_shop

_EVERYWHERE = ("0.0.0.0", "::")
_ALWAYS = ("127.0.0.1", "localhost")
_BACKLOG = 128
# A list is read longer than the first before anything of it is opened; who asks nothing for as long as the
# second has gone to work. Judgement, no source.
_QUIET_S = (0.5, 20.0)


def serve(shop: Path, *, host: str, port: int, hosts: tuple[str, ...]) -> None:
    """Serve a shop until Ctrl-C."""
    import uvicorn

    from lightoff.web.app import create_app, end

    speaker = Speaker()
    with _listening(host, port) as listener, open_shop(shop) as workshop:
        for problem in workshop.shelf.problems:
            say(speaker.say(problem.message))
        app = create_app(workshop, allowed_hosts=(*_ALWAYS, *_names(host), *hosts), quiet_s=_QUIET_S)
        config = uvicorn.Config(app, log_level="warning", access_log=False, server_header=False)
        taken = listener.getsockname()[1]
        if port not in (0, taken):
            click.echo(speaker.text("cli.port_taken", port=str(port)))
        shown = "127.0.0.1" if host in _EVERYWHERE else host
        address = f"http://{f'[{shown}]' if ':' in shown else shown}:{taken}"
        click.echo(speaker.text("cli.serving", address=address))
        if host in _EVERYWHERE:
            click.echo(speaker.text("cli.whole_network"))
        sys.stdout.flush()
        # What stands now stands to the end: looking through it all for garbage takes 0.1 s each time.
        gc.freeze()
        signal.signal(signal.SIGTERM, _end)
        with contextlib.suppress(KeyboardInterrupt):
            uvicorn.Server(config).run(sockets=[listener])
        with contextlib.suppress(KeyboardInterrupt):  # who asks twice will not wait
            end(app)
    click.echo(speaker.text("cli.ended"))


def demo(folder: Path | None, *, fresh: bool, host: str, port: int, hosts: tuple[str, ...]) -> None:
    """Serve the invented shop, made where it is missing."""
    place = folder or data_folder() / "demo-shop"
    speaker = Speaker()
    if fresh or not (place / INVENTED).is_file():
        # Slow to load, and made once.
        from lightoff.work.judge_shop import judge_shop
        from lightoff.work.make_demo_shop import make_demo_shop

        click.echo(speaker.text("cli.making_demo", path=str(place)))
        make_demo_shop(place, moment(), fresh=fresh)
        with open_shop(place, create=False) as workshop:
            judge_shop(workshop, moment())
    click.echo(speaker.text("cli.demo"))
    serve(place, host=host, port=port, hosts=hosts)


def data_folder() -> Path:
    """Where this user's programs keep their data, by the custom of the system."""
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local") / "lightoff"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "lightoff"
    return Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share") / "lightoff"


def _listening(host: str, port: int) -> socket.socket:
    """A socket on the port, or on a free one where that is taken. Raises Refusal."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    for attempt in dict.fromkeys((port, 0)):
        # Named TCP, so that asyncio sends small packets at once; else an answer waits 40 ms for a receipt.
        listener = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        if os.name == "posix":
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((host, attempt))
            listener.listen(_BACKLOG)
        except OSError as trouble:
            listener.close()
            reason = trouble.strerror or str(trouble)
        else:
            return listener
    raise Refusal(message("cli.cannot_listen", host=host, reason=reason), field="host")


def _names(host: str) -> tuple[str, ...]:
    """Names under which browsers of the network reach this computer."""
    if host not in _EVERYWHERE:
        return (host,)
    name = socket.gethostname()
    try:
        found = {str(each[4][0]) for each in socket.getaddrinfo(name, None)}
    except OSError:
        found = set()
    return (name, f"{name}.local", *sorted(found))


def _end(*_: object) -> NoReturn:
    """A polite request to end is what Ctrl-C is."""
    raise KeyboardInterrupt
