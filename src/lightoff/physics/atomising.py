"""The air that tears the fuel apart, the drops it makes, and how long they take to evaporate.

Nozzles differ in shape: trust the ratios of drop sizes, not their microns.
"""

from __future__ import annotations

import numpy as np

from lightoff.physics.air import DRY_AIR_MOLAR_MASS_KG_MOL
from lightoff.physics.gas import GAS_CONSTANT_J_MOL_K
from lightoff.physics.uncertain import Array, Real, plain

AIR_GAS_CONSTANT_J_KG_K = GAS_CONSTANT_J_MOL_K / DRY_AIR_MOLAR_MASS_KG_MOL
HEAT_CAPACITY_RATIO = 1.4
"""Of dry air at everyday temperatures. Basis: ideal_gas (two atoms: 7/5)."""
# (2 / (g + 1)), to which T falls in the throat when it chokes; the pressure ratio there is its power 3.5.
_SONIC_TEMPERATURE_RATIO = 2.0 / (HEAT_CAPACITY_RATIO + 1.0)
CHOKING_PRESSURE_RATIO = _SONIC_TEMPERATURE_RATIO**3.5
"""Back pressure over supply pressure, absolute, below which the throat runs at the speed of sound: 0.528."""


def _throat_temperature_ratio(pressure_pa: Real, back_pressure_pa: Real) -> Array:
    """T in the throat over T before it; 1 without a drop of pressure, no lower than the sonic one."""
    supply = np.asarray(pressure_pa, dtype=np.float64)
    ratio = np.clip(back_pressure_pa / supply, CHOKING_PRESSURE_RATIO, 1.0)
    return np.asarray(ratio ** (2.0 / 7.0))


def orifice_air_flow_kg_s(
    *, area_m2: Real, discharge: Real, pressure_pa: Real, back_pressure_pa: Real, temperature_k: Real
) -> Real:
    """Air mass through a small opening, up to choking.

    Parameters: floats or arrays; absolute pressures above zero, `temperature_k` before the opening.
    `discharge` is its coefficient, from 0 to 1: about 0.6 to 0.85 for drilled holes, nearer 1 if rounded
    (common practice, no source). Returns 0 where the back pressure is the higher one: no flow backwards.
    Valid for: dry air as an ideal gas, an opening much smaller than the passage before it.
    Basis: isentropic_flow.
    """
    throat = _throat_temperature_ratio(pressure_pa, back_pressure_pa)
    # With g = 7/5: (p/p0)^(2/g) = throat^5, and (p/p0)^((g+1)/g) = throat^6.
    square = throat * throat
    heat = 7.0 * (1.0 - throat) / (AIR_GAS_CONSTANT_J_KG_K * np.asarray(temperature_k, dtype=np.float64))
    return plain(discharge * area_m2 * pressure_pa * square * np.sqrt(throat * heat))


def jet_velocity_m_s(*, pressure_pa: Real, back_pressure_pa: Real, temperature_k: Real) -> Real:
    """Speed of the air in the opening's throat; the speed of sound there once it chokes.

    Parameters: as for `orifice_air_flow_kg_s`. Past choking the jet speeds up outside, which this leaves
    out. Basis: isentropic_flow.
    """
    throat = _throat_temperature_ratio(pressure_pa, back_pressure_pa)
    heat_j_kg = 7.0 * AIR_GAS_CONSTANT_J_KG_K * np.asarray(temperature_k, dtype=np.float64) * (1.0 - throat)
    return plain(np.sqrt(heat_j_kg))


def plain_jet_drop_size_m(
    *,
    nozzle_diameter_m: Real,
    surface_tension_n_m: Real,
    air_density_kg_m3: Real,
    velocity_m_s: Real,
    air_to_liquid: Real,
    fuel_density_kg_m3: Real,
    fuel_viscosity_pa_s: Real,
) -> Real:
    """Sauter mean diameter of the drops of a plain fuel jet torn apart by air around it.

        d0 {0.48 (sigma / (rho_A U^2 d0))^0.4 (1 + 1/ALR)^0.4 + 0.15 (mu^2 / (sigma rho d0))^0.5 (1 + 1/ALR)}

    The trap: a real nozzle of another shape is off by tens of per cent, so use ratios of two answers.
    Parameters: floats or arrays above zero; `nozzle_diameter_m` of the fuel's opening, `velocity_m_s` of
    the air past it, `air_to_liquid` by mass. Returns infinity without air.
    Valid for: 60 to 180 m/s, air to liquid 0.5 to 6, 0.001 to 0.05 Pa s (that range is from memory,
    unverified); below it real sprays are coarser still.
    Basis: lefebvre_plain_jet.
    """
    bore = np.asarray(nozzle_diameter_m, dtype=np.float64)
    velocity = np.asarray(velocity_m_s, dtype=np.float64)
    with np.errstate(divide="ignore"):
        mixing = 1.0 + 1.0 / np.asarray(air_to_liquid, dtype=np.float64)
        torn = surface_tension_n_m / (air_density_kg_m3 * velocity * velocity * bore) * mixing
    viscous = fuel_viscosity_pa_s / np.sqrt(surface_tension_n_m * fuel_density_kg_m3 * bore) * mixing
    return plain(bore * (0.48 * torn**0.4 + 0.15 * viscous))


def drop_size_ratio(
    *,
    velocity_ratio: Real,
    air_to_liquid: Real,
    air_to_liquid_rated: Real,
    air_density_ratio: Real,
    viscosity_ratio: Real,
    viscous_share: Real,
) -> Real:
    """Drop size of a worn, cold or starved nozzle against its rated drop size.

    Parameters: floats or arrays above zero; ratios are against the rated state, `velocity_ratio` of the
    air. `viscous_share` is the part of the rated size that comes from viscosity: one less the ratio of
    `plain_jet_drop_size_m` without viscosity to that with it; about 0.1 for warm diesel. Returns infinity
    without air. Valid for: as `plain_jet_drop_size_m`, bores and surface tension unchanged.
    Basis: lefebvre_plain_jet.
    """
    rated_mixing = 1.0 + 1.0 / np.asarray(air_to_liquid_rated, dtype=np.float64)
    velocity = np.asarray(velocity_ratio, dtype=np.float64)
    with np.errstate(divide="ignore"):
        mixing = (1.0 + 1.0 / np.asarray(air_to_liquid, dtype=np.float64)) / rated_mixing
        torn = (mixing / (air_density_ratio * velocity * velocity)) ** 0.4
    return plain((1.0 - viscous_share) * torn + viscous_share * viscosity_ratio * mixing)


def evaporation_time_s(*, drop_size_m: Real, evaporation_constant_m2_s: Real) -> Real:
    """Time in which a drop is gone, the square of its diameter shrinking evenly.

    Parameters: floats or arrays above zero. The constant of fuel oils is 1e-7 to 1e-6 m2/s, cold to hot
    (from memory, unverified): use the time to compare two states, not as a time of itself.
    Valid for: one drop in still gas, without its heating up first. Basis: d_square_law.
    """
    size = np.asarray(drop_size_m, dtype=np.float64)
    return plain(size * size / evaporation_constant_m2_s)
