"""Where the heat of the fuel goes: one arrow that divides, as wide as its kilowatts."""

from __future__ import annotations

from lightoff.drawing import svg
from lightoff.drawing.labels import text_width
from lightoff.drawing.palette import PAGE, Palette
from lightoff.ground.message import Amount
from lightoff.ground.values import dataclass
from lightoff.texts import Speaker

LEAST_WIDTH_PX = 340.0
VALUE_PX = 25.0
TEXT_PX = 15.0
SMALL_PX = 560.0
HEAD_PX = 48.0
LEAST_BRANCH_PX = 1.0  # a branch thinner than this is not drawn


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
    small = wide < SMALL_PX
    body = 84.0 if small else 70.0  # px of the whole heat
    up = body * flow.exhaust_w / flow.fuel_w
    kept = body - up
    bottom = HEAD_PX + body
    turn = min(wide * (0.46 if small else 0.67), wide - up - _room(flow, speaker, small=small))
    path = _outline((turn, up), (HEAD_PX, bottom - kept, bottom), wide=wide)
    shape = svg.element("path", d=path, stroke=palette.ink, stroke_width=2.25)
    # Words that do not fit into a thin branch stand below it.
    fits = kept >= (46.0 if small else 32.0)
    water_y = bottom - kept / 2 + (-1.0 if small else 9.0) if fits else bottom + 28.0
    drop = 0.0 if fits else 34.0 + (18.0 if small else 0.0)
    said = (
        ((38.0, HEAD_PX + body / 2 + (-1 if small else 8)), flow.fuel_w, "in_the_fuel", flow.fuel_note),
        ((turn + up + 22, HEAD_PX - (32 if small else 18)), flow.exhaust_w, "up_the_exhaust", ""),
        ((turn + up + 22 if small else turn + 18, water_y), flow.coolant_w, "to_your_water", ""),
    )
    drawn = [shape]
    for at, watts, key, note in said:
        text = speaker.text(f"drawing.{key}") + (f", {note}" if note and not small else "")
        drawn += _said(at, watts, text, speaker, palette=palette, small=small)
    return svg.picture(
        drawn,
        width=wide,
        height=bottom + 4 + drop,
        title=speaker.text("drawing.heat_flow"),
        description=description or heat_flow_words(flow, speaker),
        palette=palette,
    )


def _room(flow: HeatFlow, speaker: Speaker, *, small: bool) -> float:
    """What the words of the two branches need right of where they part, in px."""
    if small:
        return 140.0
    unit = text_width(speaker.unit("power"), TEXT_PX)
    needs = [
        text_width(speaker.number(watts, "power"), VALUE_PX) + unit + text_width(speaker.text(key), TEXT_PX)
        for watts, key in (
            (flow.exhaust_w, "drawing.up_the_exhaust"),
            (flow.coolant_w, "drawing.to_your_water"),
        )
    ]
    return max(needs) + 14.0 + 22.0 + 30.0  # two gaps, the branch's own, the arrow's head


def _outline(bend: svg.Point, heights: tuple[float, float, float], *, wide: float) -> str:
    """The arrow's outline: a notched tail, a branch that rises at the bend, a head at the right."""
    turn, up = bend
    top, kept_top, bottom = heights
    n = svg.number
    curve, tip = 26.0, 28.0
    low = min(max(6.0, up * 0.5), HEAD_PX - curve - 5.0)
    rise = [
        f"M2 {n(top)}H{n(turn - curve)}",
        f"Q{n(turn)} {n(top)} {n(turn)} {n(top - curve)}V{n(4 + low)}",
        f"L{n(turn + up / 2)} 4L{n(turn + up)} {n(4 + low)}V{n(top - curve)}",
        f"Q{n(turn + up)} {n(kept_top)} {n(turn + up + curve)} {n(kept_top)}",
    ]
    if up < LEAST_BRANCH_PX:
        rise = [f"M2 {n(kept_top)}"]
    head = [
        f"H{n(wide - tip)}L{n(wide - 3)} {n((kept_top + bottom) / 2)}L{n(wide - tip)} {n(bottom)}H2",
        f"L18 {n((top + bottom) / 2)}Z",
    ]
    return "".join([*rise, *head])


def _said(
    at: svg.Point, watts: float, text: str, speaker: Speaker, *, palette: Palette, small: bool
) -> list[str]:
    """The number, its unit, and what it is."""
    value, unit = speaker.number(watts, "power"), speaker.unit("power")
    figure = [(value, 20.0 if small else VALUE_PX, 700, palette.ink), (unit, TEXT_PX, 300, palette.second)]
    if small:
        return [svg.run(at, figure), svg.words((at[0], at[1] + 17), text, fill=palette.ink, size=14.0)]
    return [svg.run(at, [*figure, (text, TEXT_PX, 400, palette.ink)])]


def heat_flow_words(flow: HeatFlow, speaker: Speaker) -> str:
    """The flow in words, for those who cannot see it."""
    return speaker.text(
        "drawing.heat_flow_said",
        fuel=Amount(value=flow.fuel_w, dimension="power"),
        exhaust=Amount(value=flow.exhaust_w, dimension="power"),
        water=Amount(value=flow.coolant_w, dimension="power"),
    )
