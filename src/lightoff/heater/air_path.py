"""Air: fan, inlet, burner and exhaust as one path; what of it reaches the flame."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lightoff.physics.fan import fan_power_ratio, volume_flow_ratio
from lightoff.physics.uncertain import Array

INLET_SHARE, EXHAUST_SHARE, BURNER_SHARE = 0.30, 0.40, 0.30
"""Of the path's resistance, in order. Judgement, no source."""
FAN_INTERNAL_SHARE = 0.5
"""Steepness of the fan: its own loss over all loss. Judgement, no source."""
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
    speed_ratio: Array,
    inlet_restriction: Array,
    exhaust_restriction: Array,
    exhaust_return: Array,
    setting: Array,
    density_ratio: Array,
    friction: Array,
) -> AirFlow:
    """Flow of a fan on its path; restrictions are resistances over those in order.

    Exhaust drawn back takes the place of fresh air. Basis: fan_laws.
    """
    path = INLET_SHARE * inlet_restriction + EXHAUST_SHARE * exhaust_restriction + BURNER_SHARE
    drawn = np.asarray(
        volume_flow_ratio(
            speed_ratio=speed_ratio, path_resistance_ratio=path, internal_share=FAN_INTERNAL_SHARE
        )
    )
    flow = drawn * setting
    power = np.asarray(fan_power_ratio(flow_ratio=flow, speed_ratio=speed_ratio, density_ratio=density_ratio))
    # Current is power over speed for a motor of fixed flux; friction is a third of it in order. Judgement.
    useful = power / np.maximum(speed_ratio, 0.05)
    return AirFlow(
        volume_ratio=flow,
        oxygen_ratio=flow * density_ratio * (1.0 - exhaust_return),
        fan_current_ratio=0.67 * useful + 0.33 * friction**3,
        back_pressure_pa=EXHAUST_BACK_PRESSURE_PA * exhaust_restriction * flow**2 * density_ratio,
    )
