"""Atomising: air pressure at the nozzle and the drops it makes, over those of a heater in order."""

from __future__ import annotations

import numpy as np

from lightoff.ground.values import dataclass
from lightoff.physics.atomising import drop_size_ratio
from lightoff.physics.uncertain import Array

RATED_AIR_TO_LIQUID = 0.6
"""Atomising air over fuel, by mass. Remembered range 0.3 to 1; unverified."""
VISCOUS_SHARE = 0.25
"""Of the rated drop size, what comes of the fuel's viscosity. About 0.1 for a plain jet of warm diesel
(`physics.atomising`); more here: small nozzles at low pressure suffer in the cold. Judgement, no source."""
HIGHEST_PRESSURE_RATIO = 2.2
"""Where a small compressor stalls against a shut nozzle. Judgement, no source."""
INTAKE_SHARE = 0.12
"""Volume that the compressor loses for each further clean filter's resistance. Judgement, no source."""
LEAK_AREA_RATIO = 1.5
"""Opening of an air line that is wholly off, over the nozzle's. Judgement, no source."""
PRESSURE_CURRENT_SHARE = 0.55
"""Of the compressor's current, what goes into the air; the rest turns it against itself. Judgement."""
COARSEST = 6.0
_LEAST = 0.02  # of an opening or of the fuel: below it nothing changes any more


@dataclass(frozen=True, slots=True, kw_only=True)
class AtomisingAir:
    """Each (n,), over rated: what the compressor brings to the nozzle."""

    pressure_ratio: Array
    flow_ratio: Array  # by mass, through the nozzle
    compressor_current_ratio: Array


def atomising_air(
    *,
    capacity: Array,
    speed_ratio: Array,
    intake_restriction: Array,
    leak_share: Array,
    nozzle_air_area: Array,
    density_ratio: float,
) -> AtomisingAir:
    """A small displacement compressor feeds the nozzle and any leak beside it; it moves a volume.

    At a few kilopascal the air goes as an incompressible jet: volume as area x sqrt(pressure / density), so
    that pressure goes as density x (volume / area)^2, less in thin air. What wears a compressor drags it
    as well: its current stays while its pressure falls; a plugged intake unloads it. Basis: orifice_law;
    what intake, leak and wear cost is judgement.
    """
    volume = capacity * speed_ratio / (1.0 + INTAKE_SHARE * (intake_restriction - 1.0))
    area = np.maximum(nozzle_air_area + LEAK_AREA_RATIO * leak_share, _LEAST)
    velocity = volume / area
    pressure = np.minimum(density_ratio * velocity * velocity, HIGHEST_PRESSURE_RATIO)
    own = (1.0 - PRESSURE_CURRENT_SHARE) * speed_ratio / np.maximum(capacity, 0.3)
    return AtomisingAir(
        pressure_ratio=pressure,
        flow_ratio=nozzle_air_area * np.sqrt(pressure * density_ratio),
        compressor_current_ratio=own + PRESSURE_CURRENT_SHARE * pressure,
    )


def drops(
    air: AtomisingAir,
    *,
    fuel_ratio: Array,
    viscosity_ratio: Array,
    density_ratio: float,
    quality: Array,
) -> Array:
    """Drop size over rated, (n,), at most `COARSEST`. `quality` is the nozzle's own share in it.

    Basis: lefebvre_plain_jet (`physics.atomising`), in ratios only.
    """
    fuel = np.maximum(fuel_ratio, _LEAST)
    size = drop_size_ratio(
        velocity_ratio=np.sqrt(np.maximum(air.pressure_ratio, 1e-4) / density_ratio),
        air_to_liquid=np.maximum(RATED_AIR_TO_LIQUID * air.flow_ratio / fuel, 1e-3),
        air_to_liquid_rated=RATED_AIR_TO_LIQUID,
        air_density_ratio=density_ratio,
        viscosity_ratio=viscosity_ratio,
        viscous_share=VISCOUS_SHARE,
    )
    return np.minimum(size * quality, COARSEST)
