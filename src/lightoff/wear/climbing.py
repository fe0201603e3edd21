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
        slope, bend = np.empty(size), np.empty((size, size))
        for i in range(size):
            up, down = around[place[tuple(unit[i])]], around[place[tuple(-unit[i])]]
            slope[i] = (up - down) / (2.0 * _STEP)
            bend[i, i] = (up - 2.0 * height + down) / _STEP**2
            for j in range(i):
                signs = product((1, -1), (1, -1))
                both = (s * t * around[place[tuple(s * unit[i] + t * unit[j])]] for s, t in signs)
                bend[i, j] = bend[j, i] = sum(both) / (4.0 * _STEP**2)
        if not np.isfinite(bend).all():
            break
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
    while abs(inside - start) < reach:
        outside = inside + stride
        if falls(outside) < 0.0:
            break
        inside, stride = outside, 2.0 * stride
    else:
        return None
    return _between(falls, inside, outside)


def _between(falls: Callable[[float], float], one: float, other: float) -> float:
    """Where a function passes nought between two places on either side: false position, Illinois' way."""
    at_one, at_other = falls(one), falls(other)
    for _ in range(80):
        if not math.isfinite(at_other):  # an infinite fall tells no slope
            place = 0.5 * (one + other)
        else:
            place = (one * at_other - other * at_one) / (at_other - at_one)
        height = falls(place)
        if abs(height) < 1e-10 or abs(other - one) < 1e-10:
            return place
        if (height < 0.0) == (at_other < 0.0):
            at_one *= 0.5
        else:
            one, at_one = other, at_other
        other, at_other = place, height
    return other
