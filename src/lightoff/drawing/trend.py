"""One quantity across the visits of a heater, with the band to expect."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from functools import lru_cache

from lightoff.drawing import svg
from lightoff.drawing.labels import Box, Places
from lightoff.drawing.palette import PAGE, Palette
from lightoff.drawing.part_life import today_line
from lightoff.drawing.time_axis import TimeAxis
from lightoff.ground.estimate import Estimate
from lightoff.ground.values import dataclass
from lightoff.texts import Speaker

TEXT_PX = 14.0
TICK_HALF_PX = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendPoint:
    """What one visit found and left, SI, with the band expected then; None where it was not had."""

    at: datetime
    left: Estimate | None = None
    found: Estimate | None = None
    expected: Estimate | None = None
    words: str = ""  # what became of it, such as "then renewed"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Frame:
    axis: TimeAxis
    height: float
    low: float
    high: float

    def at(self, when: datetime, value: float) -> svg.Point:
        room = self.height - 44.0
        return self.axis.at(when), 22.0 + room * (self.high - value) / (self.high - self.low)


def trend(
    points: Sequence[TrendPoint],
    speaker: Speaker,
    *,
    key: str,
    dimension: str,
    axis: TimeAxis,
    now: datetime | None = None,
    height: float = 110.0,
    palette: Palette = PAGE,
    description: str = "",
) -> str:
    """Ticks lie flat: solid as left, joined; open as found, tied to what it became. `key` is of figures.

    A line at `now` parts what was from what is to come.
    """
    points = tuple(sorted(points, key=lambda each: each.at))
    frame = _framed(points, axis=axis, height=height)
    places = Places(Box(0, 0, axis.width, height))
    drawn = [svg.line((x, 0), (x, height), stroke=palette.hairline, width=1.0) for _, x in axis.years()]
    drawn += _band(points, frame, speaker, dimension=dimension, places=places, palette=palette)
    if now is not None:
        drawn.append(today_line(axis, now, height, palette=palette))
    drawn += _ties(points, frame, palette=palette)
    drawn += _ticks(points, frame, places=places, palette=palette)
    drawn += _values(points, frame, speaker, dimension=dimension, places=places, palette=palette)
    return svg.picture(
        drawn,
        width=axis.width,
        height=height,
        title=speaker.text(f"figure.{key}"),
        description=description or _described(points, speaker, dimension=dimension),
        palette=palette,
    )


def _framed(points: Sequence[TrendPoint], *, axis: TimeAxis, height: float) -> _Frame:
    shown = [each.value for point in points for each in (point.left, point.found) if each is not None]
    shown += [end for point in points if point.expected for end in (point.expected.low, point.expected.high)]
    low, high = min(shown, default=0.0), max(shown, default=1.0)
    room = 0.04 * (high - low) or abs(high) * 0.1 or 1.0
    return _Frame(axis=axis, height=height, low=low - room, high=high + room)


def _band(
    points: Sequence[TrendPoint],
    frame: _Frame,
    speaker: Speaker,
    *,
    dimension: str,
    places: Places,
    palette: Palette,
) -> list[str]:
    banded = [(point.at, point.expected) for point in points if point.expected is not None]
    if not banded:
        return []
    top = [frame.at(at, band.high) for at, band in banded]
    bottom = [frame.at(at, band.low) for at, band in banded]
    # The band begins and ends half a tick beyond its visits, so that each tick lies on it.
    for edge in (top, bottom):
        edge.insert(0, (edge[0][0] - 24, edge[0][1]))
        edge.append((edge[-1][0] + TICK_HALF_PX + 2, edge[-1][1]))
    drawn = [svg.polygon([*top, *reversed(bottom)], fill=palette.tint)]
    drawn += [svg.polyline(edge, stroke=palette.rule, width=1.25) for edge in (top, bottom)]
    for (x, y), value in ((top[0], banded[0][1].high), (bottom[0], banded[0][1].low)):
        text = speaker.number(value, dimension)
        found = places.find([((x - 5, y + 5), "end")], text, size=TEXT_PX)
        if found:
            drawn.append(svg.words(found[0], text, fill=palette.second, size=TEXT_PX, anchor="end"))
    return drawn


def _ties(points: Sequence[TrendPoint], frame: _Frame, *, palette: Palette) -> list[str]:
    drawn = []
    for point in points:
        if point.left is not None and point.found is not None:
            start, end = frame.at(point.at, point.found.value), frame.at(point.at, point.left.value)
            drawn.append(svg.line(start, end, stroke=palette.ink, width=1.75, dash="3 3"))
    lived = [frame.at(point.at, point.left.value) for point in points if point.left is not None]
    return [*drawn, svg.polyline(lived, stroke=palette.ink)] if len(lived) > 1 else drawn


def _ticks(points: Sequence[TrendPoint], frame: _Frame, *, places: Places, palette: Palette) -> list[str]:
    drawn = []
    for point in points:
        if point.found is not None:
            x, y = frame.at(point.at, point.found.value)
            corner, size = (x - TICK_HALF_PX + 1, y - 3.5), (2 * TICK_HALF_PX - 2, 7.0)
            drawn.append(svg.rectangle(corner, size, fill=palette.ground, stroke=palette.ink))
            places.take(Box(x - TICK_HALF_PX, y - 4.5, x + TICK_HALF_PX, y + 4.5))
    for point in points:
        if point.left is not None:
            x, y = frame.at(point.at, point.left.value)
            drawn.append(
                svg.line((x - TICK_HALF_PX, y), (x + TICK_HALF_PX, y), stroke=palette.ink, width=5.5)
            )
            places.take(Box(x - TICK_HALF_PX, y - 3, x + TICK_HALF_PX, y + 3))
    return drawn


def _values(
    points: Sequence[TrendPoint],
    frame: _Frame,
    speaker: Speaker,
    *,
    dimension: str,
    places: Places,
    palette: Palette,
) -> list[str]:
    """Words at the newest visit, and the number at what was found before, wherever there is room."""
    drawn = []
    for point in reversed(points):
        newest = point is points[-1]
        for estimate, name, weight in ((point.left, "as_left_is", 700), (point.found, "as_found_is", 400)):
            if estimate is None or (name == "as_left_is" and not newest):
                continue
            value = speaker.number(estimate.value, dimension)
            text = speaker.text(f"drawing.{name}", value=value) if newest else value
            if point.words and name == "as_found_is":
                text = f"{text}, {point.words}"
            at = frame.at(point.at, estimate.value)
            found = places.find(_beside(at, newest=newest), text, size=TEXT_PX)
            if found:
                fill = palette.ink if weight == 700 else palette.second
                drawn.append(
                    svg.words(
                        found[0],
                        text,
                        fill=fill,
                        size=TEXT_PX,
                        weight=weight,
                        anchor=found[1],
                        halo=palette.ground,
                    )
                )
    return drawn


def _beside(at: svg.Point, *, newest: bool) -> list[tuple[svg.Point, svg.Anchor]]:
    x, y = at
    right: list[tuple[svg.Point, svg.Anchor]] = [
        ((x + TICK_HALF_PX + 6, y + 5 + step), "start") for step in (0, 6, -6, 12, -12, 18, -18)
    ]
    if newest:
        return [*right, ((x - TICK_HALF_PX - 6, y + 5), "end")]
    above: list[tuple[svg.Point, svg.Anchor]] = [((x, y - 9), "middle"), ((x, y + 19), "middle")]
    return [*above, *right]


@lru_cache(maxsize=64)  # drawn for the desk and for the phone, and described in the same words
def _described(points: Sequence[TrendPoint], speaker: Speaker, *, dimension: str) -> str:
    said = []
    for point in points:
        parts = [
            speaker.text(f"drawing.{key}", value=speaker.number(each.value, dimension))
            for each, key in ((point.found, "as_found_is"), (point.left, "as_left_is"))
            if each is not None
        ]
        if parts:
            said.append(f"{speaker.day(point.at)}: {', '.join(parts)}")
    unit = speaker.unit(dimension)
    tail = f" ({unit})." if unit else "."
    return "; ".join(said) + tail if said else speaker.text("drawing.no_visits")
