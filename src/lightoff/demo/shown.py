"""What one heater shows on one start: its numbers, and one state of each look, drawn from their chances."""

from __future__ import annotations

import numpy as np

from lightoff.heater.signs import MISTAKEN
from lightoff.plant.model import Prediction
from lightoff.plant.quantities import COLUMN
from lightoff.terms.shelf import Catalogue


class Shown:
    """One row of a prediction as one start made it come out."""

    def __init__(self, rng: np.random.Generator, seen: Prediction, row: int, catalogue: Catalogue) -> None:
        self._rng, self._seen, self._row, self._catalogue = rng, seen, row, catalogue
        self.air_ratio = float(seen.air_ratio[row])
        lit = float(seen.lit[row])
        self.asked = bool(rng.random() < seen.asked[row])
        self.light_off = self.look("light_off") if self.asked else "did not light"
        self.lit = self.light_off != "did not light"
        self.dies = self.lit and bool(rng.random() > seen.running[row] / max(lit, 1e-9))

    @property
    def steady(self) -> bool:
        """The flame stands, so that gas and smoke can be read."""
        return self.lit and not self.dies

    @property
    def stops_at(self) -> str:
        """Where the start stopped, as the catalogue calls it."""
        if self.steady:
            return "did not stop"
        return "running" if self.lit else "trial" if self.asked else "at rest"

    def number(self, key: str) -> float:
        """A true number, SI."""
        return float(self._seen.numeric[self._row, COLUMN[key]])

    def look(self, key: str, *, other_than: str = "") -> str:
        """One state of a look by its chances; nobody is mistaken here."""
        states = self._catalogue.entries[key].states
        chances = self._seen.chances[key][self._row]
        clear = np.maximum(chances - MISTAKEN / len(states), 1e-9)
        clear = np.where([state == other_than for state in states], 0.0, clear)
        return states[int(self._rng.choice(len(states), p=clear / clear.sum()))]
