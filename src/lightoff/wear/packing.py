"""The most worth within limits: marginal analysis, and swaps where a limit leaves a corner."""

from __future__ import annotations

from itertools import product

import numpy as np
from numpy.typing import NDArray

from lightoff.ground.values import dataclass
from lightoff.physics.uncertain import Array

Counts = NDArray[np.intp]
_MOST_GIVEN_UP = 12  # pieces for one of another: judgement, no source
_ENOUGH = 1e-9  # worth below this is none
_EASED = 1.0 + 1e-12  # a limit just met is kept


@dataclass(frozen=True, slots=True, kw_only=True)
class Packing:
    """What to choose from: worth of 0, 1, 2 ... pieces of each item, what a piece takes of each limit.

    `worth` of shape (items, counts), each row rising ever more slowly; `takes` of shape (items, limits);
    `limits` of shape (limits,), infinite where it does not matter.
    """

    worth: Array
    takes: Array
    limits: Array

    def gains(self, counts: Counts) -> Array:
        """What one piece more of each item is worth, nought where no more may be had."""
        rows = np.arange(counts.size)
        after = np.minimum(counts + 1, self.worth.shape[1] - 1)
        return np.asarray(self.worth[rows, after] - self.worth[rows, counts])

    def best(self) -> Counts:
        """Pieces of each item, the best of several ways to weigh the limits against each other.

        Exact where one limit matters and its last piece just fits; near it elsewhere.
        Basis: sherbrooke_2004 (marginal analysis).
        """
        begin = np.zeros(len(self.takes), dtype=np.intp)
        if not np.isfinite(self.limits).any():
            return self._filled(begin, self._burdens()[0])
        found = [self._swapped(self._filled(begin, burden), burden) for burden in self._burdens()]
        return max(found, key=lambda counts: (self._total(counts), tuple(-counts)))

    def following(self, counts: Counts) -> int | None:
        """The item that would help most for its burden if the limits were wider; None where none would."""
        gains = self.gains(counts)
        ratio = np.where(gains > _ENOUGH, gains / self._burdens()[0], 0.0)
        return int(np.argmax(ratio)) if ratio.size and ratio.max() > 0.0 else None

    def _burdens(self) -> list[Array]:
        """What a piece takes, weighed: of all limits together, of each by itself, and all pieces alike."""
        with np.errstate(divide="ignore", invalid="ignore"):
            shares = np.where(np.isfinite(self.limits) & (self.limits > 0.0), self.takes / self.limits, 0.0)
        ways = [shares.sum(axis=1), *shares.T[shares.any(axis=0)], np.zeros(len(self.takes))]
        return [np.maximum(each, 1e-12) for each in ways]

    def _fit(self, counts: Counts) -> bool:
        return bool(np.all(counts @ self.takes <= self.limits * _EASED))

    def _total(self, counts: Counts) -> float:
        return float(self.worth[np.arange(counts.size), counts].sum())

    def _filled(self, counts: Counts, burden: Array) -> Counts:
        counts = counts.copy()
        while True:
            room = np.all(counts @ self.takes + self.takes <= self.limits * _EASED, axis=1)
            ratio = np.where(room, self.gains(counts), 0.0)
            ratio = np.where(ratio > _ENOUGH, ratio / burden, 0.0)
            if not ratio.size or ratio.max() <= 0.0:
                return counts
            counts[int(np.argmax(ratio))] += 1

    def _swapped(self, counts: Counts, burden: Array) -> Counts:
        """Pieces of one item given up for one of another and the room filled again, while that helps."""
        improved = True
        while improved:
            improved = False
            for less, more in product(range(counts.size), repeat=2):
                for pieces in range(1, min(int(counts[less]), _MOST_GIVEN_UP) + 1):
                    tried = counts.copy()
                    tried[less] -= pieces
                    tried[more] += 1
                    if less == more or tried[more] >= self.worth.shape[1] or not self._fit(tried):
                        continue
                    tried = self._filled(tried, burden)
                    if self._total(tried) > self._total(counts) + _ENOUGH:
                        counts, improved = tried, True
                        break
        return counts
