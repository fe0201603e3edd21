"""Air: fan, inlet, burner and exhaust as one path; what of it reaches the flame."""

from __future__ import annotations

import numpy as np

from lightoff.ground.values import dataclass
from lightoff.physics.fan import fan_power_ratio, motor_speed_ratio, volume_flow_ratio
from lightoff.physics.uncertain import Array

INLET_SHARE, EXHAUST_SHARE, BURNER_SHARE = 0.30, 0.40, 0.30
"""Of the path's resistance, in order. Judgement, no source."""
FAN_INTERNAL_SHARE = 0.5
"""Steepness of the fan: its own loss over all loss. Judgement, no source."""
FAN_DROP_SHARE = 0.15
"""Of the rated voltage, lost in winding and brushes. Judgement, no source; 0.1 to 0.3 for small motors."""
BEARING_SHARE = 0.33
"""Of the motor's torque, taken by bearings and brushes in order. Judgement, no source."""
EXHAUST_BACK_PRESSURE_PA = 60.0
"""At the burner's end of the exhaust at rated flow. Judgement, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AirFlow:
    """Each (n,)."""

    volume_ratio: Array  # over rated
    oxygen_ratio: Array  # oxygen for the flame over rated
    fan_current_ratio: Array
    back_pressure_pa: Array


def air_flow(
    *,
    voltage_ratio: Array,
    speed_factor: Array,
    friction: Array,
    inlet_restriction: Array,
    exhaust_restriction: Array,
    exhaust_return: Array,
    setting: Array,
    density_ratio: float,
) -> AirFlow:
    """Flow of a fan on its path; restrictions are resistances over those in order, all others over rated.

    The motor's torque is the wheel's, with the square of its speed, and the bearings', which stays; so a
    blocked path quickens the fan a little and a stiff bearing slows it and costs current. That thin air
    quickens it too (some 2 % at 1,500 m for a brushed motor, nothing for one with electronics) is left to
    the spread of the fan's law. Exhaust drawn back takes the place of fresh air. `speed_factor` slows the
    fan whatever its load, zero where it stands. Basis: fan_laws, motor_law; the shares are judgement.
    """
    path = INLET_SHARE * inlet_restriction + EXHAUST_SHARE * exhaust_restriction + BURNER_SHARE
    open_flow = setting * np.asarray(
        volume_flow_ratio(speed_ratio=1.0, path_resistance_ratio=path, internal_share=FAN_INTERNAL_SHARE)
    )
    wheel = (1.0 - BEARING_SHARE) * np.asarray(
        fan_power_ratio(flow_ratio=open_flow, speed_ratio=1.0, density_ratio=1.0)
    )
    bearings = BEARING_SHARE * friction
    # What the bearings' drag takes of the voltage never drives the wheel.
    driving = np.maximum(voltage_ratio - FAN_DROP_SHARE * bearings, 0.0)
    speed = speed_factor * np.asarray(
        motor_speed_ratio(voltage_ratio=driving, load_ratio=wheel, drop_share=FAN_DROP_SHARE)
    )
    flow = open_flow * speed
    return AirFlow(
        volume_ratio=flow,
        oxygen_ratio=flow * density_ratio * (1.0 - exhaust_return),
        fan_current_ratio=np.minimum(
            wheel * density_ratio * speed * speed + bearings, voltage_ratio / FAN_DROP_SHARE
        ),
        back_pressure_pa=EXHAUST_BACK_PRESSURE_PA * exhaust_restriction * flow * flow * density_ratio,
    )
