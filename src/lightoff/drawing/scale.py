"""A number on its own scale: what it is, how sure, what was expected, and where the limit lies."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import lru_cache

from lightoff.drawing import svg
from lightoff.drawing.labels import text_width
from lightoff.drawing.palette import PAGE, Palette
from lightoff.ground import units
from lightoff.ground.estimate import Estimate
from lightoff.ground.values import dataclass
from lightoff.judging.assessment import Figure
from lightoff.terms.shelf import Comparison, Limit
from lightoff.texts import Speaker, band_words

TICK_HALF_PX = 13.0
BAND_HALF_PX = 6.5
STRIP_PX = 30.0
CAPTION_PX = 18.0
MARKS_PX = 18.0
TEXT_PX = 14.0
# These can be below nought; the scale of all others does not begin below it.
_SIGNED = frozenset({"temperature", "temperature_difference", "heating_rate"})


def scale(
    left: Figure | None,
    speaker: Speaker,
    *,
    found: Figure | None = None,
    palette: Palette = PAGE,
    width: float = 290.0,
    caption: bool = True,
    marks: bool = False,
    description: str = "",
) -> str:
    """The strip of one figure. Solid tick as left, open tick as found, whisker doubt, tint expected.

    `caption` writes the expected band and the limit below, `marks` writes "left" and "found" above.
    At least one of the two figures must be there; they are of one key. Raises ValueError otherwise.
    """
    figure = left or found
    if figure is None or (left and found and left.key != found.key):
        raise ValueError("a scale needs one figure, as left, as found, or both of one key")
    ends = scale_ends([each for each in (left, found) if each], dimension=figure.dimension)
    top = MARKS_PX if marks else 0.0
    middle = top + STRIP_PX / 2

    def across(value: float) -> float:
        share = (value - ends[0]) / (ends[1] - ends[0])
        return 3.0 + (width - 6.0) * min(1.0, max(0.0, share))

    drawn = [svg.line((0, middle), (width, middle), stroke=palette.rule)]
    expected, limit, by_sheet = _measures(left, found)
    if expected is not None:
        drawn.append(band((across(expected.low), across(expected.high)), middle, palette=palette))
    for low, high in _beyond(limit):
        drawn.append(_hatched(across, (low, high), middle, width=width, palette=palette))
    if found is not None:
        drawn.append(open_tick((across(found.estimate.value), middle), palette=palette))
    if left is not None:
        estimate = left.estimate
        drawn.append(
            solid_tick(
                (across(estimate.value), middle),
                (across(estimate.low), across(estimate.high)),
                palette=palette,
            )
        )
    if marks:
        places = {
            "left": across(left.estimate.value) if left else None,
            "found": across(found.estimate.value) if found else None,
        }
        drawn += _marks(places, speaker, width=width, palette=palette)
    said = (
        scale_caption(expected, limit, speaker, dimension=figure.dimension, by_sheet=by_sheet)
        if caption
        else ()
    )
    lines = _lines(said, width)
    for row, line in enumerate(lines):
        at = (0.0, top + STRIP_PX + 13 + row * CAPTION_PX)
        drawn.append(svg.words(at, line, fill=palette.second, size=TEXT_PX))
    return svg.picture(
        drawn,
        width=width,
        height=top + STRIP_PX + CAPTION_PX * (max(1, len(lines)) if caption else 0),
        title=_title(figure.key, speaker),
        description=description or scale_words(left, speaker, found=found),
        palette=palette,
    )


def _title(key: str, speaker: Speaker) -> str:
    """What a figure is called; a reading that no area judges is called what its field is called."""
    return speaker.text(f"figure.{key}" if speaker.has(f"figure.{key}") else f"reading.{key}")


def scale_ends(figures: Sequence[Figure], *, dimension: str) -> tuple[float, float]:
    """The two ends of a figure's own scale, SI: all that matters lies on it, with room beyond."""
    shown: list[float] = []
    for figure in figures:
        shown += [figure.estimate.low, figure.estimate.value, figure.estimate.high]
        if figure.expected is not None:
            shown += [figure.expected.low, figure.expected.high]
        shown += [edge for pair in _beyond(figure.limit) for edge in pair if math.isfinite(edge)]
    known = [value for value in shown if math.isfinite(value)] or [0.0]
    low, high = min(known), max(known)
    room = 0.22 * (high - low) or 0.1 * abs(high) or 1.0
    start = low - room
    if dimension not in _SIGNED and all(figure.estimate.value >= 0 for figure in figures):
        start = max(0.0, start)
    return start, high + room


@lru_cache(maxsize=4096)  # under a field it stands in words, and again in the drawing for who cannot see it
def scale_caption(
    expected: Estimate | None,
    limit: Limit | None,
    speaker: Speaker,
    *,
    dimension: str,
    unit: str = "",
    by_sheet: bool = False,
) -> tuple[str, ...]:
    """The expected band and the limit in words, such as "expected 4.1 to 5.9, never below 2".

    "expected up to 5.9, never below 2" where nothing but the limit ends it. In the reader's unit, or in
    `unit`.
    """
    said = []

    def digits(value: float) -> str:
        return speaker.number(value, dimension, unit=unit)

    if expected is not None:
        low, high = digits(expected.low), digits(expected.high)
        said.append(band_words(expected, limit, speaker, low=low, high=high, by_sheet=by_sheet))
    for start, end in _beyond(limit):
        if math.isfinite(start):
            key = "drawing.limit_below" if limit and limit.comparison is Comparison.BELOW else "drawing.limit"
            said.append(speaker.text(key, limit=_short(digits(start))))
        else:
            said.append(speaker.text("drawing.never_below", limit=_short(digits(end))))
    return tuple(said)


def _short(digits: str) -> str:
    """A limit without an empty decimal, as people say it: 2 and not 2.0."""
    return digits.removesuffix(".0")


def _lines(said: Sequence[str], width: float) -> list[str]:
    """The caption in one line where it fits, else one line a part."""
    whole = ", ".join(said)
    if text_width(whole, TEXT_PX, regular=True) <= width:
        return [whole] if whole else []
    return list(said)


def solid_tick(at: svg.Point, doubt: tuple[float, float], *, palette: Palette) -> str:
    """A value as left, with a thick whisker where its doubt is wider than the tick."""
    x, y = at
    drawn = ""
    if doubt[1] - doubt[0] > 8.0:
        drawn += svg.line((doubt[0], y), (doubt[1], y), stroke=palette.ink, width=5.0)
    return drawn + svg.line((x, y - TICK_HALF_PX), (x, y + TICK_HALF_PX), stroke=palette.ink, width=5.5)


def open_tick(at: svg.Point, *, palette: Palette) -> str:
    """A value as found: outlined, with the ground showing through."""
    x, y = at
    return svg.rectangle(
        (x - 3.75, y - TICK_HALF_PX + 1), (7.5, 2 * TICK_HALF_PX - 2), fill=palette.ground, stroke=palette.ink
    )


def band(ends: tuple[float, float], middle: float, *, palette: Palette) -> str:
    """What is expected: tint between two brackets, on a line."""
    start, end = ends
    drawn = svg.rectangle(
        (start, middle - BAND_HALF_PX), (max(end - start, 1.0), 2 * BAND_HALF_PX), fill=palette.tint
    )
    drawn += svg.line((start, middle), (end, middle), stroke=palette.rule)
    for edge in (start, end):
        top, bottom = middle - BAND_HALF_PX - 1.5, middle + BAND_HALF_PX + 1.5
        drawn += svg.line((edge, top), (edge, bottom), stroke=palette.second, width=1.75)
    return drawn


def _beyond(limit: Limit | None) -> list[tuple[float, float]]:
    """The spans, SI, that lie beyond a limit; infinite where they have no other end."""
    if limit is None or limit.value is None:
        return []
    value = units.to_si(limit.value, limit.unit)
    match limit.comparison:
        case Comparison.AT_MOST | Comparison.BELOW:
            return [(value, math.inf)]
        case Comparison.AT_LEAST:
            return [(-math.inf, value)]
        case Comparison.EQUALS_WITHIN:
            width = units.width_to_si(limit.tolerance or 0, limit.unit)
            return [(-math.inf, value - width), (value + width, math.inf)]
        case _:
            return []


def _hatched(
    across: Callable[[float], float],
    span: tuple[float, float],
    middle: float,
    *,
    width: float,
    palette: Palette,
) -> str:
    low, high = span
    start = across(low) if math.isfinite(low) else 0.0
    end = across(high) if math.isfinite(high) else width
    edge = start if math.isfinite(low) else end
    half = BAND_HALF_PX - 0.5
    beyond = svg.hatch_upright((start, middle - half), (end, middle + half), stroke=palette.second, gap=8.0)
    return beyond + svg.line((edge, middle - 8.5), (edge, middle + 8.5), stroke=palette.ink, width=2.5)


@dataclass(slots=True)
class _Mark:
    at: float
    half: float
    text: str


def _marks(places: dict[str, float | None], speaker: Speaker, *, width: float, palette: Palette) -> list[str]:
    """The words "left" and "found" above their ticks, moved apart where they would touch."""
    marks = []
    for name, at in places.items():
        if at is not None:
            text = speaker.text(f"drawing.{name}")
            half = text_width(text, TEXT_PX) / 2
            marks.append(_Mark(min(max(at, half), width - half), half, text))
    marks.sort(key=lambda mark: mark.at)
    if len(marks) == 2:
        first, second = marks
        need = first.half + second.half + 4
        lack = max(0.0, need - (second.at - first.at))
        first.at = max(first.half, first.at - lack / 2)
        second.at = min(width - second.half, max(second.at, first.at + need))
        first.at = min(first.at, second.at - need)
    return [
        svg.words((mark.at, 13), mark.text, fill=palette.second, size=TEXT_PX, anchor="middle")
        for mark in marks
    ]


def scale_words(left: Figure | None, speaker: Speaker, *, found: Figure | None = None) -> str:
    """The strip in words, for those who cannot see it."""
    parts = []
    for figure, key in ((left, "drawing.as_left_is"), (found, "drawing.as_found_is")):
        if figure is not None:
            unit = speaker.unit(figure.dimension)
            value = f"{speaker.number(figure.estimate.value, figure.dimension)} {unit}".strip()
            parts.append(speaker.text(key, value=value))
    figure = left or found
    if figure is not None:
        expected, limit, by_sheet = _measures(left, found)
        parts += scale_caption(expected, limit, speaker, dimension=figure.dimension, by_sheet=by_sheet)
    return ", ".join(filter(None, parts)) + "."


def _measures(left: Figure | None, found: Figure | None) -> tuple[Estimate | None, Limit | None, bool]:
    """The expected band, the limit, and whether the band is by the sheet: those as left where it has them."""
    figures = [each for each in (left, found) if each is not None]
    banded = next((each for each in figures if each.expected is not None), None)
    limit = next((each.limit for each in figures if each.limit is not None), None)
    return (banded.expected, limit, banded.by_sheet) if banded else (None, limit, False)
