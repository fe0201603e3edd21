"""A part's life on its own scale: what is possible now, over what was judged before any was seen."""

from __future__ import annotations

import math

from lightoff.drawing import svg
from lightoff.drawing.palette import PAGE, Palette
from lightoff.drawing.scale import band, solid_tick
from lightoff.ground.estimate import Estimate

HEIGHT_PX = 30.0


def life(
    possible: Estimate,
    judged: Estimate,
    *,
    title: str,
    description: str,
    palette: Palette = PAGE,
    width: float = 290.0,
) -> str:
    """Tick and whisker: the possible lives; bracketed tint: the judgement. The scale counts factors."""
    low = math.log(min(possible.low, judged.low)) - 0.2
    high = math.log(max(possible.high, judged.high)) + 0.2
    middle = HEIGHT_PX / 2

    def across(age: float) -> float:
        return 3.0 + (width - 6.0) * (math.log(age) - low) / (high - low)

    drawn = [
        svg.line((0.0, middle), (width, middle), stroke=palette.rule),
        band((across(judged.low), across(judged.high)), middle, palette=palette),
        solid_tick(
            (across(possible.value), middle), (across(possible.low), across(possible.high)), palette=palette
        ),
    ]
    return svg.picture(
        drawn, width=width, height=HEIGHT_PX, title=title, description=description, palette=palette
    )
