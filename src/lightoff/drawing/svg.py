"""A small SVG writer: elements as escaped text, and nothing else."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from functools import cache, lru_cache
from typing import Literal

from lightoff.drawing.palette import Palette

Point = tuple[float, float]
Anchor = Literal["start", "middle", "end"]

LEAST_TEXT_PX = 13.0
_SHORT = 40  # what is longer, a path or a description, comes up once
_SUBSCRIPTS = re.compile("([₀-₉]+)")
_SPECIAL = re.compile('[&<>"\n\r\t]')
# By hand: the standard library's own escaping of XML brings in half of its network modules.
_ESCAPES = str.maketrans({"&": "&amp;", "<": "&lt;", ">": "&gt;"})
_QUOTED = str.maketrans(
    {"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "\n": "&#10;", "\r": "&#13;", "\t": "&#9;"}
)
_PLAIN = str.maketrans("₀₁₂₃₄₅₆₇₈₉", "0123456789")


@lru_cache(maxsize=16_384)  # the same few places come up in every drawing
def number(value: float) -> str:
    """A coordinate with at most two decimals and no exponent."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def element(name: str, content: str = "", /, **attributes: str | float) -> str:
    """One element; `_` in an attribute's name stands for `-`. `content` is already SVG."""
    said = "".join([f" {_attribute(key)}={_shown(value)}" for key, value in attributes.items()])
    return f"<{name}{said}>{content}</{name}>" if content else f"<{name}{said}/>"


def escape(text: str) -> str:
    """Text between two tags."""
    return text.translate(_ESCAPES) if _SPECIAL.search(text) else text


@cache
def _attribute(key: str) -> str:
    return key.rstrip("_").replace("_", "-")


def _shown(value: str | float) -> str:
    """The value of an attribute in its quotes."""
    if isinstance(value, str):
        return _quoted(value) if len(value) < _SHORT else _quoted.__wrapped__(value)
    return f'"{number(value)}"'


@lru_cache(maxsize=4096)  # colours and words of the language: the same few again and again
def _quoted(text: str) -> str:
    return f'"{text.translate(_QUOTED) if _SPECIAL.search(text) else text}"'


def picture(  # the frame of every drawing
    content: Iterable[str], *, width: float, height: float, title: str, description: str, palette: Palette
) -> str:
    """A whole drawing: sized in CSS px, named and described for those who cannot see it."""
    told = f"<desc>{escape(description)}</desc>" if description else ""
    label = f"{title}. {description}" if description else title
    wide, high = number(width), number(height)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}" height="{high}" viewBox="0 0 {wide} {high}"'
        f' role="img" aria-label={_shown(label)} font-family={_shown(palette.typeface)}'
        f' font-size="{number(LEAST_TEXT_PX)}" fill="none"><title>{escape(title)}</title>{told}'
        f"{''.join(content)}</svg>"
    )


def line(start: Point, end: Point, *, stroke: str, width: float = 2.0, dash: str = "") -> str:
    """A straight line."""
    ends = f"x1={_shown(start[0])} y1={_shown(start[1])} x2={_shown(end[0])} y2={_shown(end[1])}"
    dashed = f" stroke-dasharray={_shown(dash)}" if dash else ""
    return f"<line {ends} stroke={_shown(stroke)} stroke-width={_shown(width)}{dashed}/>"


def polyline(points: Sequence[Point], *, stroke: str, width: float = 2.0) -> str:
    """An open line through points."""
    return element("polyline", points=_listed(points), stroke=stroke, stroke_width=width, fill="none")


def strokes(pieces: Sequence[tuple[Point, Point]], *, stroke: str, width: float = 2.0) -> str:
    """Many straight pieces as one path."""
    if not pieces:
        return ""
    d = "".join(f"M{number(a[0])} {number(a[1])}L{number(b[0])} {number(b[1])}" for a, b in pieces)
    return element("path", d=d, stroke=stroke, stroke_width=width, stroke_linecap="round")


def polygon(points: Sequence[Point], *, fill: str = "none", stroke: str = "none", width: float = 2.0) -> str:
    """A closed shape with square corners."""
    return element("polygon", points=_listed(points), fill=fill, stroke=stroke, stroke_width=width)


def rectangle(
    corner: Point, size: Point, *, fill: str = "none", stroke: str = "none", width: float = 2.0
) -> str:
    """A rectangle from its upper left corner."""
    lies = f"x={_shown(corner[0])} y={_shown(corner[1])} width={_shown(size[0])} height={_shown(size[1])}"
    return f"<rect {lies} fill={_shown(fill)} stroke={_shown(stroke)} stroke-width={_shown(width)}/>"


def ellipse(
    centre: Point, radii: Point, *, fill: str = "none", stroke: str = "none", width: float = 2.0
) -> str:
    """An upright ellipse."""
    return element(
        "ellipse",
        cx=centre[0],
        cy=centre[1],
        rx=radii[0],
        ry=radii[1],
        fill=fill,
        stroke=stroke,
        stroke_width=width,
    )


def words(
    at: Point,
    text: str,
    *,
    fill: str,
    size: float = 14.0,
    weight: int = 400,
    anchor: Anchor = "start",
    halo: str = "",
) -> str:
    """Text on its baseline; `halo` is the ground colour that keeps lines off the letters."""
    place: dict[str, str | float] = {
        "x": at[0],
        "y": at[1],
        "font_size": size,
        "font_weight": str(weight),
        "text_anchor": anchor,
    }
    inner = _lettered(text, size)
    drawn = element("text", inner, fill=fill, **place)
    if not halo:
        return drawn
    # Not by paint-order: the typesetter of the report does not know it.
    around: dict[str, str | float] = {"stroke": halo, "stroke_width": 5, "stroke_linejoin": "round"}
    return element("text", inner, aria_hidden="true", **place, **around) + drawn


def _lettered(text: str, size: float) -> str:
    """Escaped text with its subscripts set as small digits: few typefaces have signs for them."""
    drop = number(0.16 * size)
    small = number(0.7 * size)
    pieces = _SUBSCRIPTS.split(text)
    drawn = escape(pieces[0])
    for digit, rest in zip(pieces[1::2], pieces[2::2], strict=True):
        plain = digit.translate(_PLAIN)
        drawn += f'<tspan dy="{drop}" font-size="{small}">{plain}</tspan>'
        drawn += f'<tspan dy="-{drop}">{escape(rest)}</tspan>'
    return drawn


def run(at: Point, pieces: Sequence[tuple[str, float, int, str]], *, gap: float = 7.0) -> str:
    """Words of several cuts on one baseline: (text, size, weight, fill) each, set by their true widths."""
    inner = ""
    for index, (text, size, weight, fill) in enumerate(piece for piece in pieces if piece[0]):
        extra: dict[str, str | float] = {"dx": gap} if index else {}
        inner += element("tspan", escape(text), font_size=size, font_weight=str(weight), fill=fill, **extra)
    return element("text", inner, x=at[0], y=at[1])


def hatch(shape: Sequence[Point], *, stroke: str, gap: float = 6.0, width: float = 1.25) -> str:
    """Lines at 45 degrees, rising to the right, across a convex shape; every end computed."""
    sums = [x + y for x, y in shape]
    first = int(min(sums) // gap) + 1
    last = int(max(sums) // gap)
    pieces = []
    for step in range(first, last + 1):
        ends = _crossings(shape, step * gap)
        if len(ends) == 2 and ends[0] != ends[1]:
            pieces.append((ends[0], ends[1]))
    return strokes(pieces, stroke=stroke, width=width)


def hatch_upright(start: Point, end: Point, *, stroke: str, gap: float = 6.0, width: float = 1.25) -> str:
    """The same lines across an upright rectangle, from its upper left to its lower right corner."""
    (left, top), (right, bottom) = start, end
    pieces = []
    for step in range(int((left + top) // gap) + 1, int((right + bottom) // gap) + 1):
        total = step * gap
        enters, leaves = max(left, total - bottom), min(right, total - top)
        if enters < leaves:
            pieces.append(((enters, total - enters), (leaves, total - leaves)))
    return strokes(pieces, stroke=stroke, width=width)


def _crossings(shape: Sequence[Point], total: float) -> list[Point]:
    """Where the line x + y = total enters and leaves a convex shape."""
    found: list[Point] = []
    for (x1, y1), (x2, y2) in zip(shape, [*shape[1:], shape[0]], strict=True):
        start, end = x1 + y1 - total, x2 + y2 - total
        if start * end < 0 or (start == 0 and end != 0):
            share = start / (start - end)
            found.append((x1 + share * (x2 - x1), y1 + share * (y2 - y1)))
    return sorted(found)


def _listed(points: Sequence[Point]) -> str:
    return " ".join(f"{number(x)},{number(y)}" for x, y in points)
