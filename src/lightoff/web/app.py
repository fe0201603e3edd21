"""The application: one factory, one list of rooms."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import nullcontext
from datetime import UTC, datetime
from importlib.resources import files
from typing import Any

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import FileResponse, PlainTextResponse, Response
from starlette.routing import Mount

from lightoff.web import (
    away,
    conflicts,
    drift,
    due,
    elsewhere,
    entries,
    fault,
    faults,
    heater,
    home,
    labels,
    parts,
    people,
    photos,
    planning,
    report,
    running,
    settings,
    sheets,
    spares,
    visit,
    wear,
)
from lightoff.web.ahead import Ahead
from lightoff.web.gathering import keep_at_end
from lightoff.web.guard import Guard
from lightoff.web.page import House, environment
from lightoff.web.rooms import Rooms
from lightoff.web.static_files import HashedFiles


def clock() -> datetime:
    """The time by this computer."""
    return datetime.now(tz=UTC)


machine = Rooms()


@machine.get("/healthz")
def healthz(request: Request) -> Response:
    """Whether the book answers."""
    request.app.state.house.workshop.book.shop()
    return PlainTextResponse("ok\n")


@machine.get("/favicon.ico")
def favicon(_: Request) -> Response:
    """The mark of the house."""
    mark = files("lightoff.web").joinpath("static", "mark.svg")
    return FileResponse(str(mark), media_type="image/svg+xml")


# "/visits/{id}.toml" must be tried before "/visits/{id}".
ROOMS = (
    away.rooms,
    home.rooms,
    people.rooms,
    sheets.rooms,
    heater.rooms,
    report.rooms,
    fault.rooms,
    elsewhere.rooms,
    visit.rooms,
    conflicts.rooms,
    entries.rooms,
    photos.rooms,
    due.rooms,
    parts.rooms,
    planning.rooms,
    wear.rooms,
    spares.rooms,
    drift.rooms,
    running.rooms,
    labels.rooms,
    settings.rooms,
    machine,
)


def create_app(
    workshop: Any,
    *,
    now: Callable[[], datetime] = clock,
    allowed_hosts: tuple[str, ...] = ("127.0.0.1", "localhost"),
    quiet_s: tuple[float, float] | None = None,
) -> Starlette:
    """The pages of one workshop.

    `now` is the clock; `allowed_hosts` are the Host names answered to; after `quiet_s` without a question
    pages are drawn ahead, those near to what was asked and the others, until `end`.
    """
    ahead = None if quiet_s is None else Ahead(*quiet_s)
    app = Starlette(
        routes=[
            Mount("/static", HashedFiles(packages=[("lightoff.web", "static")]), name="static"),
            *(route for each in ROOMS for route in each.routes),
        ]
    )
    app.state.house = House(workshop=workshop, now=now, environment=environment(), ahead=ahead)
    faults.watch(app)
    app.add_middleware(
        Guard,
        allowed_hosts=allowed_hosts,
        refuse=faults.RefusePlainly(),
        answering=ahead.answering if ahead else nullcontext,
    )
    return app


def end(app: Starlette) -> None:
    """Draws nothing more ahead, and keeps what was worked out of the shop for the next start."""
    house: House = app.state.house
    if house.ahead is not None:
        house.ahead.end()
    keep_at_end(house.workshop)
