"""One heater: its visits on the line, what they read, where it stands, and the next visit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from os import urandom
from typing import Any

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from lightoff import drawing
from lightoff.ground.ids import RANDOM_BYTES
from lightoff.judging.assessment import Assessment, Figure
from lightoff.judging.outline import Outline
from lightoff.terms.case import Case
from lightoff.terms.visit import Stage, Visit
from lightoff.web import conflicts
from lightoff.web.forms import Typed
from lightoff.web.page import Page, subscripted
from lightoff.web.rooms import Rooms
from lightoff.work.heater_history import heater_history
from lightoff.work.how_long_it_ran import how_long_it_ran
from lightoff.work.start_visit import start_visit

rooms = Rooms()
TRENDS = (
    "stack_gas_temperature",
    "co_air_free",
    "flue_o2",
    "time_to_light",
    "igniter_current",
    "living_space_co_rise",
)
FACTS = ("hour_meter", "starts_count", "supply_voltage_igniter", "igniter_current")
MOST_TRENDS = 4
MOST_VISITS = 12
_DESK = {"width": 660.0, "left": 44.0, "right": 560.0}
_PHONE = {"width": 334.0, "left": 34.0, "right": 244.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """One quantity over the visits: the latest number and its drawings for desk and phone."""

    key: str
    latest: Figure
    desk: Markup
    phone: Markup


@rooms.get("/heaters/{id}")
def show_heater(request: Request, id: str) -> Response:  # noqa: A002
    """The heater's page."""
    page = Page.of(request)
    past = heater_history(page.house.workshop, id, page.now, latest=MOST_VISITS)
    line = past.line
    judged = list(zip(past.cases, past.outlines, strict=True))
    open_visit = next((case.visit for case, _ in reversed(judged) if case.visit.closed_at is None), None)
    last = (past.cases[-1], past.last) if past.last else None
    response = page.show(
        "heater.html",
        line=line,
        sheet=page.shelf.sheets.get(line.heater.sheet),
        judged=list(reversed(judged)),
        last=last,
        open_visit=open_visit,
        timelines=_timelines(page, judged),
        trends=_trends(page, judged),
        facts=_facts(page, last),
        ran=[page.speaker.say(each) for each in how_long_it_ran(page.house.workshop, id, page.now).says()],
        conflicts=conflicts.of_heater(page, line.heater),
        neighbours=[each for each in page.book.heaters_of(line.vehicle.id) if each.id != id],
        day_words=lambda visit: _words(page, visit),
    )
    response.set_cookie("lightoff_last", id, max_age=34_560_000, samesite="lax")
    return response


@rooms.post("/heaters/{id}/visits")
async def begin_visit(request: Request, id: str) -> Response:  # noqa: A002
    """Starts a visit and opens its card, or its search for a fault; one that is open is gone on with."""
    page = Page.of(request)
    typed = await Typed.of(request)
    to = typed.line("to")
    room = f"/{to}" if to in ("fault", "telephone") else ""
    visits = page.book.visits_of(id)
    running = next((each for each in reversed(visits) if each.closed_at is None), None)
    if running is not None and not typed.line("another"):
        return RedirectResponse(f"/visits/{running.id}{room}", status_code=303)
    visit_id = start_visit(
        page.house.workshop,
        id,
        page.now,
        author=page.shop.technician,
        randomness=urandom(RANDOM_BYTES),
        reason=typed.line("reason"),
    )
    return RedirectResponse(f"/visits/{visit_id}{room}", status_code=303)


def _span(judged: Sequence[tuple[Case, Outline]], now: datetime) -> tuple[datetime, datetime]:
    """From a little before the first visit to a little after now."""
    first = judged[0][0].visit.started_at
    lived = max(now - first, timedelta(days=90))
    return first - lived / 20, max(now, judged[-1][0].visit.started_at) + lived / 20


def _timelines(page: Page, judged: Sequence[tuple[Case, Outline]]) -> dict[str, Markup]:
    if not judged:
        return {}
    start, end = _span(judged, page.now)
    visits = [
        drawing.TimelineVisit(
            at=case.visit.started_at,
            verdict=outline.verdict,
            words=_words(page, case.visit),
            now=case is judged[-1][0],
        )
        for case, outline in judged
    ]
    axis = drawing.TimeAxis(start=start, end=end, **_DESK)
    return {"desk": Markup(drawing.timeline(visits, page.speaker, axis=axis))}


def _words(page: Page, visit: Visit) -> str:
    if visit.closed_at is None:
        return page.speaker.text("web.open_now")
    return visit.reason[:24]


def _trends(page: Page, judged: Sequence[tuple[Case, Outline]]) -> list[Trend]:
    drawn: list[Trend] = []
    if not judged:
        return drawn
    start, end = _span(judged, page.now)
    for key in TRENDS:
        points, latest = _points(key, judged)
        if latest is None or len(drawn) == MOST_TRENDS:
            continue
        both = [
            Markup(
                drawing.trend(
                    points,
                    page.speaker,
                    key=key,
                    dimension=latest.dimension,
                    axis=drawing.TimeAxis(start=start, end=end, **frame),
                )
            )
            for frame in (_DESK, _PHONE)
        ]
        drawn.append(Trend(key=key, latest=latest, desk=both[0], phone=both[1]))
    return drawn


def _points(key: str, judged: Sequence[tuple[Case, Outline]]) -> tuple[list[Any], Figure | None]:
    points, latest = [], None
    for case, outline in judged:
        left, found = outline.figure(key, Stage.AS_LEFT), outline.figure(key, Stage.AS_FOUND)
        if left is None and found is None:
            continue
        latest = left or found
        expected = left.expected if left else (found.expected if found else None)
        points.append(
            drawing.TrendPoint(
                at=case.visit.started_at,
                left=left.estimate if left else None,
                found=found.estimate if found else None,
                expected=expected,
            )
        )
    return points, latest


def _facts(page: Page, last: tuple[Case, Assessment] | None) -> list[tuple[Markup, Markup]]:
    """A few plain readings of the last visit, the shop's own among them: label, and what was read."""
    if last is None:
        return []
    own = (key.partition(".")[2] for key in page.speaker.own if key.startswith("reading."))
    readings = {each.key: each for each in last[0].visit.readings}
    return [
        (page.text(f"reading.{key}"), subscripted(page.speaker.reading(readings[key])))
        for key in (*FACTS, *own)
        if key in readings
    ]
