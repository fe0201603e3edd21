"""Made-up cases of several worlds, with the engine's bank and the oracle's; shared by the benchmarks."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "faultfinding"))

import world
from making import SHELF, bank_of, conditions

from lightoff.faultfinding import Bank, bank
from lightoff.faultfinding.bank import Beliefs
from lightoff.plant.baseline import Baseline
from lightoff.plant.conditions import Conditions
from lightoff.plant.parameters import PARAMETERS

PLACES: tuple[Conditions, ...] = (
    conditions(),
    conditions(altitude_m=1_500.0, air_temperature_k=298.15),
    conditions(altitude_m=300.0, air_temperature_k=258.15),
    conditions(altitude_m=2_500.0, air_temperature_k=278.15),
)
"""A spring day by the sea, a hot one up-country, a winter's night, a cool one in the mountains."""
LOOK_BY_CHANCE = 0.025
"""How often a look of a world's case shows any of its states without a cause."""


@dataclass(frozen=True)
class Street:
    """One world's cases of one heater type in one place; `inside` is entered to see it by its own laws."""

    name: str
    there: world.World
    engine: Bank
    oracle: Bank
    cases: list[world.MadeCase]

    def inside(self) -> AbstractContextManager[None]:
        return world.living_in(self.there)


def streets(count: int, each: int, *, seed: int) -> Iterator[Street]:
    """`count` worlds with `each` cases: all shipped heater types, in turn at all places."""
    sheets = sorted(SHELF.sheets)
    for at in range(count):
        sheet = sheets[at % len(sheets)]
        place = PLACES[(at + at // len(sheets)) % len(PLACES)]
        there = world.world(seed + at, SHELF)
        yield Street(
            f"world {seed + at}, {sheet}, {place.altitude_m:.0f} m",
            there,
            bank_of(sheet, place),
            oracle_of(there, sheet, place),
            world.cases(
                each, seed=seed + at, there=there, shelf=SHELF, sheet=SHELF.sheets[sheet], conditions=place
            ),
        )


def oracle_of(
    there: world.World,
    sheet: str,
    place: Conditions,
) -> Bank:
    """One that is told a world's faults, spreads, noise and shares; to be used inside that world."""
    count = len(PARAMETERS)
    states = {key: len(entry.states) for key, entry in SHELF.catalogue.entries.items()}
    looks = {reading for fault in there.faults.values() for reading in fault.shows}
    return bank(
        sheet=SHELF.sheets[sheet],
        conditions=place,
        faults=there.faults,
        trials=SHELF.trials,
        catalogue=SHELF.catalogue,
        baseline=Baseline(
            mean=np.zeros(count),
            covariance=world.VARIES_MORE**2 * np.eye(count),
        ),
        leaks={key: LOOK_BY_CHANCE * (1.0 - 1.0 / states[key]) for key in looks},
        beliefs=Beliefs(nothing=0.2, two=0.2, unknown=1e-12, doubt=world.READS_WORSE, effect=0.0, tail=1e6),
    )
