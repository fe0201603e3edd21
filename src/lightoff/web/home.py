"""The list: open visits first, the last heater one tap away, then everything that can be found."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response

from lightoff.ground.errors import NotFound
from lightoff.ground.values import dataclass
from lightoff.records import HeaterLine
from lightoff.terms.people import Heater, Owner, Vehicle
from lightoff.terms.visit import Visit
from lightoff.web.heater import as_last, drawn_ahead, opened_from_it
from lightoff.web.left_off import ago_in_words
from lightoff.web.page import Page
from lightoff.web.rooms import Rooms
from lightoff.work.find_heaters import find_heaters

rooms = Rooms()
A_PAGE = 40
MOST_OPEN = 5
MOST_AHEAD, HITS_AHEAD, VISITS_AHEAD = 100, 10, 3
"""Heaters drawn ahead of the whole list, of a search or a further page, and the latest visits of each."""
NEAR_AHEAD = 4
"""Heaters of which the latest visit too is likely to be opened next."""


@dataclass(frozen=True, slots=True)
class Line:
    """One heater in the list."""

    heater: Heater
    vehicle: Vehicle
    owner: Owner
    last: Markup
    last_visit: str
    begins: Markup | None  # what a visit that is begun here takes from the last one, or that it is the first


@dataclass(frozen=True, slots=True)
class OpenVisit:
    """One visit that nobody has closed."""

    visit: str
    title: str
    line: Markup
    ago: str


@rooms.get("/")
def show_home(request: Request) -> Response:
    """The list, the whole of it or what the words find."""
    page = Page.of(request)
    search, after = page.asked("search"), page.asked("after")
    found = find_heaters(page.house.workshop, search, limit=A_PAGE + 1, after=after or None)
    more = found[A_PAGE - 1].heater.id if len(found) > A_PAGE else ""
    is_start = not search and not after
    open_visits = page.book.open_visits(MOST_OPEN) if is_start else ()
    lines = [_line(page, each) for each in found[:A_PAGE]]
    page.draw_ahead(
        lambda: _near(request, found[:HITS_AHEAD]),
        lambda: _far(request, None if is_start else found[:HITS_AHEAD]),
    )
    return page.show(
        "home.html",
        search=search,
        lines=lines,
        after=more,
        open_visits=[_open(page, each) for each in open_visits],
        last=_last(page) if is_start else None,
    )


def _near(request: Request, found: Sequence[HeaterLine]) -> Iterator[Callable[[], object]]:
    """The pages that are likely to be opened next, then the latest visit of the first of them."""
    for line in found:
        yield from drawn_ahead(request, line.heater.id)
    for line in found[:NEAR_AHEAD]:
        yield from opened_from_it(request, line.heater.id, 1)


def _far(request: Request, found: Sequence[HeaterLine] | None) -> Iterator[Callable[[], object]]:
    """What is left of each heater that was found, or of the first of the whole list."""
    lines = find_heaters(request.app.state.house.workshop, limit=MOST_AHEAD) if found is None else found
    for at, line in enumerate(lines):
        yield from () if at < HITS_AHEAD else drawn_ahead(request, line.heater.id)
        yield from opened_from_it(request, line.heater.id, VISITS_AHEAD, beyond=int(at < NEAR_AHEAD))


def _line(page: Page, found: HeaterLine) -> Line:
    at = found.last_visit_at
    last = page.text("web.last_on", day=page.speaker.date_of(at)) if at else Markup()
    begins = None
    if not found.is_under_way:
        like = as_last(page, found.last_fuel, found.last_place)
        begins = page.text("web.start_first_line") if at is None else like
    return Line(found.heater, found.vehicle, found.owner, last, found.last_visit_id or "", begins)


def _open(page: Page, visit: Visit) -> OpenVisit:
    found = page.book.line(visit.heater)
    count = len(visit.readings)
    key = "web.open_line_one" if count == 1 else "web.open_line"
    line = page.text(key, started=visit.started_at, readings=count)
    ago = ago_in_words(page, page.now - visit.started_at)
    return OpenVisit(visit.id, f"{found.vehicle.name}, {found.heater.name}", line, ago)


def _last(page: Page) -> HeaterLine | None:
    """The heater that this browser had open last, if the book still knows it."""
    if not page.preferences.last_heater:
        return None
    try:
        line: HeaterLine = page.book.line(page.preferences.last_heater)
    except NotFound:
        return None
    return line
