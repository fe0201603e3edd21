"""What is read off a photograph of a smoke spot, or why nothing is."""

from __future__ import annotations

from enum import StrEnum
from typing import TypeAlias

from lightoff.ground.message import Message
from lightoff.ground.values import dataclass

Point: TypeAlias = tuple[float, float]


class Tint(StrEnum):
    """The colour of the spot beside its grey: a hint at unburnt fuel, for the eye to judge."""

    NONE = "none"
    YELLOW = "yellow"
    OILY = "oily"


class Anchor(StrEnum):
    """What the darkness was held against."""

    PAPER = "clean paper"
    SCALE = "comparison scale"


@dataclass(frozen=True, slots=True, kw_only=True)
class Ellipse:
    """A round thing as the camera saw it; in pixels of the photograph, `turn` in radians from its rows."""

    x: float
    y: float
    long_radius: float
    short_radius: float
    turn: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Quad:
    """Four corners in the order in which a pen would draw them, in pixels of the photograph (x, y)."""

    corners: tuple[Point, Point, Point, Point]


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotReading:
    """The smoke number of a photographed spot: a proposal that a person confirms by eye, never evidence.

    `number` (scale of astm_d2156, 0 white to 9 black) with its `half_width` (about 95 % of the truth lies
    within) is None where `refusals` say why. `paper` and `spot` are what was found, to be drawn over the
    photograph, and may be there although the reading was refused.
    """

    number: float | None
    half_width: float | None
    tint: Tint
    anchor: Anchor | None
    paper: Quad | None
    spot: Ellipse | None
    refusals: tuple[Message, ...]
