"""What a phone shows while the server is away: the worker that keeps pages, and a page for the others."""

from __future__ import annotations

from importlib.resources import files

from starlette.requests import Request
from starlette.responses import FileResponse, Response

from lightoff.web.page import Page
from lightoff.web.rooms import Rooms

rooms = Rooms()


@rooms.get("/worker.js")
def worker(_: Request) -> Response:
    """The worker; it must stand at the root to answer for every page, and is asked for anew each time."""
    path = str(files("lightoff.web").joinpath("static", "worker.js"))
    return FileResponse(path, media_type="text/javascript", headers={"cache-control": "no-cache"})


@rooms.get("/away")
def show_away(request: Request) -> Response:
    """The page that a phone keeps for an address that it has not kept."""
    return Page.of(request).show("away.html")
