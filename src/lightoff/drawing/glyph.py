"""The four shapes that say how a thing stands: disc, triangle, open square, octagon."""

from __future__ import annotations

import math

from lightoff.drawing import svg
from lightoff.drawing.palette import PAGE, Palette
from lightoff.judging.assessment import VERDICT_OF, Judgement, Verdict


def glyph(state: Verdict | Judgement, *, palette: Palette = PAGE, size: float = 20.0) -> str:
    """The shape alone, hidden from screen readers: its word always stands beside it."""
    return svg.element(
        "svg",
        glyph_at(state, (size / 2, size / 2), palette=palette, size=size),
        xmlns="http://www.w3.org/2000/svg",
        width=size,
        height=size,
        viewBox=f"0 0 {svg.number(size)} {svg.number(size)}",
        aria_hidden="true",
        focusable="false",
        fill="none",
    )


def glyph_at(state: Verdict | Judgement, centre: svg.Point, *, palette: Palette, size: float) -> str:
    """The shape inside another drawing, `size` px across."""
    x, y = centre
    half = 0.45 * size
    match VERDICT_OF[state] if isinstance(state, Judgement) else state:
        case Verdict.FIT:
            return svg.ellipse(centre, (half, half), fill=palette.ink)
        case Verdict.NOT_FIT:
            # Its centre of gravity on the line, so that it hangs as the others do.
            corners = (
                (x, y - 1.1 * half),
                (x + 1.05 * half, y + 0.75 * half),
                (x - 1.05 * half, y + 0.75 * half),
            )
            return svg.polygon(corners, fill=palette.ink)
        case Verdict.NOT_PROVEN:
            thick = max(2.0, 0.16 * size)
            side = 0.86 * size - thick
            corner = (x - side / 2, y - side / 2)
            return svg.rectangle(corner, (side, side), fill=palette.ground, stroke=palette.ink, width=thick)
        case Verdict.STOP:
            reach = half * 1.06
            turns = [math.radians(22.5 + 45 * corner) for corner in range(8)]
            return svg.polygon(
                [(x + reach * math.cos(t), y + reach * math.sin(t)) for t in turns], fill=palette.ink
            )
