"""One part of a heater on the heater's own time: what sat in it, and till when this piece may last."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from lightoff.drawing import svg
from lightoff.drawing.labels import text_width
from lightoff.drawing.palette import PAGE, Palette
from lightoff.drawing.scale import BAND_HALF_PX, band
from lightoff.drawing.time_axis import TimeAxis

TEXT_PX = 14.0
HEIGHT_PX = 42.0
_MIDDLE_PX = 28.0
_TICK_HALF_PX = 6.0

Span = tuple[datetime, datetime]


def part_life(
    since: datetime,
    *,
    earlier: Sequence[Span] = (),
    ends: tuple[datetime, datetime, datetime] | None = None,
    now: datetime,
    axis: TimeAxis,
    words: str,
    title: str,
    description: str,
    palette: Palette = PAGE,
) -> str:
    """Thin: earlier pieces. Solid: the one that is fitted. Dotted on to the tint between the first and last
    of `ends`, a tick at the middle; what lies beyond the axis is left out. `words` stand above all to come.
    """
    today = axis.at(now)
    drawn = [svg.line((x, 0), (x, HEIGHT_PX), stroke=palette.hairline, width=1.0) for _, x in axis.years()]
    for start, end in earlier:
        if end > axis.start:
            drawn += _piece((axis.at(start), axis.at(end)), stroke=palette.rule, width=2.25)
    drawn += _piece((axis.at(since), today), stroke=palette.ink, width=4.0)
    if ends is not None:
        drawn += _to_come(today, ends, axis, palette=palette)
    drawn.append(today_line(axis, now, HEIGHT_PX, palette=palette))
    if words:
        room = axis.width - text_width(words, TEXT_PX)
        at = (max(min(today + 8, room), 0.0), 13.0)
        drawn.append(svg.words(at, words, fill=palette.second, size=TEXT_PX, halo=palette.ground))
    return svg.picture(
        drawn, width=axis.width, height=HEIGHT_PX, title=title, description=description, palette=palette
    )


def today_line(axis: TimeAxis, now: datetime, height: float, *, palette: Palette) -> str:
    """Where the past ends."""
    x = axis.at(now)
    return svg.line((x, 0), (x, height), stroke=palette.ink, width=1.75)


def _piece(ends: tuple[float, float], *, stroke: str, width: float) -> list[str]:
    start, end = ends
    ticks = [
        svg.line((start, _MIDDLE_PX - _TICK_HALF_PX), (start, _MIDDLE_PX + _TICK_HALF_PX), stroke=stroke)
    ]
    return [
        *ticks,
        svg.line((start, _MIDDLE_PX), (max(end - 3.0, start), _MIDDLE_PX), stroke=stroke, width=width),
    ]


def _to_come(
    today: float, ends: tuple[datetime, datetime, datetime], axis: TimeAxis, *, palette: Palette
) -> list[str]:
    low, middle, high = (axis.at(each) for each in ends)
    drawn = [svg.line((today, _MIDDLE_PX), (low, _MIDDLE_PX), stroke=palette.ink, dash="3 3")]
    if ends[2] <= axis.end:
        drawn.append(band((low, high), _MIDDLE_PX, palette=palette))
    elif ends[0] < axis.end:
        # It goes on beyond the axis: tint without a bracket at that end.
        corner, size = (low, _MIDDLE_PX - BAND_HALF_PX), (max(high - low, 1.0), 2 * BAND_HALF_PX)
        drawn.append(svg.rectangle(corner, size, fill=palette.tint))
        drawn.append(
            svg.line((low, _MIDDLE_PX - 8.0), (low, _MIDDLE_PX + 8.0), stroke=palette.second, width=1.75)
        )
    if ends[1] < axis.end:
        top, bottom = _MIDDLE_PX - BAND_HALF_PX - 3.0, _MIDDLE_PX + BAND_HALF_PX + 3.0
        drawn.append(svg.line((middle, top), (middle, bottom), stroke=palette.ink, width=5.5))
    return drawn
