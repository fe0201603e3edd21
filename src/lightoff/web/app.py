"""The application: one factory, one list of rooms."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from importlib.metadata import version
from importlib.resources import files
from typing import Any

from fastapi import FastAPI
from fastapi.responses import PlainTextResponse
from starlette.responses import FileResponse

from lightoff.web import (
    away,
    conflicts,
    due,
    elsewhere,
    entries,
    fault,
    faults,
    heater,
    home,
    parts,
    people,
    photos,
    report,
    settings,
    sheets,
    visit,
)
from lightoff.web.guard import Guard
from lightoff.web.page import House, environment
from lightoff.web.static_files import HashedFiles


def clock() -> datetime:
    """The time by this computer."""
    return datetime.now(tz=UTC)


def create_app(
    workshop: Any,
    *,
    now: Callable[[], datetime] = clock,
    allowed_hosts: tuple[str, ...] = ("127.0.0.1", "localhost"),
) -> FastAPI:
    """The pages of one workshop. `now` is the clock; `allowed_hosts` are the Host names answered to."""
    app = FastAPI(
        title="lightoff",
        version=version("lightoff"),
        summary="Readings of a visit in, a judged burn and a report out.",
        docs_url=None,
        redoc_url=None,
    )
    app.state.house = House(workshop=workshop, now=now, environment=environment())
    app.mount("/static", HashedFiles(packages=[("lightoff.web", "static")]), name="static")
    faults.watch(app)
    # "/visits/{id}.toml" must be tried before "/visits/{id}".
    for room in (
        away,
        home,
        people,
        sheets,
        heater,
        report,
        fault,
        elsewhere,
        visit,
        conflicts,
        entries,
        photos,
        due,
        parts,
        settings,
    ):
        app.include_router(room.rooms)

    @app.get("/healthz", response_class=PlainTextResponse, tags=["machine"])
    def healthz() -> str:
        """Whether the book answers."""
        workshop.book.shop()
        return "ok\n"

    @app.get("/favicon.ico", include_in_schema=False)
    def favicon() -> FileResponse:
        """The mark of the house."""
        return FileResponse(
            str(files("lightoff.web").joinpath("static", "mark.svg")), media_type="image/svg+xml"
        )

    app.add_middleware(Guard, allowed_hosts=allowed_hosts, refuse=faults.RefusePlainly())
    return app
