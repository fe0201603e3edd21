"""One invented heater's own nature: how it differs from its sheet, and how it wears."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np

from lightoff.ground.values import dataclass
from lightoff.physics.uncertain import Array
from lightoff.plant.parameters import COLUMN, PARAMETERS, Kind, normal_rows, spreads
from lightoff.terms.shelf import Sheet

WEAR: Mapping[str, float] = {
    "jacket_soot": 1.1e-4,
    "burn_tube_soot": 1.4e-4,
    "filter_restriction": 0.35,
    "intake_restriction": 0.25,
    "igniter_resistance": 0.06,
    "igniter_contact": 0.20,
    "window_soot": 0.22,
    "spray": 0.03,
    "nozzle_fuel_area": -0.03,
    "compressor_capacity": -0.02,
    "fan_friction": 0.05,
    "ground_resistance": 0.15,
    "coolant_flow": -0.03,
    "hot_water_exchange": -0.06,
    "jacket_scale": 4.0e-5,
}
"""What a usual year adds. Judgement, no source."""
CLEANED = ("jacket_soot", "burn_tube_soot", "spray", "nozzle_fuel_area")
RENEWED = ("filter_restriction", "intake_restriction", "window_soot")
"""What an annual service brushes clean, all but a tenth, and what it puts back to new."""
WORN_IGNITER = 0.25
"""Log of its resistance over a new one's, from which a service renews it. Judgement, no source."""
_OF_THE_DAY = np.array([not each.persistent for each in PARAMETERS.values()])
_LAW = np.array([each.closure for each in PARAMETERS.values()])
_SHARE = np.array([each.kind is Kind.SHARE for each in PARAMETERS.values()])


@dataclass(slots=True, kw_only=True)
class Unit:
    """A heater's lasting shifts and its wear, in the columns of the plant's parameters.

    `frailty` is how often it calls between services; `hours` is what its meter shows.
    """

    sheet: Sheet
    nature: Array
    worn: Array
    frailty: float
    hours: float

    def of_the_day(self, rng: np.random.Generator) -> Array:
        """Shifts that hold today only, (parameters,): the battery, the fuel in the tank."""
        today = normal_rows(rng, 1)[0] * spreads(self.sheet)
        return np.where(_OF_THE_DAY, _sound(today), 0.0)

    def age(self, rng: np.random.Generator, *, years: float) -> None:
        """Soot, starts and dust of that time."""
        for key, usual in WEAR.items():
            self.worn[COLUMN[key]] += usual * float(rng.gamma(2.0 * years, 0.5)) if years > 0.0 else 0.0
        self.nature[COLUMN["air_setting"]] += float(rng.normal(0.0, 0.015)) * years
        self.hours += years * float(rng.uniform(250.0, 700.0))

    def mended(self, rng: np.random.Generator, parts: Iterable[str]) -> Unit:
        """The unit with these parts renewed and after an annual service; this one stays as it is."""
        other = replace(self, nature=self.nature.copy(), worn=self.worn.copy())
        for part in parts:
            other._renew(rng, part)
        other._service(rng)
        return other

    def become(self, other: Unit) -> None:
        """Take over what was done to the other."""
        self.nature, self.worn = other.nature, other.worn

    def _service(self, rng: np.random.Generator) -> None:
        """Brushed, filters and seals renewed, and the igniter if it is worn."""
        for key in CLEANED:
            self.worn[COLUMN[key]] *= 0.1
        for key in RENEWED:
            self.worn[COLUMN[key]] = 0.0
        if self.worn[COLUMN["igniter_resistance"]] > WORN_IGNITER:
            self._renew(rng, "igniter")

    def _renew(self, rng: np.random.Generator, part: str) -> None:
        """Another piece of the same kind: its wear is gone and its nature is drawn anew."""
        fresh = _nature(rng, self.sheet)
        for key, parameter in PARAMETERS.items():
            if part and parameter.part == part:
                self.worn[COLUMN[key]] = 0.0
                self.nature[COLUMN[key]] = fresh[COLUMN[key]]


def draw_unit(rng: np.random.Generator, sheet: Sheet) -> Unit:
    """A heater as it might be met, some way into its life."""
    unit = Unit(
        sheet=sheet,
        nature=_nature(rng, sheet),
        worn=np.zeros(len(PARAMETERS)),
        frailty=float(rng.beta(1.5, 3.0)),
        hours=float(rng.integers(50, 1500)),
    )
    unit.age(rng, years=float(rng.uniform(0.2, 1.2)))
    return unit


def _nature(rng: np.random.Generator, sheet: Sheet) -> Array:
    """Lasting shifts of a sound heater; the laws themselves are the same for all, but for half a spread."""
    drawn = _sound(normal_rows(rng, 1)[0] * spreads(sheet))
    return np.asarray(np.where(_OF_THE_DAY, 0.0, np.where(_LAW, 0.5 * drawn, drawn)))


def _sound(shifts: Array) -> Array:
    """No shares: nothing of a sound heater is open, dead or leaking."""
    return np.where(_SHARE, 0.0, shifts)
