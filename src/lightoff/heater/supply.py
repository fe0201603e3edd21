"""Supply and wiring: voltages at the plug and currents of each part, phase by phase.

Motors are taken as constant-current loads, the igniter as a resistance. Resistances of leads and battery
in order are judgement, no source: 5 m of 6 mm2 copper there and back is 0.03 ohm (`physics.wiring`), and
24 V installations carry half the current through the same copper.
"""

from __future__ import annotations

import numpy as np

from lightoff.ground.values import dataclass
from lightoff.heater.rating import Rating
from lightoff.physics.uncertain import Array
from lightoff.physics.wiring import loaded_voltage_v

SUPPLY_OHM = 0.020
GROUND_OHM = 0.008
BATTERY_OHM = 0.010
CONTACT_OHM = 0.010
"""Connector of the igniter, mated and clean."""
CONTROL_CURRENT_A = 0.3
"""Control and lamps, with all else off."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Leads:
    """What stands between battery and heater; each (n,)."""

    battery_v: Array
    battery_ohm: Array
    supply_ohm: Array
    ground_ohm: Array
    contact_ohm: Array
    igniter_ohm: Array
    igniter_conducts: Array  # share, 0 where open
    fan_a: Array
    compressor_a: Array
    pump_a: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Volts:
    """Voltages at the heater's plug and what the igniter gets; each (n,)."""

    rest_v: Array
    igniting_v: Array
    trial_v: Array
    running_v: Array
    ground_drop_v: Array
    igniter_a: Array
    igniter_lead_v: Array


def usual_running_v(rating: Rating) -> float:
    """Voltage at the plug with the motors on, the igniter off and all in order: the sheet's fan speed."""
    source_ohm = BATTERY_OHM + SUPPLY_OHM + GROUND_OHM
    return rating.rest_v - source_ohm * (rating.motors_a + CONTROL_CURRENT_A)


def volts(rating: Rating, leads: Leads) -> Volts:
    """Voltages and igniter current by phase. Basis: ohm_law."""
    source = leads.battery_ohm + leads.supply_ohm + leads.ground_ohm
    branch = (leads.igniter_ohm + leads.contact_ohm) / np.maximum(leads.igniter_conducts, 1e-4)
    purge = leads.fan_a if rating.sheet.pre_purge_s > 0 else np.zeros_like(leads.fan_a)
    motors = leads.fan_a + leads.compressor_a + leads.pump_a

    def loaded(current: Array, resistance: Array) -> Array:
        return np.asarray(
            loaded_voltage_v(
                rest_v=leads.battery_v,
                source_ohm=source,
                resistive_load_ohm=resistance,
                constant_current_a=current + CONTROL_CURRENT_A,
            )
        )

    igniting = loaded(purge, branch)
    igniter = igniting / branch
    return Volts(
        rest_v=leads.battery_v - source * CONTROL_CURRENT_A,
        igniting_v=igniting,
        trial_v=loaded(motors, branch),
        running_v=loaded(motors, np.full_like(branch, np.inf)),
        ground_drop_v=leads.ground_ohm * (igniter + purge + CONTROL_CURRENT_A),
        igniter_a=igniter,
        igniter_lead_v=igniting - igniter * leads.contact_ohm,
    )
