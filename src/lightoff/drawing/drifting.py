"""A reading over the years, as in the conditions of the last visit: its trend, and when it meets a limit."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, date, datetime, time

from lightoff.drawing import svg
from lightoff.drawing.labels import Box, Places, around
from lightoff.drawing.palette import PAGE, Palette
from lightoff.drawing.time_axis import TimeAxis
from lightoff.ground.estimate import Estimate
from lightoff.ground.values import dataclass
from lightoff.texts import Speaker

TEXT_PX = 14.0
HEIGHT_PX = 200.0
_TOP_PX, _FOOT_PX = 26.0, 172.0
_HATCH_PX = 11.0
_TICK_HALF_PX = 10.0
_PIECES = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftPoint:
    """One visit's reading, SI; `counts` where it belongs to the trend."""

    on: date
    value: Estimate
    counts: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftPicture:
    """What is drawn: points by rising date, the band of sound heaters, which end is the limit, and the trend.

    `trend` tells the reading on a day; None where the readings tell none. `reach` holds the earliest, the
    likeliest and the latest day of the limit, each None where that is not told. `began` is when the part was
    renewed.
    """

    points: tuple[DriftPoint, ...]
    low: float
    high: float
    rises: bool
    dimension: str
    today: date
    trend: Callable[[date], Estimate] | None = None
    reach: tuple[date | None, date | None, date | None] = (None, None, None)
    began: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Frame:
    axis: TimeAxis
    low: float
    high: float

    def x(self, on: date) -> float:
        return self.axis.at(_noon(on))

    def y(self, value: float) -> float:
        share = (self.high - value) / (self.high - self.low)
        return _TOP_PX + (_FOOT_PX - _TOP_PX) * min(max(share, 0.0), 1.0)


def drifting(
    shown: DriftPicture,
    speaker: Speaker,
    *,
    axis: TimeAxis,
    title: str,
    description: str,
    palette: Palette = PAGE,
) -> str:
    """Solid ticks and whiskers: readings; tint: sound heaters; hatch: beyond the limit; dashes: to come."""
    frame = _framed(shown, axis)
    places = Places(Box(0.0, 0.0, axis.width, HEIGHT_PX))
    drawn = _ground(shown, frame, palette=palette)
    drawn += _years(frame, places, palette=palette)
    drawn += _trend(shown, frame, palette=palette)
    drawn += _points(shown, frame, places, palette=palette)
    drawn += _reach(shown, frame, speaker, places, palette=palette)
    drawn += _words(shown, frame, speaker, places, palette=palette)
    return svg.picture(
        drawn,
        width=axis.width,
        height=HEIGHT_PX,
        title=title,
        description=description,
        palette=palette,
    )


def _framed(shown: DriftPicture, axis: TimeAxis) -> _Frame:
    values = [end for each in shown.points for end in (each.value.low, each.value.high)]
    low, high = min([*values, shown.low]), max([*values, shown.high])
    room = 0.08 * (high - low) or 1.0
    return _Frame(axis=axis, low=low - room, high=high + room)


def _ground(shown: DriftPicture, frame: _Frame, *, palette: Palette) -> list[str]:
    """The band of sound heaters, and the hatch beyond the end that is the limit."""
    left, right = frame.axis.left, frame.axis.right
    top, foot = frame.y(shown.high), frame.y(shown.low)
    drawn = [svg.rectangle((left, top), (right - left, foot - top), fill=palette.tint)]
    drawn += [svg.line((left, y), (right, y), stroke=palette.rule, width=1.25) for y in (top, foot)]
    limit = top if shown.rises else foot
    beyond = limit - _HATCH_PX if shown.rises else limit + _HATCH_PX
    drawn.append(
        svg.hatch_upright((left, min(limit, beyond)), (right, max(limit, beyond)), stroke=palette.second)
    )
    drawn.append(svg.line((left, limit), (right, limit), stroke=palette.ink))
    return drawn


def _years(frame: _Frame, places: Places, *, palette: Palette) -> list[str]:
    drawn = []
    for year, x in frame.axis.years():
        drawn.append(svg.line((x, _TOP_PX), (x, _FOOT_PX + 6), stroke=palette.rule, width=1.0))
        if places.find([((x + 4, HEIGHT_PX - 10), "start")], str(year), size=TEXT_PX):
            drawn.append(svg.words((x + 4, HEIGHT_PX - 10), str(year), fill=palette.second, size=TEXT_PX))
    return drawn


def _trend(shown: DriftPicture, frame: _Frame, *, palette: Palette) -> list[str]:
    """The line through the readings, in dashes beyond the last, with the two edges of its doubt."""
    counted = [each.on for each in shown.points if each.counts]
    if shown.trend is None or len(counted) < 2:
        return []
    first, last, end = counted[0], counted[-1], frame.axis.end.date()
    drawn = []
    if end > last:
        ahead = [(each, shown.trend(each)) for each in _between(last, end)]
        for edge in ([value.low for _, value in ahead], [value.high for _, value in ahead]):
            line = [(frame.x(day), frame.y(value)) for (day, _), value in zip(ahead, edge, strict=True)]
            drawn.append(svg.polyline(_inside(line), stroke=palette.rule, width=1.25))
        drawn.append(
            svg.line(
                (frame.x(last), frame.y(shown.trend(last).value)),
                _cut(frame, shown.trend, last, end),
                stroke=palette.ink,
                dash="5 4",
            )
        )
    ends = [(frame.x(each), frame.y(shown.trend(each).value)) for each in (first, last)]
    return [*drawn, svg.line(ends[0], ends[1], stroke=palette.ink)]


def _cut(frame: _Frame, trend: Callable[[date], Estimate], last: date, end: date) -> svg.Point:
    """Where the dashed line leaves the picture."""
    for each in reversed(_between(last, end)):
        if frame.low <= trend(each).value <= frame.high:
            return frame.x(each), frame.y(trend(each).value)
    return frame.x(last), frame.y(trend(last).value)


def _inside(line: Sequence[svg.Point]) -> list[svg.Point]:
    """A line up to where it meets the edge of the drawing."""
    kept = []
    for x, y in line:
        kept.append((x, y))
        if y <= _TOP_PX or y >= _FOOT_PX:
            break
    return kept


def _points(shown: DriftPicture, frame: _Frame, places: Places, *, palette: Palette) -> list[str]:
    drawn = []
    if shown.began is not None:
        x = frame.x(shown.began)
        drawn.append(
            svg.line((x, _TOP_PX - 8), (x, _FOOT_PX + 6), stroke=palette.second, width=1.5, dash="2 4")
        )
    today = frame.x(shown.today)
    drawn.append(svg.line((today, _TOP_PX - 8), (today, _FOOT_PX + 6), stroke=palette.ink))
    for each in shown.points:
        x, y = frame.x(each.on), frame.y(each.value.value)
        low, high = frame.y(each.value.low), frame.y(each.value.high)
        stroke = palette.ink if each.counts else palette.rule
        if low - high > 8.0:
            drawn.append(svg.line((x, low), (x, high), stroke=stroke, width=4.0 if each.counts else 2.0))
        thick = 5.5 if each.counts else 3.0
        drawn.append(svg.line((x - _TICK_HALF_PX, y), (x + _TICK_HALF_PX, y), stroke=stroke, width=thick))
        places.take(Box(x - _TICK_HALF_PX, high, x + _TICK_HALF_PX, low))
    return drawn


def _reach(
    shown: DriftPicture, frame: _Frame, speaker: Speaker, places: Places, *, palette: Palette
) -> list[str]:
    """On the limit: a bracket over the days that are possible, and a tick at the likeliest."""
    earliest, likeliest, latest = shown.reach
    last = max((each.on for each in shown.points if each.counts), default=None)
    if earliest is None or earliest > frame.axis.end.date() or (last and likeliest and likeliest <= last):
        return []
    y = frame.y(shown.high if shown.rises else shown.low)
    start, end = frame.x(earliest), frame.x(latest or frame.axis.end.date())
    drawn = [svg.line((start, y), (end, y), stroke=palette.ink, width=4.0)]
    ends = (start,) if latest is None else (start, end)
    drawn += [svg.line((x, y - 6), (x, y + 6), stroke=palette.ink) for x in ends]
    if likeliest is not None and likeliest <= frame.axis.end.date():
        x = frame.x(likeliest)
        drawn.append(svg.line((x, y - _TICK_HALF_PX), (x, y + _TICK_HALF_PX), stroke=palette.ink, width=5.5))
        text = _month(likeliest, speaker)
        found = places.find(around((x, y), reach=(6.0, 12.0), size=TEXT_PX), text, size=TEXT_PX)
        if found:
            drawn.append(_bold(found, text, palette))
    return drawn


def _bold(place: tuple[svg.Point, svg.Anchor], text: str, palette: Palette) -> str:
    """A number that stands out, beside its mark."""
    at, anchor = place
    return svg.words(at, text, fill=palette.ink, size=TEXT_PX, weight=700, anchor=anchor, halo=palette.ground)


def _words(
    shown: DriftPicture, frame: _Frame, speaker: Speaker, places: Places, *, palette: Palette
) -> list[str]:
    """The ends of the band at the left, today and the renewal above, the last reading beside its tick."""
    drawn = []
    for value in (shown.high, shown.low):
        text = speaker.number(value, shown.dimension)
        at = (frame.axis.left - 5, frame.y(value) + 5)
        if places.find([(at, "end")], text, size=TEXT_PX):
            drawn.append(svg.words(at, text, fill=palette.second, size=TEXT_PX, anchor="end"))
    last = next((each for each in reversed(shown.points) if each.counts), None)
    if last is not None:
        text = speaker.number(last.value.value, shown.dimension)
        centre = (frame.x(last.on), frame.y(last.value.value))
        found = places.find(around(centre, reach=(12.0, 5.0), size=TEXT_PX), text, size=TEXT_PX)
        if found:
            drawn.append(_bold(found, text, palette))
    for on, key in ((shown.today, "drawing.today"), (shown.began, "drawing.renewed")):
        if on is not None:
            x, text = frame.x(on), speaker.text(key)
            spots: list[tuple[svg.Point, svg.Anchor]] = [((x, 13.0), "middle"), ((x, 13.0), "end")]
            found = places.find(spots, text, size=TEXT_PX)
            if found:
                drawn.append(svg.words(found[0], text, fill=palette.second, size=TEXT_PX, anchor=found[1]))
    return drawn


def _between(first: date, last: date) -> list[date]:
    span = last - first
    return [first + span * at // _PIECES for at in range(_PIECES + 1)]


def _noon(on: date) -> datetime:
    return datetime.combine(on, time(12), UTC)


def _month(on: date, speaker: Speaker) -> str:
    return f"{speaker.text(f'month.{on.month}')[:3]} {on.year % 100:02d}"
