"""Where the heat of the fuel goes: one arrow that divides, as wide as its kilowatts."""

from __future__ import annotations

from dataclasses import dataclass

from lightoff.drawing import svg
from lightoff.drawing.palette import PAGE, Palette
from lightoff.ground.message import Amount
from lightoff.texts import Speaker

LEAST_WIDTH_PX = 340.0
VALUE_PX = 25.0
TEXT_PX = 15.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatFlow:
    """Heat in the fuel and heat up the exhaust; the rest goes to the coolant and the casing. Watts.

    `fuel_note` says how the fuel was known, such as "1.52 L an hour". Raises ValueError for a flow
    that is not positive or an exhaust that takes more than all.
    """

    fuel_w: float
    exhaust_w: float
    fuel_note: str = ""

    def __post_init__(self) -> None:
        if not 0 < self.fuel_w < float("inf") or not 0 <= self.exhaust_w <= self.fuel_w:
            raise ValueError(
                f"{self.exhaust_w} W up the exhaust cannot be a part of {self.fuel_w} W in the fuel"
            )

    @property
    def coolant_w(self) -> float:
        """What is left for coolant and casing."""
        return self.fuel_w - self.exhaust_w


def heat_flow(
    flow: HeatFlow, speaker: Speaker, *, palette: Palette = PAGE, width: float = 752.0, description: str = ""
) -> str:
    """The arrow from the fuel to water and exhaust; both branches are as wide as their share."""
    wide = max(width, LEAST_WIDTH_PX)
    small = wide < 560
    body = 70.0  # px of the whole heat
    up = max(3.0, body * flow.exhaust_w / flow.fuel_w)
    kept = body - up if flow.exhaust_w else body
    head = 46.0
    bottom = head + body + 2
    top = bottom - body
    turn = wide * (0.5 if small else 0.67)
    tip = 28.0
    path = _outline((turn, up), (top, bottom - kept, bottom), wide=wide, tip=tip)
    drawn = [
        svg.element(
            "path", d=path, stroke=palette.ink, stroke_width=2.25, fill="none", stroke_linejoin="miter"
        )
    ]
    middle = (top + bottom) / 2
    low = bottom - kept / 2
    drawn += _said(
        (38, middle + 8),
        flow.fuel_w,
        "drawing.in_the_fuel",
        speaker,
        palette=palette,
        note=flow.fuel_note,
        small=small,
    )
    drawn += _said(
        (turn + up + 22, head - 18),
        flow.exhaust_w,
        "drawing.up_the_exhaust",
        speaker,
        palette=palette,
        small=small,
    )
    drawn += _said(
        (turn + 12 if small else turn + 18, low + 9),
        flow.coolant_w,
        "drawing.to_your_water",
        speaker,
        palette=palette,
        small=small,
    )
    return svg.picture(
        drawn,
        width=wide,
        height=bottom + 4,
        title=speaker.text("drawing.heat_flow"),
        description=description or _described(flow, speaker),
        palette=palette,
    )


def _outline(bend: svg.Point, heights: tuple[float, float, float], *, wide: float, tip: float) -> str:
    """The arrow's outline: a notched tail, a branch that rises at the bend, a head at the right."""
    turn, up = bend
    top, kept_top, bottom = heights
    n = svg.number
    middle = (kept_top + bottom) / 2
    curve = 26.0
    low = max(6.0, up * 0.9)
    points = [
        f"M2 {n(top)}H{n(turn - curve)}",
        f"Q{n(turn)} {n(top)} {n(turn)} {n(top - curve)}V{n(6 + low)}",
        f"L{n(turn + up / 2)} 4L{n(turn + up)} {n(6 + low)}V{n(kept_top - curve - 2)}",
        f"Q{n(turn + up)} {n(kept_top)} {n(turn + up + curve)} {n(kept_top)}",
        f"H{n(wide - tip)}L{n(wide - 3)} {n(middle)}L{n(wide - tip)} {n(bottom)}H2",
        f"L18 {n((top + bottom) / 2)}Z",
    ]
    return "".join(points)


def _said(
    at: svg.Point,
    watts: float,
    key: str,
    speaker: Speaker,
    *,
    palette: Palette,
    note: str = "",
    small: bool = False,
) -> list[str]:
    """The number, its unit, and what it is."""
    value, unit = speaker.number(watts, "power"), speaker.unit("power")
    text = speaker.text(key) + (f", {note}" if note and not small else "")
    size = 20.0 if small else VALUE_PX
    x, y = at
    wide = 0.66 * size * len(value)
    drawn = [svg.words(at, value, fill=palette.ink, size=size, weight=700)]
    drawn.append(svg.words((x + wide, y), unit, fill=palette.second, size=TEXT_PX, weight=300))
    beside = x + wide + 0.62 * TEXT_PX * len(unit) + 11
    if small:
        return [*drawn, svg.words((x, y + 17), text, fill=palette.ink, size=14.0)]
    return [*drawn, svg.words((beside, y), text, fill=palette.ink, size=TEXT_PX)]


def _described(flow: HeatFlow, speaker: Speaker) -> str:
    return speaker.text(
        "drawing.heat_flow_said",
        fuel=Amount(value=flow.fuel_w, dimension="power"),
        exhaust=Amount(value=flow.exhaust_w, dimension="power"),
        water=Amount(value=flow.coolant_w, dimension="power"),
    )
