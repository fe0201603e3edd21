"""Whether a heater's readings drift: one drawing a reading, with what it rests on."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response

from lightoff import drawing
from lightoff.ground.values import dataclass
from lightoff.plant.quantities import QUANTITIES
from lightoff.wear.cusum import DECISION
from lightoff.web.page import Page, subscripted
from lightoff.web.rooms import Rooms
from lightoff.work.drift_of_unit import ReadingDrift, Taken, drift_of_unit

rooms = Rooms()
_DESK = {"width": 660.0, "left": 52.0, "right": 650.0}
_PHONE = {"width": 334.0, "left": 44.0, "right": 328.0}
_LEAST_AHEAD, _MOST_AHEAD = timedelta(days=365), timedelta(days=1096)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """One reading as the page shows it."""

    key: str
    name: Markup
    last: str
    unit: str
    sound: Markup
    since: Markup
    says: tuple[Markup, ...]
    change: Markup
    desk: Markup
    phone: Markup
    rows: tuple[tuple[str, date, str, str, str], ...]


@rooms.get("/heaters/{id}/drift")
def show_drift(request: Request, id: str) -> Response:  # noqa: A002
    """Every reading that is followed and was read."""
    page = Page.of(request)
    line = page.book.line(id)
    found = drift_of_unit(page.house.workshop, id, page.now)
    return page.show("drift.html", line=line, shown=[_shown(page, each) for each in found])


def _shown(page: Page, found: ReadingDrift) -> Shown:
    key = found.watched.key
    dimension = QUANTITIES[key].dimension
    counted = [each for each in found.taken if each.counts]
    since = (
        page.text("web_drift.since", part=f"@part.{found.part}", day=found.began)
        if found.began
        else page.text("web_drift.since_first")
    )
    return Shown(
        key=key,
        name=page.text(f"reading.{key}"),
        last=page.speaker.number(counted[-1].corrected.value, dimension),
        unit=page.speaker.unit(dimension),
        sound=page.text(
            "web_drift.sound", low=_number(page, found, found.low), high=_number(page, found, found.high)
        ),
        since=since,
        says=tuple(subscripted(page.speaker.say(each)) for each in found.drift.says(_today(page))),
        change=_change(page, found),
        desk=_picture(page, found, **_DESK),
        phone=_picture(page, found, **_PHONE),
        rows=tuple(_row(page, found, each) for each in reversed(found.taken)),
    )


def _change(page: Page, found: ReadingDrift) -> Markup:
    change = found.drift.change
    if change.alarm_at is not None:
        return page.text("web_drift.calls")
    sums = [*change.rises, *change.falls]
    if not sums:
        return page.text("web_drift.too_few")
    return page.text("web_drift.calm", sum=f"{max(sums):.2f}", alarm=f"{DECISION:g}")


def _row(page: Page, found: ReadingDrift, taken: Taken) -> tuple[str, date, str, str, str]:
    read = _number(page, found, taken.read)
    if taken.repeats > 1:
        read = page.speaker.text("web_drift.repeats", value=read, count=taken.repeats)
    half = page.speaker.width(taken.corrected.half_width, found.watched.dimension)
    corrected = f"{_number(page, found, taken.corrected.value)} ± {half}"
    if not taken.counts:
        corrected += f" ({page.speaker.text('web_drift.not_counted')})"
    return taken.visit, taken.on, read, _number(page, found, taken.expected), corrected


def _picture(page: Page, found: ReadingDrift, *, width: float, left: float, right: float) -> Markup:
    today = _today(page)
    reach = found.drift.reach
    days = (None, None, None) if reach is None else (reach.earliest, reach.line, reach.latest)
    first = found.taken[0].on
    ahead = max((each - today for each in days if each is not None), default=_LEAST_AHEAD)
    end = today + min(max(ahead + timedelta(days=90), _LEAST_AHEAD), _MOST_AHEAD)
    start = first - max((end - first) / 25, timedelta(days=20))
    axis = drawing.TimeAxis(start=_noon(start), end=_noon(end), width=width, left=left, right=right)
    told = found.drift.reading_count > 1 and found.drift.first_on < found.drift.last_on
    began = found.drift.changed_on or found.began or first
    dimension = QUANTITIES[found.watched.key].dimension
    return Markup(
        drawing.drifting(
            drawing.DriftPicture(
                points=tuple(
                    drawing.DriftPoint(
                        on=each.on, value=each.corrected, counts=each.counts and each.on >= began
                    )
                    for each in found.taken
                ),
                low=found.low,
                high=found.high,
                rises=found.watched.rises,
                dimension=dimension,
                today=today,
                trend=found.trend_on if told else None,
                reach=days if told else (None, None, None),
                began=found.began,
            ),
            page.speaker,
            axis=axis,
            title=page.speaker.text(f"reading.{found.watched.key}"),
            description=page.speaker.text(
                "web_drift.described",
                count=len(found.taken),
                last=_number(page, found, found.taken[-1].corrected.value),
                low=_number(page, found, found.low),
                high=_number(page, found, found.high),
            ),
        )
    )


def _number(page: Page, found: ReadingDrift, value: float) -> str:
    return page.speaker.number(value, QUANTITIES[found.watched.key].dimension)


def _noon(on: date) -> datetime:
    return datetime.combine(on, time(12), UTC)


def _today(page: Page) -> date:
    return page.speaker.date_of(page.now)
