"""One heater: its visits on the line, what they read, where it stands, and the next visit."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from functools import partial
from itertools import islice
from os import urandom
from typing import Any

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from lightoff import drawing
from lightoff.ground.ids import RANDOM_BYTES
from lightoff.ground.values import dataclass
from lightoff.judging.assessment import Assessment, Figure
from lightoff.judging.outline import FOLLOWED, Outline
from lightoff.terms.case import Case
from lightoff.terms.visit import Place, Stage, Visit
from lightoff.wear.saying import whole
from lightoff.web import conflicts
from lightoff.web.figures import band_told
from lightoff.web.forms import Typed
from lightoff.web.page import Page, subscripted
from lightoff.web.report import hand_over
from lightoff.web.rooms import Rooms
from lightoff.web.visit import show_visit
from lightoff.work.heater_history import heater_history
from lightoff.work.how_long_it_ran import how_long_it_ran
from lightoff.work.part_lives import PartLife, part_lives
from lightoff.work.reckoning import reckoning
from lightoff.work.start_visit import start_visit
from lightoff.work.units import unit_of
from lightoff.work.who_needs_visit import service_due

rooms = Rooms()
FACTS = ("hour_meter", "starts_count", "supply_voltage_igniter", "igniter_current")
MOST_TRENDS = 4
MOST_VISITS = 12
_DESK = {"width": 660.0, "left": 44.0, "right": 650.0}
_PHONE = {"width": 334.0, "left": 34.0, "right": 328.0}
# How far the axis looks ahead: a good half of what lies behind, so that words fit behind the newest reading.
_AHEAD_SHARE, _LEAST_AHEAD, _MOST_AHEAD = 0.6, timedelta(days=240), timedelta(days=730)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """One quantity over the visits: the latest number and its drawings for desk and phone."""

    key: str
    latest: Figure
    desk: Markup
    phone: Markup


@dataclass(frozen=True, slots=True, kw_only=True)
class PartRow:
    """One part over the years: its name and its drawings for desk and phone."""

    kind: str
    name: Markup
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
        as_last=as_last(page, last[0].visit.fuel, last[0].visit.place.name) if last else None,
        timelines=_timelines(page, judged, _due(page, id)),
        trends=_trends(page, judged),
        band=lambda figure: band_told(page, figure),
        facts=_facts(page, last),
        ran=[page.speaker.say(each) for each in how_long_it_ran(page.house.workshop, id, page.now).says()],
        conflicts=conflicts.of_heater(page, line.heater),
        stands_again=page.book.standing_again("visit", [each.visit.id for each in past.cases]),
        neighbours=[each for each in page.book.heaters_of(line.vehicle.id) if each.id != id],
        day_words=lambda visit: _words(page, visit),
    )
    response.set_cookie("lightoff_last", id, max_age=34_560_000, samesite="lax")
    page.draw_ahead(lambda: opened_from_it(request, id, MOST_VISITS))
    return response


def drawn_ahead(request: Request, heater: str) -> Iterator[Callable[[], object]]:
    """The heater's page and before it each visit's judgement by itself: who asks meanwhile waits less."""
    house = request.app.state.house
    for case in house.workshop.book.cases_of(heater, latest=MOST_VISITS):
        yield partial(house.workshop.judged.outlines, [case], house.workshop.shelf, house.now())
    yield house.ahead.page(request, f"/heaters/{heater}", show_heater, heater)


def opened_from_it(
    request: Request, heater: str, most: int, *, beyond: int = 0
) -> Iterator[Callable[[], object]]:
    """What is opened from a heater's page, to be drawn ahead: card and hand-over of its latest visits.

    `most` visits, without the latest `beyond`.
    """
    house = request.app.state.house
    latest = reversed(house.workshop.book.visit_heads(heater))
    for visit in islice(latest, beyond, most):
        yield house.ahead.page(request, f"/visits/{visit.id}", show_visit, visit.id)
        yield house.ahead.page(request, f"/visits/{visit.id}/hand-over", hand_over, visit.id)


@rooms.get("/heaters/{id}/lives")
def show_lives(request: Request, id: str) -> Response:  # noqa: A002
    """The lives of its parts on the axis of its page, which asks for them when it stands.

    They rest on the lives of all heaters: the first time after a start that takes a while.
    """
    page = Page.of(request)
    started = [each.started_at for each in page.book.visit_heads(id)[-MOST_VISITS:]]
    lives = part_lives(page.house.workshop, id, page.now)
    return page.show("heater_lives.html", heater=id, lives=part_rows(page, lives, started))


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
    like = next((each for each in visits if each.id == typed.line("like")), None)
    visit_id = start_visit(
        page.house.workshop,
        id,
        page.now,
        author=page.shop.technician,
        randomness=urandom(RANDOM_BYTES),
        reason=typed.line("reason"),
        fuel=like.fuel if like else "",
        place=Place(name=like.place.name, altitude_m=like.place.altitude_m) if like else None,
        utc_offset_minutes=page.utc_offset_minutes,
    )
    return RedirectResponse(f"/visits/{visit_id}{room}", status_code=303)


def as_last(page: Page, fuel: str, place: str) -> Markup | None:
    """What a visit like the last one takes from it, in words; None where not both are known."""
    if fuel not in page.shelf.fuels or not place:
        return None
    return page.text("web.start_as_last_line", place=place, fuel=f"@fuel.{fuel}")


def part_rows(page: Page, lives: Sequence[PartLife], started: Sequence[datetime]) -> list[PartRow]:
    """Each part with its drawings."""
    if not started:
        return []
    return [_part_row(page, each, started) for each in lives]


def _part_row(page: Page, life: PartLife, started: Sequence[datetime]) -> PartRow:
    name = page.text_or(f"part.{life.kind.key}", life.kind.label or life.kind.key)
    words = _life_words(page, life)
    desk, phone = (
        Markup(
            drawing.part_life(
                life.since,
                earlier=life.earlier,
                ends=life.ends,
                now=page.now,
                axis=_axis(page, started, frame),
                words=words,
                title=page.speaker.text("web_part.life_of", part=str(name)),
                description=_life_described(page, life, words),
            )
        )
        for frame in (_DESK, _PHONE)
    )
    return PartRow(kind=life.kind.key, name=name, desk=desk, phone=phone)


def _life_words(page: Page, life: PartLife) -> str:
    """What is left and what to do, short enough to stand over its line."""
    if life.left is None:
        return page.speaker.text("web_part.life_unknown")
    left = page.speaker.text(
        "web_part.life_left", left=whole(life.left), clock=f"@wear_clock.{life.kind.clock}"
    )
    action = life.fitted.advice.action.value if life.fitted.advice else "leave"
    if life.fitted.spares and action in ("carry_a_spare", "leave"):
        action = "aboard"
    return f"{left}, {page.speaker.text(f'web_part.life_{action}')}" if action != "leave" else left


def _life_described(page: Page, life: PartLife, words: str) -> str:
    since = page.speaker.text("web_part.life_since", day=page.speaker.date_of(life.since))
    if life.ends is None:
        return f"{since} {words}."
    first, middle, last = (page.speaker.date_of(each) for each in life.ends)
    return page.speaker.text(
        "web_part.life_till", since=since, words=words, first=first, middle=middle, last=last
    )


def _axis(page: Page, started: Sequence[datetime], frame: Mapping[str, float]) -> drawing.TimeAxis:
    """From a little before the first visit to as far ahead as parts are looked at."""
    first, now = min(started), max(page.now, *started)
    lived = max(now - first, timedelta(days=90))
    ahead = min(max(lived * _AHEAD_SHARE, _LEAST_AHEAD), _MOST_AHEAD)
    return drawing.TimeAxis(start=first - lived / 20, end=now + ahead, **frame)


def _due(page: Page, id: str) -> tuple[datetime, datetime] | None:  # noqa: A002
    """The month in which the next complete service is due, if that lies ahead."""
    workshop, now = page.house.workshop, page.now
    by = service_due(unit_of(workshop, id, now), reckoning(workshop), now)
    return (by, by + timedelta(days=30)) if by > now else None


def _timelines(
    page: Page, judged: Sequence[tuple[Case, Outline]], due: tuple[datetime, datetime] | None
) -> dict[str, Markup]:
    if not judged:
        return {}
    visits = [
        drawing.TimelineVisit(
            at=case.visit.started_at,
            verdict=outline.verdict,
            words=_words(page, case.visit),
            now=case is judged[-1][0],
        )
        for case, outline in judged
    ]
    axis = _axis(page, [case.visit.started_at for case, _ in judged], _DESK)
    return {"desk": Markup(drawing.timeline(visits, page.speaker, axis=axis, due=due))}


def _words(page: Page, visit: Visit) -> str:
    if visit.closed_at is None:
        return page.speaker.text("web.open_now")
    done = page.speaker.text("web.service_done") if visit.service_complete else ""
    return (visit.reason or done)[:24]


def _trends(page: Page, judged: Sequence[tuple[Case, Outline]]) -> list[Trend]:
    drawn: list[Trend] = []
    if not judged:
        return drawn
    started = [case.visit.started_at for case, _ in judged]
    for key in FOLLOWED:
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
                    axis=_axis(page, started, frame),
                    now=page.now,
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
