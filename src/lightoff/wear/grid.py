"""How likely lives are under every Weibull law of a grid, each part of the sum taken where it is cheapest.

The hazard that a law has used up by an age is the age to the power of the shape, over the life to that
power: a product of two factors, of which only one knows the ages. So whatever is still good, and every
failure at a known age, is summed once for each shape, and not once for each pair of shape and life.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from lightoff.physics.uncertain import Array
from lightoff.wear.lives import LifeTable

_LARGEST = 700.0  # exp of more overflows
_MOST_AT_ONCE = 100_000  # numbers of one block: it stays in the processor's cache
_KEPT, _KEPT_FAILED = 128, 640  # grids of some sixty kilobytes; those of failures take longest to make


def log_likelihood_on_grid(table: LifeTable, log_shape: Array, log_life: Array) -> Array:
    """Log-likelihood of lives, shape (shapes, lives), as `laws.log_likelihood` has it point by point.

    The last few answers are kept: what one heater type's lives say is asked for by all the others.
    Basis: meeker_1998 (likelihoods of censored and truncated lives).
    """
    columns = (table.entered, table.left, table.right, table.count)
    return _kept(tuple(each.tobytes() for each in columns), log_shape.tobytes(), log_life.tobytes())


@lru_cache(maxsize=_KEPT)
def _kept(columns: tuple[bytes, ...], log_shape: bytes, log_life: bytes) -> Array:
    made = _summed(
        *map(np.frombuffer, columns), log_shape=np.frombuffer(log_shape), log_life=np.frombuffer(log_life)
    )
    made.setflags(write=False)
    return made


def _summed(
    entered: Array, left: Array, right: Array, count: Array, *, log_shape: Array, log_life: Array
) -> Array:
    shape = np.exp(log_shape)
    if not count.size:
        return np.zeros((shape.size, log_life.size))
    exact = left == right
    between = np.isfinite(right) & ~exact
    # The oldest age is the unit, so that no power overflows.
    oldest = float(np.log(np.max(np.where(np.isfinite(right), right, left), initial=1e-300)))
    with np.errstate(divide="ignore"):
        logs = {name: np.log(ages) - oldest for name, ages in (("entered", entered), ("left", left))}
        used = (np.exp(shape[:, None] * logs["left"]) - np.exp(shape[:, None] * logs["entered"])) @ count
        against = shape[:, None] * (oldest - log_life)  # (shapes, lives): log of the oldest age's hazard used
        total = -np.exp(np.minimum(np.log(used)[:, None] + against, _LARGEST))
    if exact.any():
        failures = float(count[exact].sum())
        total += failures * (log_shape[:, None] + against)
        total += (shape * float(logs["left"][exact] @ count[exact]))[:, None]
        total -= float(np.log(left[exact]) @ count[exact])
    if between.any():
        found = tuple(each[between].tobytes() for each in (left, right, count))
        total += _found_failed(found, log_shape.tobytes(), log_life.tobytes())
    return np.asarray(np.where(np.isnan(total), -np.inf, total))


@lru_cache(maxsize=_KEPT_FAILED)
def _found_failed(columns: tuple[bytes, ...], log_shape: bytes, log_life: bytes) -> Array:
    """Of failures known to an interval: log of the chance between its ends, if good at the first.

    Kept by itself: most of what is newly said is of pieces that are still good.
    """
    left, right, count = map(np.frombuffer, columns)
    oldest = float(np.log(right.max()))
    with np.errstate(divide="ignore"):
        log_left, log_right = np.log(left) - oldest, np.log(right) - oldest
    shape = np.exp(np.frombuffer(log_shape))
    against = shape[:, None] * (oldest - np.frombuffer(log_life))
    total = np.zeros(against.shape)
    powers = shape[:, None]
    with np.errstate(divide="ignore"):
        # Of two powers the difference, without losing it where both are nearly the same.
        apart = powers * log_right + np.log(-np.expm1(powers * (log_left - log_right)))
    # Of a sum the power is a product, which takes a fraction of the time; no age lies beyond the oldest, so
    # that only what the life brings can overflow.
    of_lives, of_ages = -np.exp(np.minimum(against, _LARGEST)), np.exp(apart)
    step = max(1, _MOST_AT_ONCE // max(against.size, 1))
    for start in range(0, count.size, step):
        some = slice(start, start + step)
        with np.errstate(divide="ignore"):
            chance = of_lives[:, :, None] * of_ages[:, None, some]
            np.negative(np.expm1(chance, out=chance), out=chance)
            total += np.log(chance, out=chance) @ count[some]
    total.setflags(write=False)
    return total
