"""The numbers that the model predicts, by catalogue key, and on which scale each is compared."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

import numpy as np

from lightoff.ground.values import dataclass
from lightoff.physics.uncertain import Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """One predicted number, SI. `floor` > 0: compared as log(value + floor), else as it is; all beyond the
    `ceiling` is one and the same.

    `slack` is how well a careful reading repeats beyond the instrument's class, on the scale compared:
    judgement, no source. `needs_flame`: exists only while the heater burns steadily; `needs_trial`: only
    while a start is under way.
    """

    key: str
    dimension: str
    floor: float = 0.0
    ceiling: float = np.inf
    slack: float = 0.0
    needs_flame: bool = False
    needs_trial: bool = False
    needs_circuit: bool = False


DOUBT: Final = 1.5
"""How much further from the model a reading lies than it repeats, laws being only so good. Judgement."""
DOUBT_OF_KNOWN: Final = 1.1
"""The same of a unit whose good visits read it often: little of the laws' error is left. Judgement."""
_OPEN_CIRCUIT_OHM: Final = 1_000.0
"""From here on a resistance of about an ohm is an open circuit, however many it reads. Judgement."""

_ALL: Final = (
    Quantity(key="flue_o2", dimension="gas_fraction", slack=0.002, needs_flame=True),
    Quantity(key="flue_co2", dimension="gas_fraction", slack=0.002, needs_flame=True),
    Quantity(key="flue_co", dimension="trace_gas_fraction", floor=5e-6, slack=0.15, needs_flame=True),
    Quantity(key="stack_gas_temperature", dimension="temperature", slack=6.0, needs_flame=True),
    Quantity(key="pipe_surface_temperature", dimension="temperature", slack=12.0, needs_flame=True),
    Quantity(key="smoke_number", dimension="smoke_number", slack=0.35, needs_flame=True),
    Quantity(key="exhaust_back_pressure", dimension="pressure", floor=2.0, slack=0.15, needs_flame=True),
    Quantity(key="flame_sensor_signal", dimension="resistance", floor=1.0, slack=0.15, needs_flame=True),
    Quantity(key="time_to_light", dimension="time", floor=1.0, slack=0.06, needs_trial=True),
    Quantity(key="run_time_before_stop", dimension="time", floor=1.0, slack=0.45, needs_trial=True),
    Quantity(key="after_run_time", dimension="time", slack=6.0),
    Quantity(key="battery_voltage_rest", dimension="voltage", slack=0.05),
    Quantity(key="supply_voltage_rest", dimension="voltage", slack=0.05),
    Quantity(key="supply_voltage_igniter", dimension="voltage", slack=0.08, needs_trial=True),
    Quantity(key="igniter_voltage_at_lead", dimension="voltage", slack=0.10, needs_trial=True),
    Quantity(key="igniter_current", dimension="current", slack=0.20, needs_trial=True),
    Quantity(key="ground_drop", dimension="voltage", floor=0.005, slack=0.10, needs_trial=True),
    Quantity(
        key="igniter_resistance",
        dimension="resistance",
        floor=0.02,
        ceiling=_OPEN_CIRCUIT_OHM,
        slack=0.12,
    ),
    Quantity(key="fan_current", dimension="current", floor=0.05, slack=0.05, needs_trial=True),
    Quantity(key="compressor_current", dimension="current", floor=0.05, slack=0.06, needs_trial=True),
    Quantity(key="fuel_pump_current", dimension="current", floor=0.05, slack=0.08, needs_trial=True),
    Quantity(key="atomising_air_pressure", dimension="pressure", floor=500.0, slack=0.05, needs_trial=True),
    Quantity(key="fuel_vacuum", dimension="pressure", floor=1_000.0, slack=0.10, needs_trial=True),
    Quantity(key="fuel_flow", dimension="mass_flow", floor=1e-6, slack=0.02, needs_flame=True),
    Quantity(key="coolant_temperature_supply", dimension="temperature", slack=1.5, needs_flame=True),
    Quantity(key="coolant_temperature_return", dimension="temperature", slack=1.5, needs_flame=True),
    Quantity(key="coolant_flow", dimension="volume_flow", floor=5e-6, slack=0.06, needs_circuit=True),
    Quantity(key="warm_up_rate", dimension="heating_rate", floor=1e-3, slack=0.12, needs_flame=True),
    Quantity(key="tap_temperature", dimension="temperature", slack=2.5, needs_flame=True),
    Quantity(
        key="living_space_co_running", dimension="trace_gas_fraction", floor=2e-6, slack=0.4, needs_flame=True
    ),
)
QUANTITIES: Final[Mapping[str, Quantity]] = MappingProxyType({each.key: each for each in _ALL})
"""Every predicted number by its key, in the order of the columns of `Prediction.numeric`."""
COLUMN: Final[Mapping[str, int]] = MappingProxyType({each.key: at for at, each in enumerate(_ALL)})
FLOORS: Final[Array] = np.array([each.floor for each in _ALL])
_CEILINGS: Final[Array] = np.array([each.ceiling for each in _ALL])


def compared(values: Array) -> Array:
    """Numbers on the scale on which they are compared, column by column; (..., quantities)."""
    held = np.minimum(values, _CEILINGS)
    return np.asarray(np.where(FLOORS > 0.0, np.log(np.maximum(held, 0.0) + np.maximum(FLOORS, 1e-12)), held))


def uncompared(scaled: Array, column: int) -> Array:
    """Back from the scale of one column to SI."""
    floor = FLOORS[column]
    return np.asarray(np.exp(scaled) - floor if floor > 0.0 else scaled)
