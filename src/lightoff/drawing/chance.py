"""A chance on the line from hardly to nearly sure, with how far it moves as a whisker."""

from __future__ import annotations

from lightoff.drawing import svg
from lightoff.drawing.palette import PAGE, Palette
from lightoff.ground.message import message
from lightoff.texts import Speaker

HEIGHT_PX = 22.0
LEGEND_PX = 30.0
_TICKS = (0.0, 0.25, 0.5, 0.75, 1.0)
_TICK_PX = 5.0
# The word that stands for a chance at each tick.
_WORDS = ("hardly", "possible", "even", "likely", "almost_sure")
_ASIDE_PX = {"likely": 12.0}  # room for the last word


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

    def upright(share: float, half: float, stroke: str, *, thick: float = 2.0) -> str:
        at = _across(share, width)
        return svg.line((at, middle - half), (at, middle + half), stroke=stroke, width=thick)

    drawn = [svg.line((0.0, middle), (width, middle), stroke=palette.rule)]
    drawn += [upright(each, 4.0, palette.rule) for each in _TICKS]
    ends = (_across(low, width), _across(high, width))
    if ends[1] - ends[0] > _TICK_PX:  # a doubt no wider than the tick is not drawn
        drawn.append(svg.line((ends[0], middle), (ends[1], middle), stroke=palette.ink, width=4.0))
        drawn += [upright(end, 5.0, palette.ink) for end in (low, high)]
    drawn.append(upright(value, 10.0, palette.ink, thick=_TICK_PX))
    said = message("drawing.chance", percent=round(100 * value), low=round(100 * low), high=round(100 * high))
    return svg.picture(
        drawn,
        width=width,
        height=HEIGHT_PX,
        title=title,
        description=speaker.say(said),
        palette=palette,
    )


def chance_legend(speaker: Speaker, *, palette: Palette = PAGE, width: float = 334.0) -> str:
    """The line of all strips with its words, once above them."""
    foot = LEGEND_PX - 2.0
    drawn = [svg.line((0.0, foot), (width, foot), stroke=palette.rule)]
    for at, word in zip(_TICKS, _WORDS, strict=True):
        x = _across(at, width)
        drawn.append(svg.line((x, foot - 5.0), (x, foot), stroke=palette.rule))
        anchor: svg.Anchor = "start" if at == 0.0 else "end" if at == 1.0 else "middle"
        place = {"start": 0.0, "end": width}.get(anchor, x - _ASIDE_PX.get(word, 0.0))
        text = speaker.text(f"drawing.chance_{word}")
        drawn.append(svg.words((place, 15.0), text, fill=palette.second, size=14.0, anchor=anchor))
    title = speaker.text("drawing.chance_legend")
    return svg.picture(drawn, width=width, height=LEGEND_PX, title=title, description=title, palette=palette)


def _across(share: float, width: float) -> float:
    return 2.0 + (width - 4.0) * min(1.0, max(0.0, share))
