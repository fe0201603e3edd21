"""The flame's gas: oxygen, carbon dioxide, carbon monoxide, smoke, light.

Stoichiometry is exact (`physics.burn`); how carbon monoxide and smoke rise is a made-up curve through what
the trade reports (a floor of tens of ppm, a wall towards too little air, smoke from about a fifth of
excess air on), judgement without a source, its constants parameters with wide spreads.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lightoff.physics.air import DRY_AIR, OXYGEN_IN_DRY_AIR_FRACTION
from lightoff.physics.fuel import Stoichiometry
from lightoff.physics.uncertain import Array

SMOKE_POINT_AIR_RATIO = 1.17
"""Where a good spray begins to smoke; reports run from 1.15 to 1.25."""
CO_FLOOR = 22e-6
CO_AT_SMOKE_POINT = 60e-6
CO_RICH_WIDTH = 0.040
CO_LEAN_FROM, CO_LEAN_PER_RATIO = 1.65, 150e-6
HIGHEST_CO = 0.06
_SOFT = 0.02  # mixing is never perfect: oxygen slips through a little before air runs out


@dataclass(frozen=True, slots=True, kw_only=True)
class Gas:
    """Each (n,); shares of dry gas."""

    o2: Array
    co2: Array
    co: Array
    smoke_number: Array
    burnt_share: Array
    brightness: Array  # light of the flame over a healthy one
    smoke_margin: Array  # air ratio above where smoke starts; below nought it smokes


def gas(
    stoichiometry: Stoichiometry,
    *,
    air_ratio: Array,
    drop_size_ratio: Array,
    lopsided: Array,
    tube_soot_m: Array,
    smoke_point: Array,
    co_floor: Array,
    co_slope: Array,
    cold_k: Array,
) -> Gas:
    """Composition and smoke. `cold_k`: how much colder than 60 degC the jacket is, quenching the flame.

    Coarse drops, a lopsided spray and soot in the burn tube move the smoke point up.
    Basis: element_balance; the curves are judgement.
    """
    coarse = np.log(np.maximum(drop_size_ratio, 0.4))
    spoiled = 0.28 * np.maximum(coarse, -0.3) + 0.30 * lopsided + 60.0 * tube_soot_m
    knee = SMOKE_POINT_AIR_RATIO + smoke_point + spoiled
    margin = air_ratio - knee
    steep = CO_RICH_WIDTH * co_slope
    wall = CO_AT_SMOKE_POINT * np.exp(np.clip(-margin / steep, -30.0, 30.0))
    lean = CO_LEAN_PER_RATIO * _soft(air_ratio - CO_LEAN_FROM, 0.08) * (1.0 + 2.0 * np.maximum(coarse, 0.0))
    quench = CO_FLOOR * co_floor * (1.0 + 0.008 * np.maximum(cold_k, 0.0)) * np.exp(0.8 * coarse)
    short = 0.25 * np.maximum(1.0 - air_ratio, 0.0)
    free = quench + wall + lean + short
    free = free / (1.0 + free / HIGHEST_CO)  # air-free share, never above what a rich flame holds
    over = 1.0 + _soft(air_ratio - 1.0, _SOFT)
    s = stoichiometry
    dry = s.dry_gas_mol_kg + (over - 1.0) * s.air_mol_kg
    co = free * s.dry_gas_mol_kg / dry
    dry = dry / (1.0 - 0.5 * co)
    oxygen = ((over - 1.0) * s.oxygen_mol_kg + 0.5 * co * dry) / dry
    carbon = (s.carbon_mol_kg + DRY_AIR["CO2"] * over * s.air_mol_kg) / dry - co
    smoke = np.minimum(0.9 * _soft(-margin / 0.045, 0.6) + 0.15 * _soft(8.0 * lopsided, 0.3), 9.0)
    return Gas(
        o2=np.minimum(oxygen, OXYGEN_IN_DRY_AIR_FRACTION),
        co2=np.maximum(carbon, 0.0),
        co=co,
        smoke_number=smoke,
        burnt_share=1.0 - 2.5 * np.minimum(co, 0.08) - 0.002 * smoke,
        brightness=np.exp(-(np.maximum(air_ratio - 1.6, 0.0) ** 2)) / (1.0 + 0.08 * smoke),
        smoke_margin=margin,
    )


def _soft(x: Array, width: float) -> Array:
    """A smooth max(x, 0)."""
    scaled = np.clip(x / width, -60.0, 60.0)
    return np.asarray(width * np.log1p(np.exp(-np.abs(scaled))) + np.maximum(x, 0.0))
