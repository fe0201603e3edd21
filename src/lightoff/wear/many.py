"""The chance to last of many pieces of one part type at once, without intervals: to see which ones call."""

from __future__ import annotations

from dataclasses import field

import numpy as np

from lightoff.ground.values import dataclass
from lightoff.physics.uncertain import Array
from lightoff.wear.posterior import LifePosterior, Use

_PLACES = 40
_FURTHEST = 6.0
"""Ages and uses are looked up as far as this many characteristic lives; beyond, the last counts."""
_LEAST = 1e-4  # of a characteristic life: a use of less than that ends no part


@dataclass(slots=True)
class Chances:
    """Mean chances of one posterior: few are worked out as they come, many are looked up in a table.

    `table` is one that was worked out before for the same lives, (places, places).
    """

    lives: LifePosterior
    table: Array | None = field(default=None, repr=False)
    _logs: Array = field(init=False, repr=False)

    def __post_init__(self) -> None:
        life = self.lives.life().value
        self._logs = np.linspace(np.log(_LEAST * life), np.log(_FURTHEST * life), _PLACES)

    def to_last(self, *, ages: Array, expected: Array, spread: float) -> Array:
        """Chance of each piece to last its use; arrays of shape (pieces,), answered in it.

        `spread` is that of the logarithm of the use, as in `Use`. A looked-up chance lies within one in a
        hundred of `LifePosterior.chance_to_last`.
        """
        factors = Use(clock=self.lives.clock, expected=1.0, spread=spread).points()
        uses = expected[:, None] * factors
        if self.table is None and uses.size <= _PLACES * _PLACES:
            return np.asarray(self._mean(np.broadcast_to(ages[:, None], uses.shape), uses).mean(axis=1))
        return np.asarray(self._looked_up(ages[:, None], uses).mean(axis=1))

    def _mean(self, ages: Array, uses: Array) -> Array:
        """Mean over all possible lives, for arrays of one shape."""
        age, use = ages.ravel(), uses.ravel()
        reached = self.lives.log_survival(age + use) - self.lives.log_survival(age)
        return np.asarray((self.lives.weights @ np.exp(reached)).reshape(ages.shape))

    def _looked_up(self, ages: Array, uses: Array) -> Array:
        if self.table is None:
            grid = np.exp(self._logs)
            self.table = self._mean(*np.meshgrid(grid, grid, indexing="ij"))
        (row, down), (column, across) = self._place(ages), self._place(uses)
        table = self.table
        upper = table[row, column] * (1.0 - across) + table[row, column + 1] * across
        lower = table[row + 1, column] * (1.0 - across) + table[row + 1, column + 1] * across
        return np.asarray(upper * (1.0 - down) + lower * down)

    def _place(self, values: Array) -> tuple[np.ndarray[tuple[int, ...], np.dtype[np.intp]], Array]:
        """Which place of the table, and how far on to the next."""
        step = self._logs[1] - self._logs[0]
        along = (np.log(np.maximum(values, 1e-300)) - self._logs[0]) / step
        along = np.clip(along, 0.0, _PLACES - 1.0)
        whole = np.minimum(along.astype(np.intp), _PLACES - 2)
        return whole, np.asarray(along - whole)
