"""A number that was read, as models compare it."""

from __future__ import annotations

from enum import StrEnum

from lightoff.ground.values import dataclass


class Side(StrEnum):
    """What a number tells: itself, or only that the truth lies beyond it."""

    EXACT = "exact"
    ABOVE = "above"
    BELOW = "below"


@dataclass(frozen=True, slots=True, kw_only=True)
class Number:
    """One number read, SI. `spread` the instrument's standard uncertainty, SI; `side` for a censored one."""

    value: float
    spread: float = 0.0
    side: Side = Side.EXACT
