"""The air that burns: pressure and density with altitude, water in it, what it is made of."""

from __future__ import annotations

from types import MappingProxyType

import numpy as np

from lightoff.ground.errors import Declined, Refusal
from lightoff.ground.message import Amount, message
from lightoff.physics.gas import GAS_CONSTANT_J_MOL_K, MOLAR_MASS_KG_MOL
from lightoff.physics.uncertain import Array, Real, plain

DRY_AIR = MappingProxyType({"O2": 0.2095, "N2": 0.7808, "Ar": 0.0093, "CO2": 0.0004})
"""Mole shares of dry air. Basis: us_standard_atmosphere_1976 (table 3: O2 0.209476, N2 0.78084,
Ar 0.00934), rounded to the four figures that flue-gas practice uses; carbon dioxide as of this century."""
OXYGEN_IN_DRY_AIR_FRACTION = DRY_AIR["O2"]
DRY_AIR_MOLAR_MASS_KG_MOL = (
    DRY_AIR["O2"] * 2 * MOLAR_MASS_KG_MOL["O"]
    + DRY_AIR["N2"] * 2 * MOLAR_MASS_KG_MOL["N"]
    + DRY_AIR["Ar"] * MOLAR_MASS_KG_MOL["Ar"]
    + DRY_AIR["CO2"] * (MOLAR_MASS_KG_MOL["C"] + 2 * MOLAR_MASS_KG_MOL["O"])
)
WATER_MOLAR_MASS_KG_MOL = 2 * MOLAR_MASS_KG_MOL["H"] + MOLAR_MASS_KG_MOL["O"]

SEA_LEVEL_PRESSURE_PA = 101325.0
REFERENCE_AIR_TEMPERATURE_K = 288.15
"""15 degC: the standard atmosphere's temperature at sea level, to which figures are referred."""

# Basis: us_standard_atmosphere_1976 (tables 2 and 4; equations 18, 23, 33a; its own gas constant).
_EARTH_RADIUS_M = 6_356_766.0
STANDARD_GRAVITY_M_S2 = 9.80665
_LAPSE_K_M = 0.0065
_ATMOSPHERE_GAS_CONSTANT_J_MOL_K = 8.31432
_ATMOSPHERE_MOLAR_MASS_KG_MOL = 28.9644e-3
_EXPONENT = (
    STANDARD_GRAVITY_M_S2 * _ATMOSPHERE_MOLAR_MASS_KG_MOL / (_ATMOSPHERE_GAS_CONSTANT_J_MOL_K * _LAPSE_K_M)
)
LOWEST_ALTITUDE_M, HIGHEST_ALTITUDE_M = -1000.0, 11_000.0

# Basis: iapws_if97 (table 34).
_N = (
    0.11670521452767e4,
    -0.72421316703206e6,
    -0.17073846940092e2,
    0.12020824702470e5,
    -0.32325550322333e7,
    0.14915108613530e2,
    -0.48232657361591e4,
    0.40511340542057e6,
    -0.23855557567849,
    0.65017534844798e3,
)
_FREEZING_K = 273.15
# Basis: iapws_r14_2011 (equation 6).
_TRIPLE_POINT_K, _TRIPLE_POINT_PA = 273.16, 611.657
_SUBLIMATION = (
    (-0.212144006e2, 0.333333333e-2),
    (0.273203819e2, 0.120666667e1),
    (-0.610598130e1, 0.170333333e1),
)


def _checked_altitude(altitude_m: Real) -> Array:
    altitude = np.asarray(altitude_m, dtype=np.float64)
    outside = ~((altitude >= LOWEST_ALTITUDE_M) & (altitude <= HIGHEST_ALTITUDE_M))
    if np.any(outside):
        first = float(np.atleast_1d(altitude)[np.argmax(np.atleast_1d(outside))])
        raise Refusal(
            message(
                "physics.altitude_range",
                value=Amount(value=first, dimension="length"),
                low=Amount(value=LOWEST_ALTITUDE_M, dimension="length"),
                high=Amount(value=HIGHEST_ALTITUDE_M, dimension="length"),
            ),
            field="altitude",
        )
    return altitude


def standard_temperature_k(altitude_m: Real) -> Real:
    """Temperature of the standard atmosphere at a height above sea level.

    Parameters: `altitude_m` geometric height, -1,000 to 11,000 m (float or array).
    Raises: Refusal outside it. Basis: us_standard_atmosphere_1976 (equations 18, 23).
    """
    altitude = _checked_altitude(altitude_m)
    geopotential = _EARTH_RADIUS_M * altitude / (_EARTH_RADIUS_M + altitude)
    return plain(REFERENCE_AIR_TEMPERATURE_K - _LAPSE_K_M * geopotential)


def standard_pressure_pa(altitude_m: Real) -> Real:
    """Pressure of the standard atmosphere at a height above sea level; the day's weather moves it by 3 %.

    Parameters: `altitude_m` geometric height, -1,000 to 11,000 m (float or array).
    Raises: Refusal outside it. Basis: us_standard_atmosphere_1976 (equation 33a), iso_2533_1975.

    >>> round(standard_pressure_pa(1500.0))
    84560
    """
    ratio = np.asarray(standard_temperature_k(altitude_m)) / REFERENCE_AIR_TEMPERATURE_K
    return plain(SEA_LEVEL_PRESSURE_PA * ratio**_EXPONENT)


def standard_density_kg_m3(altitude_m: Real) -> Real:
    """Density of the standard atmosphere at a height above sea level.

    Basis: us_standard_atmosphere_1976 (equation 42).
    """
    pressure = np.asarray(standard_pressure_pa(altitude_m))
    temperature = np.asarray(standard_temperature_k(altitude_m))
    return plain(pressure * _ATMOSPHERE_MOLAR_MASS_KG_MOL / (_ATMOSPHERE_GAS_CONSTANT_J_MOL_K * temperature))


def saturation_pressure_pa(temperature_k: Real) -> Real:
    """Pressure of water vapour at saturation: over liquid from 0 degC up, over ice below.

    Parameters: `temperature_k` 190 to 640 K (float or array). Raises: Declined outside it.
    Basis: iapws_if97 (equation 30), iapws_r14_2011 (equation 6).
    """
    t = np.asarray(temperature_k, dtype=np.float64)
    if np.any(~((t >= 190.0) & (t <= 640.0))):
        raise Declined(message("physics.saturation_range"))
    liquid = _over_liquid_pa(np.maximum(t, _FREEZING_K))
    if np.all(t >= _FREEZING_K):
        return plain(liquid)
    theta = np.minimum(t, _TRIPLE_POINT_K) / _TRIPLE_POINT_K
    exponent = sum((a * theta**b for a, b in _SUBLIMATION), np.zeros_like(theta))
    return plain(np.where(t >= _FREEZING_K, liquid, _TRIPLE_POINT_PA * np.exp(exponent / theta)))


def _over_liquid_pa(t: Array) -> Array:
    theta = t + _N[8] / (t - _N[9])
    a = theta * theta + _N[0] * theta + _N[1]
    b = _N[2] * theta * theta + _N[3] * theta + _N[4]
    c = _N[5] * theta * theta + _N[6] * theta + _N[7]
    root: Array = 2.0 * c / (-b + np.sqrt(b * b - 4.0 * a * c))
    squared = root * root
    return 1e6 * squared * squared


def dew_point_k(vapour_pressure_pa: Real) -> Real:
    """Temperature at which water begins to condense from a gas with this pressure of water vapour.

    Parameters: `vapour_pressure_pa` (float or array). Valid for: above 0 degC; below, it is the dew
    point over supercooled water, a little under the frost point.
    Basis: iapws_if97 (equation 31, the inverse of equation 30).
    """
    beta = np.sqrt(np.sqrt(np.asarray(vapour_pressure_pa, dtype=np.float64) * 1e-6))
    squared = beta * beta
    e = squared + _N[2] * beta + _N[5]
    f = _N[0] * squared + _N[3] * beta + _N[6]
    g = _N[1] * squared + _N[4] * beta + _N[7]
    d = 2.0 * g / (-f - np.sqrt(f * f - 4.0 * e * g))
    total = _N[9] + d
    return plain((total - np.sqrt(total * total - 4.0 * (_N[8] + _N[9] * d))) / 2.0)


def water_in_air_fraction(
    *, temperature_k: Real, relative_humidity_fraction: Real, pressure_pa: Real
) -> Real:
    """Mole share of water in moist air.

    Parameters: relative humidity 0 to 1; below 0 degC it is taken over ice. Floats or arrays.
    Raises: Refusal for a humidity outside 0 to 1. Leaves out the 0.4 % by which air under pressure
    holds more water than a vacuum. Basis: ideal_gas (Dalton), iapws_if97.
    """
    humidity = np.asarray(relative_humidity_fraction, dtype=np.float64)
    if np.any(~((humidity >= 0.0) & (humidity <= 1.0))):
        worst = float(np.atleast_1d(humidity)[np.argmax(np.abs(np.atleast_1d(humidity) - 0.5))])
        raise Refusal(
            message("physics.humidity_range", value=Amount(value=worst, dimension="fraction")),
            field="relative_humidity",
        )
    return plain(humidity * np.asarray(saturation_pressure_pa(temperature_k)) / np.asarray(pressure_pa))


def density_kg_m3(*, temperature_k: Real, pressure_pa: Real, water_fraction: Real = 0.0) -> Real:
    """Density of air here and now; damp air is lighter than dry.

    Parameters: `water_fraction` mole share of water. Basis: ideal_gas.
    """
    water = np.asarray(water_fraction, dtype=np.float64)
    molar_mass = DRY_AIR_MOLAR_MASS_KG_MOL * (1.0 - water) + WATER_MOLAR_MASS_KG_MOL * water
    return plain(np.asarray(pressure_pa) * molar_mass / (GAS_CONSTANT_J_MOL_K * np.asarray(temperature_k)))


def dry_air_mol_m3(*, temperature_k: Real, pressure_pa: Real, water_fraction: Real = 0.0) -> Real:
    """Moles of dry air in a cubic metre: what a fan of fixed volume delivers to the fire.

    Basis: ideal_gas.
    """
    dry_pressure = np.asarray(pressure_pa) * (1.0 - np.asarray(water_fraction, dtype=np.float64))
    return plain(dry_pressure / (GAS_CONSTANT_J_MOL_K * np.asarray(temperature_k)))


REFERENCE_DRY_AIR_MOL_M3 = SEA_LEVEL_PRESSURE_PA / (GAS_CONSTANT_J_MOL_K * REFERENCE_AIR_TEMPERATURE_K)
"""Dry air at 15 degC and sea level, mol/m3."""
