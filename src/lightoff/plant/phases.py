"""What a logger sees of a sound heater in each phase of a run: the levels between which phases are told."""

from __future__ import annotations

import numpy as np

from lightoff.circuit.lumped import SWITCHES_BELOW_K
from lightoff.ground.values import dataclass
from lightoff.heater.sequence import FLAME_NOT_SEEN_S
from lightoff.heater.supply import CONTROL_CURRENT_A
from lightoff.physics.uncertain import Array
from lightoff.plant.conditions import Conditions
from lightoff.plant.model import predict
from lightoff.plant.parameters import PARAMETERS
from lightoff.plant.quantities import COLUMN
from lightoff.terms.shelf import Sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class Phases:
    """Levels of one heater, SI: supply current by phase, stack with a flame, coolant while it warms.

    `hottest_dark_k` is the warmest that gas behind the jacket can be without a flame; `reversal_k` how far
    coolant turns back before its course has changed; a flame shorter than `shortest_flame_s` is none.
    """

    rest_a: float
    igniting_a: float
    trial_a: float
    running_a: float
    after_run_a: float
    stack_k: float
    hottest_dark_k: float
    warm_up_k_s: float
    reversal_k: float
    time_to_light_s: float
    shortest_flame_s: float


def phases(sheet: Sheet, conditions: Conditions, nature: Array | None = None) -> Phases:
    """The levels of a heater type; of one unit where its shifts, (parameters,), are given."""
    rows = np.zeros((1, len(PARAMETERS))) if nature is None else nature[None, :]
    read = predict(sheet, conditions, rows, with_signs=False).numeric[0]

    def of(key: str) -> float:
        return float(read[COLUMN[key]])

    fan, igniter = of("fan_current"), of("igniter_current")
    motors = fan + of("compressor_current") + of("fuel_pump_current")
    return Phases(
        rest_a=CONTROL_CURRENT_A,
        igniting_a=CONTROL_CURRENT_A + igniter + (fan if sheet.pre_purge_s > 0 else 0.0),
        trial_a=CONTROL_CURRENT_A + igniter + motors,
        running_a=CONTROL_CURRENT_A + motors,
        after_run_a=CONTROL_CURRENT_A + fan,
        stack_k=of("stack_gas_temperature"),
        hottest_dark_k=sheet.thermostat_off_k,
        warm_up_k_s=of("warm_up_rate"),
        reversal_k=SWITCHES_BELOW_K,
        time_to_light_s=of("time_to_light"),
        shortest_flame_s=FLAME_NOT_SEEN_S,
    )
