"""Where a function of one number falls through nought."""

from __future__ import annotations

import math
from collections.abc import Callable


def crossing(falls: Callable[[float], float], *, start: float, step: float, reach: float) -> float | None:
    """The first place beyond `start` where `falls` drops below nought; None within `reach`.

    The steps begin with `step` and double; between the last two it is found to 1e-10.
    """
    inside, stride = start, step
    height = falls(start)
    while abs(inside - start) < reach:
        outside = inside + stride
        below = falls(outside)
        if below < 0.0:
            return _between(falls, (inside, max(height, 0.0)), (outside, below))
        inside, height, stride = outside, below, 2.0 * stride
    return None


def _between(
    falls: Callable[[float], float], above: tuple[float, float], below: tuple[float, float]
) -> float:
    """Where a function falls through nought between two (place, height): false position, Illinois' way.

    Halves instead where a height is infinite and tells no slope.
    """
    (one, at_one), (other, at_other) = above, below
    last = 0
    for _ in range(100):
        slope = at_one - at_other
        share = at_one / slope if math.isfinite(slope) and slope > 0.0 else 0.5
        place = one + share * (other - one)
        height = falls(place)
        if abs(height) < 1e-10 or abs(other - one) < 1e-10:
            return place
        if height > 0.0:
            one, at_one = place, height
            at_other *= 0.5 if last > 0 and math.isfinite(at_other) else 1.0
            last = 1
        else:
            other, at_other = place, height
            at_one *= 0.5 if last < 0 else 1.0
            last = -1
    return one
