"""One invented heater's own nature: how it burns when clean, and how it wears."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lightoff.terms.shelf import Sheet


@dataclass(slots=True, kw_only=True)
class Unit:
    """A heater's set-up and wear; it ages from visit to visit.

    `air_ratio` is its setting at 15 degC and sea level; `soot` and `igniter_wear` run from 0 (clean, new).
    """

    sheet: Sheet
    air_ratio: float
    clean_stack_rise_k: float
    soot: float
    igniter_wear: float
    light_off_s: float
    wiring_ohm: float
    frailty: float

    @property
    def stack_rise_k(self) -> float:
        """Exhaust above intake: soot in the jacket keeps the heat in the gas."""
        return self.clean_stack_rise_k * (1.0 + 0.35 * self.soot)

    def age(self, rng: np.random.Generator, *, serviced: bool) -> None:
        """A season's soot and starts; a service brushes the jacket and renews a worn igniter."""
        self.soot = 0.1 * self.soot if serviced else self.soot
        self.soot += float(rng.gamma(2.0, 0.09))
        self.igniter_wear += float(rng.gamma(2.0, 0.035))
        if serviced and self.igniter_wear > 0.3:
            self.igniter_wear = 0.0
        self.air_ratio += float(rng.normal(0.0, 0.01))


def draw_unit(rng: np.random.Generator, sheet: Sheet) -> Unit:
    """A heater as it might be met: mostly well set, a few lean or rich."""
    middle = 0.5 * (sheet.light_off_low_s + sheet.light_off_high_s)
    return Unit(
        sheet=sheet,
        air_ratio=float(np.clip(rng.normal(1.37, 0.06), 1.22, 1.6)),
        clean_stack_rise_k=float(rng.normal(205.0, 14.0)),
        soot=float(rng.gamma(2.0, 0.05)),
        igniter_wear=float(rng.gamma(1.5, 0.04)),
        light_off_s=float(rng.normal(middle, 0.08 * middle)),
        wiring_ohm=float(rng.gamma(4.0, 0.012)),
        frailty=float(rng.beta(1.5, 3.0)),
    )
