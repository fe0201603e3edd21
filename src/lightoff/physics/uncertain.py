"""Carries the uncertainty of readings through any formula (GUM), for one reading or a million."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from lightoff.ground.estimate import Estimate
from lightoff.ground.values import dataclass

Array: TypeAlias = NDArray[np.float64]
Real: TypeAlias = float | Array
"""A number or an array of numbers: scalars in give floats out, arrays in give arrays out."""
Evaluate: TypeAlias = Callable[[Mapping[str, Array]], dict[str, Array]]

# How many numbers are worked at once where every move of every input is a row: more fill the cache.
_AT_ONCE = 4096
# Share of the standard uncertainty that an input is moved by, to one side. Small enough that the answer is
# the first-order one of the GUM also near a pole (O2 close to that of air), large enough for the arithmetic.
_STEP_FRACTION = 2.0**-12


@dataclass(frozen=True, slots=True, kw_only=True)
class Uncertain:
    """A computed figure and its standard uncertainty, each a float or an array of one shape."""

    value: Real
    standard_uncertainty: Real

    def half_width(self, coverage_factor: float = 2.0) -> Real:
        """The expanded uncertainty U = k u."""
        return coverage_factor * self.standard_uncertainty

    def estimate(self, coverage_factor: float = 2.0) -> Estimate:
        """The figure as an Estimate. For a single figure only; raises TypeError for an array."""
        return Estimate.from_standard(
            float(self.value), float(self.standard_uncertainty), coverage_factor=coverage_factor
        )

    def at(self, row: int) -> Uncertain:
        """One row of an array of figures; a figure that is one number is that of every row."""
        if np.ndim(self.value) == 0:
            return self
        value, doubt = np.asarray(self.value), np.asarray(self.standard_uncertainty)
        return Uncertain(value=float(value[row]), standard_uncertainty=float(doubt[row]))


def plain(value: Array | np.float64 | float) -> Real:
    """A float where there is one number, else the array."""
    return float(value) if np.ndim(value) == 0 else np.asarray(value, dtype=np.float64)


def real(value: Real) -> Array:
    """An array as it is, one number as numpy's own float: it reckons thrice as fast as an array of one."""
    return np.asarray(value, dtype=np.float64)[()]


def propagate(
    evaluate: Evaluate,
    values: Mapping[str, Array],
    standard_uncertainties: Mapping[str, Array],
) -> dict[str, Uncertain]:
    """Every figure of `evaluate` with its standard uncertainty, inputs taken as independent.

    `evaluate` gets the inputs by name and returns figures by name; it must work row by row, with some
    inputs as rows and some as one number, and may return the very same object for a figure that the moved
    input does not touch. The first call is at the values themselves.
    Each input is moved by a small part of its standard uncertainty, and the changes are added as squares.
    First order: where a formula bends strongly within one uncertainty, the true interval is lopsided.

    Basis: jcgm_100_2008 (equation 10; 5.1.3 note 2, numerical sensitivities).
    """
    central = evaluate(values)
    steps = {name: doubt * _STEP_FRACTION for name, doubt in standard_uncertainties.items() if np.any(doubt)}
    shape = np.broadcast_shapes(*map(np.shape, (*values.values(), *steps.values())))
    few = len(steps) * math.prod(shape) <= _AT_ONCE
    variances = (_moved_at_once if few else _moved_in_turn)(evaluate, values, steps, central)
    return {
        name: Uncertain(
            value=plain(value),
            standard_uncertainty=plain(_spread(variances.get(name), value)),
        )
        for name, value in central.items()
    }


def _moved_in_turn(
    evaluate: Evaluate, values: Mapping[str, Array], steps: Mapping[str, Array], central: Mapping[str, Array]
) -> dict[str, Array]:
    """The squared changes of each figure, added; one input moved after the other, many rows at a time."""
    variances: dict[str, Array] = {}
    for name, step in steps.items():
        moved = evaluate({**values, name: values[name] + step})
        for figure, value in central.items():
            if moved[figure] is value:
                continue  # this input does not touch this figure
            change = moved[figure] - value
            change *= change
            if figure not in variances:
                variances[figure] = change
            elif variances[figure].shape == change.shape:
                variances[figure] += change
            else:
                variances[figure] = variances[figure] + change
    return variances


def _moved_at_once(
    evaluate: Evaluate, values: Mapping[str, Array], steps: Mapping[str, Array], central: Mapping[str, Array]
) -> dict[str, Array]:
    """The same for a few readings: every move is a row, so that the formulas are gone through once."""
    count, rank = len(steps), max(map(np.ndim, (*values.values(), *steps.values())))
    rows = dict(values)
    for row, (name, step) in enumerate(steps.items()):
        shape = np.broadcast_shapes((1,) * rank, np.shape(values[name]), np.shape(step))
        rows[name] = moved = np.empty((count, *shape))
        moved[:] = values[name]
        moved[row] += step
    figures = evaluate(rows) if steps else {}
    variances: dict[str, Array] = {}
    for name, each in figures.items():
        if np.ndim(each) <= rank:
            continue  # no input that was moved touches this figure
        change = each - central[name]
        variance = sum(change * change, real(0.0))  # in this order for few rows and many
        variances[name] = variance if np.ndim(central[name]) else real(variance.reshape(()))
    return variances


def through(function: Callable[[Array], Real], figure: Uncertain) -> Uncertain:
    """The figure that follows from one other by a function of it alone, with its uncertainty."""
    value, doubt = np.asarray(figure.value), np.asarray(figure.standard_uncertainty)
    at = function(value)
    change = np.abs(np.asarray(function(value + doubt * _STEP_FRACTION)) - np.asarray(at))
    return Uncertain(value=at, standard_uncertainty=plain(change / _STEP_FRACTION))


def _spread(variance: Array | None, value: Array) -> Array:
    if variance is None:
        return np.zeros_like(value)
    spread = np.sqrt(variance) * (1.0 / _STEP_FRACTION)  # a power of two: nothing is rounded
    if spread.shape == value.shape:
        return spread
    shape = np.broadcast_shapes(spread.shape, value.shape)
    return spread if spread.shape == shape else np.broadcast_to(spread, shape)
