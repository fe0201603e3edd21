"""Atomising: air pressure at the nozzle and the drops it makes, over those of a heater in order."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lightoff.physics.uncertain import Array

RATED_AIR_TO_LIQUID = 0.6
"""Atomising air over fuel, by mass. Remembered range 0.3 to 1; unverified."""
HIGHEST_PRESSURE_RATIO = 2.2
"""Where a small compressor stalls against a shut nozzle. Judgement, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spray:
    """Each (n,), over rated."""

    pressure_ratio: Array
    drop_size_ratio: Array
    compressor_current_ratio: Array


def spray(
    *,
    capacity: Array,
    speed_ratio: Array,
    intake_restriction: Array,
    leak_share: Array,
    nozzle_air_area: Array,
    fuel_ratio: Array,
    viscosity_ratio: Array,
    density_ratio: Array,
    quality: Array,
) -> Spray:
    """Pressure and drops. A small displacement compressor feeds the nozzle and any leak beside it.

    Low pressure flow goes as area x sqrt(pressure), so pressure goes as (capacity / area)^2. Drops follow
    the plain-jet air-blast law: (rho U^2)^-0.4 (1 + 1/ALR)^0.4 and a viscous part of about a quarter in
    order. Basis: lefebvre_plain_jet through `physics.atomising` (exponents); the rest is judgement.
    """
    drawn = capacity * speed_ratio / (1.0 + 0.12 * (intake_restriction - 1.0))
    area = nozzle_air_area + 1.5 * leak_share
    pressure = np.minimum((drawn / np.maximum(area, 0.05)) ** 2, HIGHEST_PRESSURE_RATIO)
    flow = nozzle_air_area * np.sqrt(pressure * density_ratio)
    air_to_liquid = RATED_AIR_TO_LIQUID * flow / np.maximum(fuel_ratio, 0.05)
    mixing = (1.0 + 1.0 / np.maximum(air_to_liquid, 0.02)) / (1.0 + 1.0 / RATED_AIR_TO_LIQUID)
    inertial = np.maximum(pressure, 1e-3) ** -0.4 * mixing**0.4
    viscous = viscosity_ratio * mixing
    drops = (0.75 * inertial + 0.25 * viscous) * quality
    return Spray(
        pressure_ratio=pressure,
        drop_size_ratio=np.minimum(drops, 6.0),
        compressor_current_ratio=0.45 * speed_ratio + 0.55 * np.minimum(pressure, 1.6) * drawn**0.5,
    )
