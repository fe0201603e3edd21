"""Paper and soot: the colours of a drawing, by what they are for."""

from __future__ import annotations

from lightoff.ground.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Palette:
    """Colours by purpose, and the typeface. Anything SVG takes as a paint will do."""

    ground: str
    ink: str
    second: str
    rule: str
    hairline: str
    tint: str
    ember: str
    line: str
    typeface: str = "'Atkinson Hyperlegible Next', 'Lightoff Signs', 'Noto Sans', sans-serif"


# For print: the sun colours, spelled out.
PAPER = Palette(
    ground="#FBF8F1",
    ink="#14110D",
    second="#4A4339",
    rule="#857A6B",
    hairline="#D6CDBE",
    tint="#DBD0BC",
    ember="#B23608",
    line="#14110D",
)
# For pages: custom properties, so that a drawing follows sun and dark bay with its page.
PAGE = Palette(
    ground="var(--ground)",
    ink="var(--ink)",
    second="var(--second)",
    rule="var(--rule)",
    hairline="var(--hairline)",
    tint="var(--tint)",
    ember="var(--ember)",
    line="var(--line)",
)
