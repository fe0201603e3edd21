"""How far a heater ran over its life: thick where a log tells, solid by the meter, dashed where estimated."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from lightoff.drawing import svg
from lightoff.drawing.labels import Box, Places
from lightoff.drawing.palette import PAGE, Palette
from lightoff.drawing.time_axis import TimeAxis
from lightoff.ground.estimate import Estimate
from lightoff.ground.values import dataclass

TEXT_PX = 14.0
_ABOVE_PX, _BELOW_PX = 20.0, 26.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RanStretch:
    """A piece of the life: run hours at its ends with their doubt, and how it is drawn."""

    start: datetime
    end: datetime
    at_start: Estimate
    at_end: Estimate
    line: str  # "solid", "thick" or "dashed"


def ran(
    stretches: Sequence[RanStretch],
    *,
    axis: TimeAxis,
    title: str,
    description: str,
    last: str,
    height: float = 170.0,
    palette: Palette = PAGE,
) -> str:
    """The course of run hours; tint where they may lie. `last` stands at its end."""
    top = max((each.at_end.high for each in stretches), default=1.0) or 1.0
    room = height - _ABOVE_PX - _BELOW_PX

    def at(when: datetime, hours: float) -> svg.Point:
        return axis.at(when), _ABOVE_PX + room * (1.0 - hours / top)

    places = Places(Box(0, 0, axis.width, height))
    drawn = [
        svg.line((x, _ABOVE_PX), (x, height - _BELOW_PX), stroke=palette.hairline, width=1.0)
        for _, x in axis.years()
    ]
    edges = [(each.start, each.at_start) for each in stretches] + [
        (each.end, each.at_end) for each in stretches[-1:]
    ]
    high = [at(when, told.high) for when, told in edges]
    low = [at(when, told.low) for when, told in edges]
    if edges:
        drawn.append(svg.polygon([*high, *reversed(low)], fill=palette.tint))
        drawn += [svg.polyline(edge, stroke=palette.rule, width=1.25) for edge in (high, low)]
    base = height - _BELOW_PX
    drawn.append(svg.line((axis.left, base), (axis.right, base), stroke=palette.line, width=2.5))
    for each in stretches:
        ends = at(each.start, each.at_start.value), at(each.end, each.at_end.value)
        width, dash = {"thick": (5.5, ""), "dashed": (2.0, "5 5")}.get(each.line, (2.0, ""))
        drawn.append(svg.line(*ends, stroke=palette.ink, width=width, dash=dash))
        if each.line == "thick":
            # A log of some days is a speck on a life: its span is marked on the time axis.
            middle = 0.5 * (ends[0][0] + ends[1][0])
            half = max(0.5 * (ends[1][0] - ends[0][0]), 2.5)
            drawn.append(
                svg.line((middle - half, base), (middle + half, base), stroke=palette.ink, width=9.0)
            )
    for year, x in axis.years():
        found = places.find([((x, height - 6.0), "middle")], str(year), size=TEXT_PX)
        if found:
            drawn.append(svg.words(found[0], str(year), fill=palette.second, size=TEXT_PX, anchor="middle"))
    if stretches:
        x, y = at(stretches[-1].end, stretches[-1].at_end.value)
        drawn.append(
            svg.words(
                (x + 8.0, y + 5.0), last, fill=palette.ink, size=TEXT_PX, weight=700, halo=palette.ground
            )
        )
    return svg.picture(
        drawn, width=axis.width, height=height, title=title, description=description, palette=palette
    )
