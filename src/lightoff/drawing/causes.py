"""What ended how many by age: shares of causes stacked, each named where its layer ends.

Below the line of ages stands how many were under observation.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from lightoff.drawing import svg
from lightoff.drawing.course import ticks_of
from lightoff.drawing.labels import text_width
from lightoff.drawing.palette import PAGE, Palette
from lightoff.ground.values import dataclass

TEXT_PX = 14.0
_TOP_PX, _FOOT_PX, _LINE_PX = 14.0, 44.0, 18.0
HEIGHT_PX = 240.0
_MOST_COUNTS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseLayer:
    """One cause: its name, and its share by age, rising; the last holds to the end."""

    name: str
    shares: Sequence[tuple[float, float]]


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseWords:
    """The words of the drawing: its name, what it says, the unit of ages, the line below."""

    title: str
    description: str
    ages: str
    at_risk: str


def causes(
    layers: Sequence[CauseLayer],
    counts: Sequence[tuple[float, int]],
    words: CauseWords,
    *,
    oldest: float,
    as_value: Callable[[float], str],
    as_age: Callable[[float], str],
    width: float = 660.0,
    palette: Palette = PAGE,
) -> str:
    """Layers one above the other, the largest at the foot, each edge ruled.

    `counts` are ages with how many were under observation there.
    """
    top = max(sum(layer.shares[-1][1] for layer in layers if layer.shares), 0.02)
    most = next(each for each in (0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0) if each >= min(top, 1.0))
    left = 10.0 + max(text_width(as_value(each), TEXT_PX) for each in (0.0, most / 2, most))
    named = max((text_width(layer.name, TEXT_PX) for layer in layers), default=0.0)
    beside = named + 14.0 if width >= 500.0 else 12.0
    right, foot = width - beside, HEIGHT_PX - _FOOT_PX

    def at(age: float, share: float) -> svg.Point:
        across = min(max(age / oldest, 0.0), 1.0)
        return left + (right - left) * across, foot - (foot - _TOP_PX) * min(share / most, 1.0)

    drawn = _scales(at, as_value, as_age, words, oldest=oldest, most=most, right=right, palette=palette)
    ages = sorted({0.0, oldest, *(age for layer in layers for age, _ in layer.shares if age <= oldest)})
    below = [0.0] * len(ages)
    middles = []
    edges = []
    for layer in layers:
        above = [low + _share_at(layer.shares, age) for low, age in zip(below, ages, strict=True)]
        upper = _stepped(ages, above, at)
        edges.append(svg.polyline(upper, stroke=palette.ink, width=2.5 if layer is layers[-1] else 1.5))
        middles.append((at(oldest, 0.5 * (above[-1] + below[-1]))[1], layer.name))
        below = above
    drawn += edges
    if width >= 500.0:
        drawn += [
            svg.words((right + 8.0, y + 5.0), name, fill=palette.ink, size=TEXT_PX)
            for y, name in _apart(middles, foot)
        ]
    drawn += _counts(counts, at, words, oldest=oldest, foot=foot, palette=palette)
    return svg.picture(
        drawn,
        width=width,
        height=HEIGHT_PX,
        title=words.title,
        description=words.description,
        palette=palette,
    )


def _scales(
    at: Callable[[float, float], svg.Point],
    as_value: Callable[[float], str],
    as_age: Callable[[float], str],
    words: CauseWords,
    *,
    oldest: float,
    most: float,
    right: float,
    palette: Palette,
) -> list[str]:
    drawn = []
    for share in (0.0, most / 2, most):
        x, y = at(0.0, share)
        drawn.append(
            svg.words((x - 6, y + 5), as_value(share), fill=palette.second, size=TEXT_PX, anchor="end")
        )
        ruled = palette.hairline if share else palette.line
        drawn.append(svg.line((x, y), (right, y), stroke=ruled, width=1.0 if share else 2.0))
    foot = at(0.0, 0.0)[1]
    free = right - text_width(words.ages, TEXT_PX) - 8.0
    for age in ticks_of(oldest):
        x, _ = at(age, 0.0)
        drawn.append(svg.line((x, foot), (x, foot + 6), stroke=palette.line))
        if x + text_width(as_age(age), TEXT_PX) / 2 < free:
            drawn.append(
                svg.words((x, foot + 20), as_age(age), fill=palette.second, size=TEXT_PX, anchor="middle")
            )
    drawn.append(svg.words((right, foot + 20), words.ages, fill=palette.second, size=TEXT_PX, anchor="end"))
    return drawn


def _counts(
    counts: Sequence[tuple[float, int]],
    at: Callable[[float, float], svg.Point],
    words: CauseWords,
    *,
    oldest: float,
    foot: float,
    palette: Palette,
) -> list[str]:
    """A few counts of those under observation, along the ages, where they have room."""
    drawn = [svg.words((0.0, foot + 38.0), words.at_risk, fill=palette.second, size=TEXT_PX)]
    free = text_width(words.at_risk, TEXT_PX) + 8.0
    for place in range(_MOST_COUNTS):
        wanted = oldest * (place + 0.5) / _MOST_COUNTS
        found = next(((age, count) for age, count in counts if age >= wanted), None)
        if found is None or found[0] > oldest:
            continue
        x, _ = at(found[0], 0.0)
        half = text_width(str(found[1]), TEXT_PX) / 2
        if x - half > free:
            free = x + half + 6.0
            drawn.append(svg.line((x, foot), (x, foot + 6), stroke=palette.ink, width=4.0))
            drawn.append(
                svg.words(
                    (x, foot + 38.0),
                    str(found[1]),
                    fill=palette.ink,
                    size=TEXT_PX,
                    weight=700,
                    anchor="middle",
                )
            )
    return drawn


def _share_at(shares: Sequence[tuple[float, float]], age: float) -> float:
    value = 0.0
    for each, share in shares:
        if each > age:
            break
        value = share
    return value


def _stepped(
    ages: Sequence[float], shares: Sequence[float], at: Callable[[float, float], svg.Point]
) -> list[svg.Point]:
    points, before = list[svg.Point](), 0.0
    for age, share in zip(ages, shares, strict=True):
        points += [at(age, before), at(age, share)]
        before = share
    return points


def _apart(middles: Sequence[tuple[float, str]], foot: float) -> list[tuple[float, str]]:
    """Names from the foot upwards, moved up where they would touch; none above the picture's top."""
    told, last = list[tuple[float, str]](), foot + _LINE_PX
    for y, name in middles:
        last = min(y, last - _LINE_PX)
        told.append((last, name))
    low = _TOP_PX - (told[-1][0] if told else _TOP_PX)
    return [(y + low, name) for y, name in told] if low > 0.0 else told
