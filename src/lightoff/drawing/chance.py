"""A chance on the line from hardly to nearly sure, with how far it moves as a whisker."""

from __future__ import annotations

from lightoff.drawing import svg
from lightoff.drawing.palette import PAGE, Palette
from lightoff.ground.message import message
from lightoff.texts import Speaker

HEIGHT_PX = 22.0
_TICKS = (0.0, 0.25, 0.5, 0.75, 1.0)


def chance(
    value: float,
    low: float,
    high: float,
    speaker: Speaker,
    *,
    title: str,
    palette: Palette = PAGE,
    width: float = 334.0,
) -> str:
    """The strip of one chance. `low` to `high` is the whisker; all three from nought to one."""
    middle = HEIGHT_PX / 2

    def across(share: float) -> float:
        return 2.0 + (width - 4.0) * min(1.0, max(0.0, share))

    def upright(share: float, half: float, stroke: str, *, width: float = 2.0) -> str:
        at = across(share)
        return svg.line((at, middle - half), (at, middle + half), stroke=stroke, width=width)

    drawn = [svg.line((0.0, middle), (width, middle), stroke=palette.rule)]
    drawn += [upright(each, 4.0, palette.rule) for each in _TICKS]
    drawn.append(svg.line((across(low), middle), (across(high), middle), stroke=palette.ink, width=4.0))
    drawn += [upright(end, 5.0, palette.ink) for end in (low, high)]
    drawn.append(upright(value, 10.0, palette.ink, width=5.0))
    said = message("drawing.chance", percent=round(100 * value), low=round(100 * low), high=round(100 * high))
    return svg.picture(
        drawn,
        width=width,
        height=HEIGHT_PX,
        title=title,
        description=speaker.say(said),
        palette=palette,
    )
