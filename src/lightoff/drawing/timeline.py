"""The visits of one heater on the lying flue line, each with the verdict at its close."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from lightoff.drawing import svg
from lightoff.drawing.glyph import glyph_at
from lightoff.drawing.labels import Box, Places
from lightoff.drawing.palette import PAGE, Palette
from lightoff.drawing.time_axis import TimeAxis
from lightoff.ground.values import dataclass
from lightoff.judging.assessment import Verdict
from lightoff.texts import Speaker

TEXT_PX = 14.0
LINE_PX = 30.0
HEIGHT_PX = 84.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TimelineVisit:
    """One visit: when, its verdict, one or two words below it ("annual"), and whether it is the newest."""

    at: datetime
    verdict: Verdict
    words: str = ""
    now: bool = False


def timeline(
    visits: Sequence[TimelineVisit],
    speaker: Speaker,
    *,
    axis: TimeAxis,
    due: tuple[datetime, datetime] | None = None,
    palette: Palette = PAGE,
    description: str = "",
) -> str:
    """The flue line lying as time. `due` is when the next visit should come: there it glows."""
    places = Places(Box(0, 0, axis.width, HEIGHT_PX))
    drawn = [svg.line((0, LINE_PX), (axis.width, LINE_PX), stroke=palette.line, width=2.5)]
    drawn += _ticks(axis, places=places, palette=palette)
    if due is not None:
        start, end = axis.at(due[0]), axis.at(due[1])
        drawn.append(
            svg.line((start, LINE_PX), (max(end, start + 8), LINE_PX), stroke=palette.ember, width=9.0)
        )
    drawn += [_verdict(visit, axis, palette=palette) for visit in sorted(visits, key=lambda each: each.at)]
    # The newest visits get their words first; where it is too tight, older ones go without.
    for visit in sorted(visits, key=lambda each: (each.now, each.at), reverse=True):
        drawn += _named(visit, axis, speaker, places=places, palette=palette)
    if due is not None:
        middle = (axis.at(due[0]) + axis.at(due[1])) / 2
        drawn += _below(
            middle, (_month(due[0], speaker), speaker.text("drawing.due")), places, palette=palette
        )
    return svg.picture(
        drawn,
        width=axis.width,
        height=HEIGHT_PX,
        title=speaker.text("drawing.timeline"),
        description=description or _described(visits, speaker),
        palette=palette,
    )


def _ticks(axis: TimeAxis, *, places: Places, palette: Palette) -> list[str]:
    drawn = [
        svg.line((x, LINE_PX - 5), (x, LINE_PX), stroke=palette.line, width=1.5) for x in axis.quarters()
    ]
    for year, x in axis.years():
        drawn.append(svg.line((x, LINE_PX - 15), (x, LINE_PX), stroke=palette.line, width=1.75))
        if places.find([((x + 6, LINE_PX - 11), "start")], str(year), size=TEXT_PX):
            drawn.append(svg.words((x + 6, LINE_PX - 11), str(year), fill=palette.second, size=TEXT_PX))
    return drawn


def _verdict(visit: TimelineVisit, axis: TimeAxis, *, palette: Palette) -> str:
    x = axis.at(visit.at)
    size = 16.0
    gap = svg.line((x - size * 0.75, LINE_PX), (x + size * 0.75, LINE_PX), stroke=palette.ground, width=6.0)
    return gap + glyph_at(visit.verdict, (x, LINE_PX), palette=palette, size=size)


def _named(
    visit: TimelineVisit, axis: TimeAxis, speaker: Speaker, *, places: Places, palette: Palette
) -> list[str]:
    return _below(axis.at(visit.at), (_month(visit.at, speaker), visit.words), places, palette=palette)


def _below(x: float, lines: tuple[str, str], places: Places, *, palette: Palette) -> list[str]:
    """Two short lines below the flue line; the second only if it has room."""
    drawn = []
    for row, text in enumerate(lines):
        y = LINE_PX + 28 + 18 * row
        spots: list[tuple[svg.Point, svg.Anchor]] = [
            ((x, y), "middle"),
            ((x - 10, y), "start"),
            ((x + 10, y), "end"),
        ]
        found = places.find(spots, text, size=TEXT_PX) if text else None
        if found is None:
            break
        drawn.append(
            svg.words(
                found[0],
                text,
                fill=palette.second if row else palette.ink,
                size=TEXT_PX,
                weight=400 if row else 700,
                anchor=found[1],
            )
        )
    return drawn


def _month(when: datetime, speaker: Speaker) -> str:
    day = speaker.date_of(when)
    return f"{speaker.text(f'month.{day.month}')[:3]} {day.year % 100:02d}"


def _described(visits: Sequence[TimelineVisit], speaker: Speaker) -> str:
    said = [
        f"{speaker.day(visit.at)}: {speaker.text(f'verdict.{visit.verdict}').lower()}"
        for visit in sorted(visits, key=lambda each: each.at)
    ]
    return "; ".join(said) + "." if said else speaker.text("drawing.no_visits")
