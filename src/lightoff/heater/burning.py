"""The flame's gas: oxygen, carbon dioxide, carbon monoxide, smoke, light.

Atoms are kept (`element_balance`); how carbon monoxide and smoke rise is a made-up curve through what the
trade reports (a floor of tens of ppm, a wall towards too little air, smoke from about a fifth of excess air
on), judgement without a source, its constants parameters with wide spreads.
"""

from __future__ import annotations

import numpy as np

from lightoff.ground.values import dataclass
from lightoff.heater.soft import above_zero
from lightoff.physics.air import DRY_AIR, OXYGEN_IN_DRY_AIR_FRACTION
from lightoff.physics.fuel import Stoichiometry
from lightoff.physics.gas import CO_HEATING_VALUE_J_MOL
from lightoff.physics.uncertain import Array

SMOKE_POINT_AIR_RATIO = 1.17
"""Where a good spray begins to smoke; reports run from 1.15 to 1.25."""
CO_FLOOR = 22e-6
CO_AT_SMOKE_POINT = 60e-6
CO_RICH_WIDTH = 0.040
CO_LEAN_FROM, CO_LEAN_PER_RATIO = 1.65, 150e-6
HIGHEST_CO = 0.06
"""Of a gas without spare air, however rich. Judgement; equilibrium gives some 7 % at an air ratio of 0.8."""
CO_OF_SHORTAGE = 0.56
"""Of what is left half burnt for want of oxygen: the rest is hydrogen. Judgement, no source; about the
split that the water-gas reaction freezes at near 1,500 K."""
SLIP_WIDTH = 0.02
"""Air ratio over which oxygen slips through before air runs out: mixing is never perfect. Judgement."""
COARSE_SMOKES, LOPSIDED_SMOKES, TUBE_SOOT_SMOKES_1_M = 0.28, 0.30, 60.0
"""What moves the smoke point up, in air ratio: a log unit of drop size, a spray wholly to one side, soot in
the burn tube. Judgement, no source."""
SMOKE_WIDTH = 0.045
"""Air ratio below the smoke point for nearly one smoke number more. Judgement, no source."""
HIGHEST_SMOKE = 9.0
"""The scale's end. Basis: astm_d2156."""
SMOKE_HEAT = 0.002
"""Of the fuel's heat, lost with each smoke number. Judgement, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gas:
    """Each (n,); shares of dry gas."""

    o2: Array
    co2: Array
    co: Array
    smoke_number: Array
    burnt_share: Array  # of the fuel's net heat
    brightness: Array  # light of the flame over a healthy one
    smoke_margin: Array  # air ratio above where smoke starts; below nought it smokes


def gas(
    stoichiometry: Stoichiometry,
    *,
    heating_value_j_kg: float,
    air_ratio: Array,
    drop_size_ratio: Array,
    lopsided: Array,
    tube_soot_m: Array,
    smoke_point: Array,
    co_floor: Array,
    co_slope: Array,
) -> Gas:
    """Composition and smoke.

    Carbon and nitrogen are kept exactly; oxygen to some hundreds of ppm, for the wall of carbon monoxide
    and the oxygen that slips past it are two curves. Where air is short, hydrogen leaves with the gas.
    Basis: element_balance; the curves are judgement.
    """
    coarse = np.log(np.maximum(drop_size_ratio, 0.4))
    knee = (
        (SMOKE_POINT_AIR_RATIO + smoke_point)
        + COARSE_SMOKES * np.maximum(coarse, -0.3)
        + LOPSIDED_SMOKES * lopsided
        + TUBE_SOOT_SMOKES_1_M * tube_soot_m
    )
    margin = air_ratio - knee
    s = stoichiometry
    slip = above_zero(air_ratio - 1.0, SLIP_WIDTH)
    unmet = slip - (air_ratio - 1.0)  # part of the need for which there is no oxygen
    half_burnt = 2.0 * s.oxygen_mol_kg * unmet  # carbon monoxide and hydrogen, mol/kg
    steep = margin / (CO_RICH_WIDTH * co_slope)
    wall = CO_AT_SMOKE_POINT * np.exp(-np.minimum(np.maximum(steep, -30.0), 30.0))
    lean = (
        CO_LEAN_PER_RATIO * above_zero(air_ratio - CO_LEAN_FROM, 0.08) * (1.0 + 2.0 * np.maximum(coarse, 0.0))
    )
    quench = CO_FLOOR * co_floor * np.exp(0.8 * coarse)
    airy = (quench + lean) * s.dry_gas_mol_kg  # its oxygen stays in the gas
    all_co = airy + wall * s.dry_gas_mol_kg + CO_OF_SHORTAGE * half_burnt
    carbon = s.carbon_mol_kg + (DRY_AIR["CO2"] * s.air_mol_kg) * air_ratio
    inert = (DRY_AIR["N2"] + DRY_AIR["Ar"]) * s.air_mol_kg * air_ratio + s.sulphur_mol_kg
    held = 1.0 / (1.0 + all_co / (HIGHEST_CO * (carbon + inert)))
    co = all_co * held
    hydrogen = (1.0 - CO_OF_SHORTAGE) * half_burnt * held
    oxygen = s.oxygen_mol_kg * slip + 0.5 * airy * held
    dry = carbon + inert + hydrogen + oxygen
    smoke = 0.9 * above_zero(-margin / SMOKE_WIDTH, 0.6) + 0.15 * above_zero(8.0 * lopsided, 0.3)
    smoke = np.minimum(smoke, HIGHEST_SMOKE)
    unburnt = np.maximum(co * (CO_HEATING_VALUE_J_MOL / heating_value_j_kg), unmet)
    return Gas(
        o2=np.minimum(oxygen / dry, OXYGEN_IN_DRY_AIR_FRACTION),
        co2=np.maximum(carbon - co, 0.0) / dry,
        co=co / dry,
        smoke_number=smoke,
        burnt_share=np.maximum(1.0 - unburnt - SMOKE_HEAT * smoke, 0.0),
        brightness=brightness(air_ratio, smoke),
        smoke_margin=margin,
    )


def brightness(air_ratio: Array, smoke_number: Array) -> Array:
    """Light of the flame over that of a healthy one: dim where it is lean, dimmed by smoke. Judgement, no
    source."""
    return np.asarray(np.exp(-(np.maximum(air_ratio - 1.6, 0.0) ** 2)) / (1.0 + 0.08 * smoke_number))
