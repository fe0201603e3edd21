"""The top of a smooth function of one or two numbers, and where it falls below a height."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import product

import numpy as np

from lightoff.physics.uncertain import Array

_STEP = 1e-4
_STRIDES = np.array([1.0, 0.5, 0.2, 0.05, 0.01, 0.001])
_LONGEST = 1.0  # a factor of e at a time
_MOST_STEPS = 200


def top(value: Callable[[Array], Array], start: Array) -> tuple[Array, float]:
    """Where `value`, which takes points of shape (points, numbers), is largest, and how large, from `start`.

    Newton's steps on differences, shortened until they climb; where the ground is not rounded upwards they
    are turned uphill.
    """
    here = np.asarray(start, dtype=np.float64)
    size = here.size
    offsets = np.array(list(product((-1, 0, 1), repeat=size)), dtype=np.float64)
    place = {tuple(each): at for at, each in enumerate(offsets.astype(int).tolist())}
    unit = np.eye(size, dtype=int)
    height = float(value(here[None])[0])
    for _ in range(_MOST_STEPS):
        around = value(here + _STEP * offsets)
        if not np.isfinite(around).all():
            break
        slope, bend = np.empty(size), np.empty((size, size))
        for i in range(size):
            up, down = around[place[tuple(unit[i])]], around[place[tuple(-unit[i])]]
            slope[i] = (up - down) / (2.0 * _STEP)
            bend[i, i] = (up - 2.0 * height + down) / _STEP**2
            for j in range(i):
                signs = product((1, -1), (1, -1))
                both = (s * t * around[place[tuple(s * unit[i] + t * unit[j])]] for s, t in signs)
                bend[i, j] = bend[j, i] = sum(both) / (4.0 * _STEP**2)
        curves, ways = np.linalg.eigh(bend)
        stride = ways @ (ways.T @ slope / np.maximum(np.abs(curves), 1e-9))
        stride *= min(1.0, _LONGEST / (np.abs(stride).max() or 1.0))
        tried = value(here + _STRIDES[:, None] * stride)
        best = int(np.argmax(tried))
        if not tried[best] > height:
            break
        gained, here, height = tried[best] - height, here + _STRIDES[best] * stride, float(tried[best])
        if gained < 1e-13 * (1.0 + abs(height)) and np.abs(stride).max() < 1e-7:
            break
    return here, height


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
