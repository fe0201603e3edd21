"""Where, on what and how a heater runs when it is read."""

from __future__ import annotations

from lightoff.ground.values import dataclass
from lightoff.physics.coolant import USUAL_GLYCOL_FRACTION
from lightoff.physics.fuel import Fuel


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """What surrounds one heater on one day, SI.

    `rated_fuel` is what its sheet was rated on. `rest_v` at the battery and `supply_ohm` of the leads, joints
    included, are `None` for the usual. `lift_m` from a tank half full up to the pump.
    `coolant_glycol_fraction` by mass. `since_fired_s` since the flame last went out, None where nobody knows:
    then it is cold and its fuel line full.
    `set_altitude_m` and `set_air_temperature_k`: where its air was last set.
    """

    fuel: Fuel
    rated_fuel: Fuel
    altitude_m: float = 0.0
    air_temperature_k: float = 288.15
    relative_humidity_fraction: float = 0.5
    fuel_temperature_k: float = 288.15
    rest_v: float | None = None
    supply_ohm: float | None = None
    coolant_start_k: float = 288.15
    coolant_glycol_fraction: float = USUAL_GLYCOL_FRACTION
    since_fired_s: float | None = None
    heat_load_w: float = 0.0
    lift_m: float = 0.5
    tank_level_fraction: float = 0.5
    exhaust_length_m: float = 1.5
    inlet_length_m: float = 0.5
    set_altitude_m: float = 0.0
    set_air_temperature_k: float = 288.15
