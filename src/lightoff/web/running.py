"""How long a heater ran: what its meter, its logs and the estimate say, and the door for a logger's file."""

from __future__ import annotations

from datetime import UTC, datetime
from os import urandom

from markupsafe import Markup
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from lightoff import drawing
from lightoff.ground.errors import Refusal
from lightoff.ground.ids import RANDOM_BYTES
from lightoff.ground.message import message
from lightoff.terms.trace import TELLS_BURNS, Channel, Trace
from lightoff.web.page import Page
from lightoff.web.rooms import Rooms
from lightoff.work.how_long_it_ran import Ran, how_long_it_ran, rounded
from lightoff.work.keep_trace import HOUR_S, keep_trace, take_back_trace
from lightoff.work.running import Evidence

rooms = Rooms()
_DESK = {"width": 660.0, "left": 8.0, "right": 560.0}
_PHONE = {"width": 334.0, "left": 6.0, "right": 250.0}
_LINES = {Evidence.METER: "solid", Evidence.TRACE: "thick", Evidence.ESTIMATE: "dashed"}


@rooms.get("/heaters/{id}/running")
def show_running(request: Request, id: str) -> Response:  # noqa: A002
    """Run hours and starts, and every log."""
    return _shown(Page.of(request), id)


@rooms.post("/heaters/{id}/logs")
async def keep_log(request: Request, id: str) -> Response:  # noqa: A002
    """Keeps a logger's file and what was found in it; one that cannot be read is told why."""
    page = Page.of(request)
    problems: dict[str, str] = {}
    found = None
    async with request.form(max_files=1, max_fields=8) as form:
        typed = {key: value.strip() for key, value in form.items() if isinstance(value, str)}
        file = form.get("file")
        sent = isinstance(file, UploadFile) and bool(file.filename)
        name, data = (str(file.filename), await file.read()) if isinstance(file, UploadFile) else ("", b"")
    try:
        if not sent:
            raise Refusal(message("web_running.no_file"), field="file")
        trace, found = await run_in_threadpool(
            keep_trace,
            page.house.workshop,
            id,
            data,
            page.now,
            file_name=name,
            author=page.shop.technician,
            randomness=urandom(RANDOM_BYTES),
            start=_start(typed.get("start", "")),
            channel=_channel(typed.get("channel", "")),
        )
    except Refusal as refusal:
        problems[refusal.field or "file"] = page.speaker.say(refusal.message)
    if found is None:
        return _shown(page, id, typed=typed, problems=problems)
    if len(found.said()) == 1:
        return RedirectResponse(f"/heaters/{id}/running#log-{trace.id}", status_code=303)
    return _shown(page, id, said=tuple(page.speaker.say(each) for each in found.said()))


@rooms.post("/logs/{id}/take-back")
def take_back(request: Request, id: str) -> Response:  # noqa: A002
    """A log that counts no more; its file stays in the book."""
    page = Page.of(request)
    trace = take_back_trace(
        page.house.workshop, id, page.now, author=page.shop.technician, randomness=urandom(RANDOM_BYTES)
    )
    return RedirectResponse(f"/heaters/{trace.heater}/running", status_code=303)


@rooms.get("/logs/{id}.csv")
def show_log(request: Request, id: str) -> Response:  # noqa: A002
    """The logger's file as it was sent."""
    page = Page.of(request)
    return Response(page.book.log_bytes(page.book.trace(id).sha256), media_type="text/csv")


def _shown(
    page: Page,
    heater_id: str,
    *,
    typed: dict[str, str] | None = None,
    problems: dict[str, str] | None = None,
    said: tuple[str, ...] = (),
) -> Response:
    found = how_long_it_ran(page.house.workshop, heater_id, page.now)
    return page.show(
        "running.html",
        status=422 if problems else 200,
        line=page.book.line(heater_id),
        found=found,
        says=[page.speaker.say(each) for each in found.says()],
        desk=_picture(page, found, **_DESK),
        phone=_picture(page, found, **_PHONE),
        logs=[_log(page, each) for each in reversed(found.traces)],
        channels=[(each.value, page.text(f"web_running.{each.name.lower()}")) for each in TELLS_BURNS],
        typed=typed or {},
        problems=problems or {},
        said=said,
    )


def _picture(page: Page, found: Ran, **frame: float) -> Markup:
    stretches = found.stretches()
    if found.since is None or not stretches:
        return Markup("")
    hours = page.speaker.text("web_running.hours", value=rounded(found.run_hours.value))
    drawn = drawing.ran(
        [
            drawing.RanStretch(
                start=each.start,
                end=each.end,
                at_start=each.till_start,
                at_end=each.till_end,
                line=_LINES[each.evidence],
            )
            for each in stretches
        ],
        axis=drawing.TimeAxis(start=found.since, end=found.now, **frame),
        title=page.speaker.text("web_running.course"),
        description=page.speaker.say(found.says()[0]),
        last=hours,
    )
    return Markup(drawn)


def _log(page: Page, trace: Trace) -> tuple[str, str, str, str]:
    """Its id, its days, what it says, and its file."""
    said = page.speaker.text(
        "web_running.log_line",
        channel=f"@log_channel.{trace.channel.name.lower()}",
        hours=f"{float(trace.burned_s) / HOUR_S:.1f}",
        low=f"{float(trace.burned_low_s) / HOUR_S:.1f}",
        high=f"{float(trace.burned_high_s) / HOUR_S:.1f}",
        starts=trace.starts,
        logged=f"{float(trace.logged_s) / HOUR_S:.1f}",
    )
    days = page.speaker.text(
        "web_running.log_days",
        first=page.speaker.date_of(trace.began_at),
        last=page.speaker.date_of(trace.ended_at),
    )
    return trace.id, days, said, trace.file_name


def _start(text: str) -> datetime | None:
    if not text:
        return None
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        raise Refusal(message("web_running.start", typed=text[:40]), field="start") from None
    return at.astimezone(UTC) if at.tzinfo else at.replace(tzinfo=UTC)


def _channel(text: str) -> Channel | None:
    return next((each for each in TELLS_BURNS if each.value == text), None)
