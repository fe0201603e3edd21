"""A share or a count by age: seen as steps with whiskers, possible as a band, judged as dashes.

The vertical reads upwards. How many were under observation stands below the line of ages.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

from lightoff.drawing import svg
from lightoff.drawing.labels import Box, Places, text_width
from lightoff.drawing.palette import PAGE, Palette
from lightoff.ground.estimate import Estimate
from lightoff.ground.values import dataclass

TEXT_PX = 14.0
HEIGHT_PX = 240.0
_TOP_PX, _FOOT_PX, _RIGHT_PX = 14.0, 44.0, 12.0
_MOST_WHISKERS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """What holds from an age on, and how many were under observation there."""

    age: float
    value: Estimate
    at_risk: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CourseWords:
    """The words of one drawing: its name, what it says, its marks, and the line below it."""

    title: str
    description: str
    ages: str  # "run hours"
    at_risk: str  # "under observation"
    seen: str
    possible: str = ""
    judged: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Frame:
    left: float
    right: float
    top: float
    foot: float
    oldest: float
    most: float

    def at(self, age: float, value: float) -> svg.Point:
        across = min(max(age / self.oldest, 0.0), 1.0)
        up = min(max(value / self.most, 0.0), 1.0)
        return self.left + (self.right - self.left) * across, self.foot - (self.foot - self.top) * up


def course(
    steps: Sequence[Step],
    words: CourseWords,
    *,
    oldest: float,
    start: float = 1.0,
    most: float = 1.0,
    possible: Sequence[tuple[float, Estimate]] = (),
    judged: Sequence[tuple[float, float]] = (),
    as_value: Callable[[float], str],
    as_age: Callable[[float], str],
    width: float = 660.0,
    palette: Palette = PAGE,
) -> str:
    """Steps from `start` on, over ages from nought to `oldest` and values from nought to `most`.

    `possible` and `judged` are points of smooth lines by rising age; `as_value` and `as_age` write the
    numbers of the two scales.
    """
    left = 10.0 + max(text_width(as_value(each), TEXT_PX) for each in (0.0, most / 2, most))
    frame = _Frame(
        left=left,
        right=width - _RIGHT_PX,
        top=_TOP_PX,
        foot=HEIGHT_PX - _FOOT_PX,
        oldest=oldest,
        most=most,
    )
    places = Places(Box(0.0, 0.0, width, HEIGHT_PX))
    drawn = [
        *_band(possible, frame, palette=palette),
        *_scales(frame, as_value, as_age, words, palette=palette),
    ]
    if judged:
        drawn += _dashed([frame.at(*each) for each in judged], palette=palette)
    drawn += _seen(steps, frame, start, palette=palette)
    drawn += _whiskers(_spread_out(steps, oldest), frame, words, places, palette=palette)
    drawn += _marks(steps, words, frame, possible, judged, start, places, palette=palette)
    return svg.picture(
        drawn,
        width=width,
        height=HEIGHT_PX,
        title=words.title,
        description=words.description,
        palette=palette,
    )


def ticks_of(oldest: float) -> list[float]:
    """Three to six round ages on the scale, nought among them."""
    size = 10.0 ** len(str(int(oldest)))
    while oldest / size < 1.0:
        size /= 10.0
    step = next(each * size for each in (0.2, 0.25, 0.5, 1.0, 2.0) if oldest / (each * size) < 6.0)
    return [at * step for at in range(int(oldest / step) + 1)]


def _scales(
    frame: _Frame,
    as_value: Callable[[float], str],
    as_age: Callable[[float], str],
    words: CourseWords,
    *,
    palette: Palette,
) -> list[str]:
    foot, second = frame.foot, palette.second
    drawn = [svg.line((frame.left, foot), (frame.right, foot), stroke=palette.line)]
    for share in (0.0, 0.5, 1.0):
        x, y = frame.at(0.0, share * frame.most)
        text = as_value(share * frame.most)
        drawn.append(svg.words((x - 6, y + 5), text, fill=second, size=TEXT_PX, anchor="end"))
        if share:
            drawn.insert(0, svg.line((x, y), (frame.right, y), stroke=palette.hairline, width=1.0))
    free = frame.right - text_width(words.ages, TEXT_PX) - 8.0
    for age in ticks_of(frame.oldest):
        x, y = frame.at(age, 0.0)
        drawn.append(svg.line((x, y), (x, y + 6), stroke=palette.line))
        if x + text_width(as_age(age), TEXT_PX) / 2 < free:
            drawn.append(svg.words((x, y + 20), as_age(age), fill=second, size=TEXT_PX, anchor="middle"))
    drawn.append(svg.words((frame.right, foot + 20), words.ages, fill=second, size=TEXT_PX, anchor="end"))
    return drawn


def _band(possible: Sequence[tuple[float, Estimate]], frame: _Frame, *, palette: Palette) -> list[str]:
    if not possible:
        return []
    top = [frame.at(age, each.high) for age, each in possible]
    low = [frame.at(age, each.low) for age, each in possible]
    edges = [svg.polyline(each, stroke=palette.rule, width=1.25) for each in (top, low)]
    return [svg.polygon([*top, *reversed(low)], fill=palette.tint), *edges]


def _dashed(points: Sequence[svg.Point], *, palette: Palette) -> list[str]:
    listed = " ".join(f"{svg.number(x)},{svg.number(y)}" for x, y in points)
    return [
        svg.element(
            "polyline", points=listed, stroke=palette.second, stroke_width=1.75, stroke_dasharray="6 5"
        )
    ]


def _seen(steps: Sequence[Step], frame: _Frame, start: float, *, palette: Palette) -> list[str]:
    points, value = [frame.at(0.0, start)], start
    for each in steps:
        points += [frame.at(each.age, value), frame.at(each.age, each.value.value)]
        value = each.value.value
    points.append(frame.at(frame.oldest, value))
    return [svg.polyline(points, stroke=palette.ink, width=2.5)]


def _spread_out(steps: Sequence[Step], oldest: float) -> list[Step]:
    """A few steps to hang whiskers on, about evenly along the ages."""
    wanted = [oldest * (at + 0.5) / _MOST_WHISKERS for at in range(_MOST_WHISKERS)]
    nearest = {min(steps, key=lambda each: abs(each.age - age)).age for age in wanted} if steps else set()
    return [each for each in steps if each.age in nearest]


def _whiskers(
    chosen: Sequence[Step], frame: _Frame, words: CourseWords, places: Places, *, palette: Palette
) -> list[str]:
    """Thick where the doubt is wider than the line; below, how many were under observation there."""
    drawn = []
    foot = frame.foot + 38.0
    title = words.at_risk
    if places.find([((0.0, foot), "start")], title, size=TEXT_PX):
        drawn.append(svg.words((0.0, foot), title, fill=palette.second, size=TEXT_PX))
    for each in chosen:
        x, low = frame.at(each.age, each.value.low)
        _, high = frame.at(each.age, each.value.high)
        if low - high > 5.0:
            drawn.append(svg.line((x, low), (x, high), stroke=palette.ink, width=4.0))
            drawn += [svg.line((x - 5, y), (x + 5, y), stroke=palette.ink) for y in (low, high)]
        places.take(Box(x - 6, high - 2, x + 6, low + 2))
        text = str(each.at_risk)
        if places.find([((x, foot), "middle")], text, size=TEXT_PX):
            drawn.append(svg.line((x, frame.foot), (x, frame.foot + 6), stroke=palette.ink, width=4.0))
            drawn.append(
                svg.words((x, foot), text, fill=palette.ink, size=TEXT_PX, weight=700, anchor="middle")
            )
    return drawn


def _marks(
    steps: Sequence[Step],
    words: CourseWords,
    frame: _Frame,
    possible: Sequence[tuple[float, Estimate]],
    judged: Sequence[tuple[float, float]],
    start: float,
    places: Places,
    *,
    palette: Palette,
) -> list[str]:
    """Each line named beside it, where no other line runs."""
    seen = [(age, _value_at(steps, start, age)) for age in _along(frame.oldest)]
    upper = [(age, each.high) for age, each in possible]
    lower = [(age, each.low) for age, each in possible]
    for line in (seen, upper, lower, judged):
        for x, y in _points(line, frame):
            places.take(Box(x - 4, y - 3, x + 4, y + 3))
    drawn = []
    for text, lines, weight in (
        (words.seen, (seen,), 700),
        (words.judged, (judged,), 400),
        (words.possible, (lower, upper), 400),
    ):
        spots: list[tuple[svg.Point, svg.Anchor]] = []
        for lift in (0.0, 8.0, 16.0):
            for x, y in [each for line in lines for each in reversed(_points(line, frame))]:
                spots += [((x, y - 8 - lift), "end"), ((x, y + 19 + lift), "end")]
        room = [
            (at, anchor)
            for at, anchor in spots
            if at[0] - text_width(text, TEXT_PX) > frame.left
            and at[0] < frame.right - 2
            and frame.top + 4 < at[1] < frame.foot - 6
        ]
        found = places.find(room, text, size=TEXT_PX) if text else None
        if found:
            fill = palette.ink if weight == 700 else palette.second
            drawn.append(svg.words(found[0], text, fill=fill, size=TEXT_PX, weight=weight, anchor=found[1]))
    return drawn


def _points(line: Sequence[tuple[float, float]], frame: _Frame) -> list[svg.Point]:
    """A line every few pixels."""
    points = [frame.at(*each) for each in line]
    close = []
    for (x1, y1), (x2, y2) in pairwise(points):
        count = max(int(max(abs(x2 - x1), abs(y2 - y1)) / 6.0), 1)
        close += [(x1 + (x2 - x1) * at / count, y1 + (y2 - y1) * at / count) for at in range(count)]
    return close + points[-1:]


def _along(oldest: float) -> list[float]:
    return [oldest * at / 48.0 for at in range(49)]


def _value_at(steps: Sequence[Step], start: float, age: float) -> float:
    value = start
    for each in steps:
        if each.age > age:
            break
        value = each.value.value
    return value
