"""The combustion triangle after Ostwald: where O2 and CO2 of the fuel's dry exhaust can lie."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise

from lightoff.drawing import svg
from lightoff.drawing.labels import Box, Places, around, label_box
from lightoff.drawing.palette import PAGE, Palette
from lightoff.ground.message import Amount
from lightoff.ground.values import dataclass
from lightoff.judging.assessment import BurnPoint, Triangle
from lightoff.terms.visit import Stage
from lightoff.texts import Speaker

TEXT_PX = 14.0
LEAST_WIDTH_PX = 280.0
CROSS_PX = 6.5
# Only where the triangle brings no point of its own: dry air's oxygen, us_standard_atmosphere_1976.
AIR_O2_FRACTION = 0.2095


def triangle(
    burn: Triangle,
    speaker: Speaker,
    *,
    palette: Palette = PAGE,
    width: float = 354.0,
    height: float | None = None,
    description: str = "",
) -> str:
    """The triangle of the fuel with its points; wide enough to be read from 280 px on.

    The line of complete combustion carries ticks of lambda; lines below it are of equal CO and of
    equal lambda. Cross as left, open cross as found, small crosses of earlier visits, ellipse the doubt.
    """
    plot = _plot(burn, width=max(width, LEAST_WIDTH_PX), height=height)
    below, above, taken = _ground(replace(burn, points=(), expected_o2=None), plot, speaker, palette)
    places = Places(Box(0, 0, plot.width, plot.height), list(taken))
    drawn = [below, *_expected(burn, plot, palette=palette), above]
    drawn += _points(burn, plot, speaker, places=places, palette=palette)
    drawn += _air_ratios(burn, plot, speaker, places=places, palette=palette)
    drawn += _more_co(burn, plot, speaker, places=places, palette=palette)
    return svg.picture(
        drawn,
        width=plot.width,
        height=plot.height,
        title=speaker.text("drawing.triangle"),
        description=description or triangle_words(burn, speaker),
        palette=palette,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plot:
    """Where shares of gas fall in px."""

    width: float
    height: float
    left: float
    right: float
    top: float
    bottom: float
    o2_high: float
    co2_low: float
    co2_high: float

    def at(self, o2: float, co2: float) -> svg.Point:
        x = self.left + (self.right - self.left) * o2 / self.o2_high
        y = self.bottom - (self.bottom - self.top) * (co2 - self.co2_low) / (self.co2_high - self.co2_low)
        return x, y

    def reach(self, o2: float, co2: float) -> svg.Point:
        """Half widths in px."""
        x = (self.right - self.left) * o2 / self.o2_high
        return x, (self.bottom - self.top) * co2 / (self.co2_high - self.co2_low)

    def clipped(self, points: list[svg.Point], *, o2_low: float = 0.0) -> list[svg.Point]:
        """The part of a line, in shares, inside the plot; for lines that leave it once."""
        kept: list[svg.Point] = []
        for start, end in pairwise(points):
            piece = _clip(start, end, (o2_low, self.co2_low, self.o2_high, self.co2_high))
            if piece is not None:
                kept += [piece[0]] if not kept else []
                kept.append(piece[1])
        return [self.at(*point) for point in kept]


def _plot(burn: Triangle, *, width: float, height: float | None) -> _Plot:
    believable = [point for point in burn.points if math.isfinite(point.o2_fraction + point.co2_fraction)]
    farthest = max((p.o2_fraction + min(p.o2_half_width, 0.02) for p in believable), default=0.0)
    o2_high = min(0.21, max(0.10, math.ceil(farthest * 50 + 0.25) / 50))
    line_end = _co2_on_line(burn, o2_high)
    lowest = min((p.co2_fraction - min(p.co2_half_width, 0.02) for p in believable), default=line_end)
    highest = max((p.co2_fraction + min(p.co2_half_width, 0.02) for p in believable), default=0.0)
    tall = height or min(0.55 * width, 300.0) + 58.0
    return _Plot(
        width=width,
        height=tall,
        left=26.0,
        right=width - 6.0,
        top=38.0,
        bottom=tall - 26.0,
        o2_high=o2_high,
        co2_low=max(0.0, math.floor(min(line_end, lowest) * 100 - 0.001) / 100),
        co2_high=max(burn.co2_largest_fraction, highest + 0.002),
    )


def _co2_on_line(burn: Triangle, o2: float) -> float:
    """CO2 of complete combustion at this O2: the line is straight, through its farthest known point."""
    known = max(((o2_at, co2_at) for _, o2_at, co2_at in burn.air_ratios), default=(0.0, 0.0))
    far = known if known[0] > 0 else (AIR_O2_FRACTION, 0.0)
    return burn.co2_largest_fraction + (far[1] - burn.co2_largest_fraction) * o2 / far[0]


def _too_little_air(burn: Triangle, plot: _Plot, *, palette: Palette) -> str:
    floor = burn.o2_floor_fraction
    shape = [
        plot.at(0, plot.co2_low),
        plot.at(0, burn.co2_largest_fraction),
        plot.at(floor, max(plot.co2_low, _co2_on_line(burn, floor))),
        plot.at(floor, plot.co2_low),
    ]
    return svg.hatch(shape, stroke=palette.rule, gap=8.0) + svg.line(
        shape[2], shape[3], stroke=palette.rule, width=1.5
    )


@lru_cache(maxsize=64)  # of one fuel it is the same for every reading that the plot has room for
def _ground(
    bare: Triangle, plot: _Plot, speaker: Speaker, palette: Palette
) -> tuple[str, str, tuple[Box, ...]]:
    """What is drawn of the fuel alone, below and above what is expected, and the room that it takes."""
    places = Places(Box(0, 0, plot.width, plot.height))
    grid = _grid(bare.co_lines, bare.air_ratios, bare.o2_floor_fraction, plot, palette)
    _keep_off_the_line(bare, plot, places)
    axes = _axes(bare, plot, speaker, places=places, palette=palette)
    return (
        _too_little_air(bare, plot, palette=palette) + grid,
        _complete(bare, plot, palette=palette) + "".join(axes),
        tuple(places.taken),
    )


def _grid(
    co_lines: Sequence[tuple[float, Sequence[svg.Point]]],
    air_ratios: Sequence[tuple[float, float, float]],
    o2_floor: float,
    plot: _Plot,
    palette: Palette,
) -> str:
    """Lines of equal CO, and of equal lambda as ever more of the carbon burns to CO only."""
    lines = [plot.clipped(list(points), o2_low=o2_floor) for _, points in co_lines]
    for _, o2, co2 in air_ratios:
        if o2 >= o2_floor * 0.999:
            lines.append(plot.clipped([_incomplete(o2, co2, share / 20) for share in range(21)]))
    return "".join(
        svg.polyline(points, stroke=palette.rule, width=1.0) for points in lines if len(points) > 1
    )


def _incomplete(o2: float, co2: float, share: float) -> svg.Point:
    """(O2, CO2) when this share of the carbon burns to CO: each leaves half an O2 over. Exact."""
    volume = 1.0 + share * co2 / 2
    return (o2 + share * co2 / 2) / volume, co2 * (1 - share) / volume


def _complete(burn: Triangle, plot: _Plot, *, palette: Palette) -> str:
    points = plot.clipped(
        [(0.0, burn.co2_largest_fraction), (plot.o2_high, _co2_on_line(burn, plot.o2_high))]
    )
    axes = svg.polyline(
        [plot.at(0, plot.co2_high), plot.at(0, plot.co2_low), plot.at(plot.o2_high, plot.co2_low)],
        stroke=palette.rule,
    )
    return axes + svg.polyline(points, stroke=palette.ink, width=3.0)


def _keep_off_the_line(burn: Triangle, plot: _Plot, places: Places) -> None:
    for step in range(61):
        o2 = plot.o2_high * step / 60
        x, y = plot.at(o2, _co2_on_line(burn, o2))
        if y <= plot.bottom:
            places.take(Box(x - 3, y - 3, x + 3, y + 3))


def _expected(burn: Triangle, plot: _Plot, *, palette: Palette) -> list[str]:
    if burn.expected_o2 is None:
        return []
    ends = [plot.at(o2, _co2_on_line(burn, o2)) for o2 in sorted(burn.expected_o2)]
    slope = plot.at(plot.o2_high, _co2_on_line(burn, plot.o2_high))
    start = plot.at(0, burn.co2_largest_fraction)
    length = math.hypot(slope[0] - start[0], slope[1] - start[1])
    across = (-(slope[1] - start[1]) / length, (slope[0] - start[0]) / length)
    half = 13.0
    corners = [
        (x + side * half * across[0], y + side * half * across[1]) for x, y in ends for side in (1, -1)
    ]
    shape = [corners[0], corners[1], corners[3], corners[2]]
    return [
        svg.polygon(shape, fill=palette.tint),
        svg.line(corners[0], corners[1], stroke=palette.second, width=1.75),
        svg.line(corners[2], corners[3], stroke=palette.second, width=1.75),
    ]


def _axes(burn: Triangle, plot: _Plot, speaker: Speaker, *, places: Places, palette: Palette) -> list[str]:
    """Words at the ends of both axes and numbers between them, wherever there is room."""
    base = plot.bottom + 19
    floor = plot.at(burn.o2_floor_fraction, plot.co2_low)
    drawn = [svg.line((floor[0], plot.bottom), (floor[0], plot.bottom + 6), stroke=palette.rule)]

    def put(at: svg.Point, text: str, anchor: svg.Anchor) -> bool:
        box = label_box(at, text, size=TEXT_PX, anchor=anchor)
        if not places.free(box):
            return False
        places.take(box)
        drawn.append(svg.words(at, text, fill=palette.second, size=TEXT_PX, anchor=anchor))
        return True

    put((plot.left, plot.top - 20), f"CO₂ {speaker.amount(_gas(plot.co2_high))}", "start")
    put(
        (plot.left - 6, plot.bottom + 5),
        speaker.number(plot.co2_low, "gas_fraction").removesuffix(".0"),
        "end",
    )
    put((plot.right, base), f"O₂ {speaker.amount(_gas(plot.o2_high)).replace('.0', '')}", "end")
    put((plot.left, base), speaker.text("drawing.too_little_air"), "start")
    for o2 in range(2, round(plot.o2_high * 100), 2):
        x, y = plot.at(o2 / 100, plot.co2_low)
        if put((x, base), str(o2), "middle"):
            drawn.append(svg.line((x, y), (x, y + 6), stroke=palette.rule))
    return drawn


def _gas(share: float) -> Amount:
    return Amount(value=share, dimension="gas_fraction")


def _air_ratios(
    burn: Triangle, plot: _Plot, speaker: Speaker, *, places: Places, palette: Palette
) -> list[str]:
    """Ticks of lambda above the line of complete combustion; a number only where it has room."""
    drawn = []
    named = False
    for air_ratio, o2, co2 in burn.air_ratios:
        if not (0 < o2 <= plot.o2_high and plot.co2_low <= co2 <= plot.co2_high):
            continue
        x, y = plot.at(o2, co2)
        drawn.append(svg.line((x, y), (x + 4.5, y - 10), stroke=palette.ink))
        text = f"{air_ratio:.2f}".rstrip("0").ljust(3, "0") if air_ratio % 1 else f"{air_ratio:.1f}"
        spot = ((x + 7, y - 13), (x + 12, y - 20), (x + 2, y - 17))
        found = places.find([(at, "start") for at in spot], text, size=TEXT_PX)
        if found is None:
            continue
        drawn.append(svg.words(found[0], text, fill=palette.ink, size=TEXT_PX, halo=palette.ground))
        if not named:
            # Digits are 0.63 em, the point 0.28 em: measured in the typeface.
            beside = (found[0][0] + (0.63 * (len(text) - 1) + 0.28) * TEXT_PX + 6, found[0][1])
            word = speaker.text("drawing.air_ratio")
            if places.find([(beside, "start")], word, size=TEXT_PX):
                named = True
                drawn.append(svg.words(beside, word, fill=palette.second, size=TEXT_PX, halo=palette.ground))
    return drawn


def _points(burn: Triangle, plot: _Plot, speaker: Speaker, *, places: Places, palette: Palette) -> list[str]:
    """Earlier visits first and small, then as found, then as left on top; words at this visit's points."""
    rank = {Stage.AS_FOUND: 1, Stage.AS_LEFT: 2}
    points = sorted(
        burn.points, key=lambda point: (point.now, rank[point.stage] if point.now else 0, point.at)
    )
    drawn, spoken = [], []
    for point in points:
        if not math.isfinite(point.o2_fraction + point.co2_fraction):
            continue
        centre = plot.at(point.o2_fraction, point.co2_fraction)
        if not point.now:
            drawn.append(_cross(centre, 3.5, stroke=palette.second, width=1.75))
            continue
        reach = plot.reach(point.o2_half_width, point.co2_half_width)
        drawn.append(_now(point, centre, reach, plot, palette=palette))
        mark = (min(max(reach[0], CROSS_PX), 40.0), min(max(reach[1], CROSS_PX), 30.0))
        places.take(Box(centre[0] - mark[0], centre[1] - mark[1], centre[0] + mark[0], centre[1] + mark[1]))
        spoken.append((point, centre, mark))
    for point, centre, mark in reversed(spoken):
        left = point.stage is Stage.AS_LEFT
        text = speaker.text("drawing.left" if left else "drawing.found")
        found = places.find(around(centre, reach=mark, size=TEXT_PX), text, size=TEXT_PX)
        if found is not None:
            drawn.append(
                svg.words(
                    found[0],
                    text,
                    fill=palette.ink if left else palette.second,
                    size=TEXT_PX,
                    weight=700 if left else 400,
                    anchor=found[1],
                    halo=palette.ground,
                )
            )
    return drawn


def _now(point: BurnPoint, centre: svg.Point, reach: svg.Point, plot: _Plot, *, palette: Palette) -> str:
    """A point of this visit: cross, solid as left or open as found, in the ellipse of its doubt."""
    doubt = ""
    if max(reach) > CROSS_PX:
        doubt = _ellipse(centre, reach, plot, palette=palette)
    if point.stage is Stage.AS_LEFT:
        return doubt + _cross(centre, CROSS_PX, stroke=palette.ink, width=5.0)
    return doubt + _open_cross(centre, CROSS_PX + 1.5, palette=palette)


def _ellipse(centre: svg.Point, reach: svg.Point, plot: _Plot, *, palette: Palette) -> str:
    """The doubt of a point; where it would leave the plot, only the arcs inside."""
    x, y = centre
    rx, ry = reach
    window = (plot.left - 4, plot.top - 10, plot.right, plot.bottom)
    if x - rx >= window[0] and x + rx <= window[2] and y - ry >= window[1] and y + ry <= window[3]:
        return svg.ellipse(centre, reach, stroke=palette.ink)
    turns = [math.tau * step / 240 for step in range(241)]
    rim = [(x + rx * math.cos(turn), y + ry * math.sin(turn)) for turn in turns]
    pieces = [_clip(start, end, window) for start, end in pairwise(rim)]
    return svg.strokes([piece for piece in pieces if piece is not None], stroke=palette.ink)


def _cross(centre: svg.Point, half: float, *, stroke: str, width: float) -> str:
    x, y = centre
    return svg.line((x - half, y), (x + half, y), stroke=stroke, width=width) + svg.line(
        (x, y - half), (x, y + half), stroke=stroke, width=width
    )


def _open_cross(centre: svg.Point, half: float, *, palette: Palette) -> str:
    x, y = centre
    arm = 2.75
    turn = ((-arm, -half), (arm, -half), (arm, -arm), (half, -arm), (half, arm), (arm, arm))
    outline = [*turn, *((-dx, -dy) for dx, dy in turn)]
    return svg.polygon(
        [(x + dx, y + dy) for dx, dy in outline], fill=palette.ground, stroke=palette.ink, width=1.75
    )


def _more_co(burn: Triangle, plot: _Plot, speaker: Speaker, *, places: Places, palette: Palette) -> list[str]:
    """Which way CO grows, with an arrow, somewhere below the line where nothing else stands."""
    text = speaker.text("drawing.more_co")
    shares = (0.62, 0.5, 0.4, 0.72)
    candidates: list[tuple[svg.Point, svg.Anchor]] = []
    for share in shares:
        o2 = share * plot.o2_high
        line_y = plot.at(o2, _co2_on_line(burn, o2))[1]
        for drop in (0.7, 0.8, 0.55):
            y = line_y + drop * (plot.bottom - line_y)
            if plot.bottom - y > 12 and y - line_y > 30:
                candidates.append(((plot.at(o2, 0)[0], y), "end"))
    found = places.find(candidates, text, size=TEXT_PX)
    if found is None:
        return []
    x, y = found[0]
    tip = (x + 10, y + 5)
    arrow = svg.line((tip[0], y - 13), tip, stroke=palette.second, width=2.0)
    arrow += svg.polyline([(tip[0] - 5, tip[1] - 6), tip, (tip[0] + 5, tip[1] - 6)], stroke=palette.second)
    return [
        svg.words((x, y), text, fill=palette.second, size=TEXT_PX, anchor="end", halo=palette.ground),
        arrow,
    ]


def _clip(
    start: svg.Point, end: svg.Point, window: tuple[float, float, float, float]
) -> tuple[svg.Point, svg.Point] | None:
    """The piece of a straight line inside a window (left, low, right, high); Liang and Barsky's way."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    enter, leave = 0.0, 1.0
    for step, room in (
        (-dx, start[0] - window[0]),
        (dx, window[2] - start[0]),
        (-dy, start[1] - window[1]),
        (dy, window[3] - start[1]),
    ):
        if step == 0:
            if room < 0:
                return None
        elif step < 0:
            enter = max(enter, room / step)
        else:
            leave = min(leave, room / step)
    if enter >= leave:
        return None
    return (
        (start[0] + enter * dx, start[1] + enter * dy),
        (start[0] + leave * dx, start[1] + leave * dy),
    )


def triangle_words(burn: Triangle, speaker: Speaker) -> str:
    """The points of the triangle in words, for those who cannot see it."""
    said = []
    for point in burn.points:
        if point.now:
            left = point.stage is Stage.AS_LEFT
            said.append(
                speaker.text(
                    "drawing.point_left" if left else "drawing.point_found",
                    o2=Amount(value=point.o2_fraction, dimension="gas_fraction"),
                    co2=Amount(value=point.co2_fraction, dimension="gas_fraction"),
                    air_ratio=Amount(value=point.air_ratio, dimension="ratio"),
                )
            )
    earlier = sum(not point.now for point in burn.points)
    if earlier:
        key = "drawing.points_earlier_one" if earlier == 1 else "drawing.points_earlier"
        said.append(speaker.text(key, count=earlier))
    return " ".join(said) or speaker.text("drawing.no_points")
