"""Sulphuric acid in the flue gas: the temperature below which it condenses.

Told as information; nothing is judged by it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lightoff.ground.errors import Declined
from lightoff.ground.message import message
from lightoff.physics.air import SEA_LEVEL_PRESSURE_PA
from lightoff.physics.fuel import Fuel
from lightoff.physics.gas import MOLAR_MASS_KG_MOL
from lightoff.physics.uncertain import Array, Real, Uncertain, plain, through

# The relation takes pressures in millimetres of mercury. Basis: verhoff_1974.
_MMHG_PA = SEA_LEVEL_PRESSURE_PA / 760.0
_A, _WATER, _ACID, _BOTH = 2.276e-3, -0.0294e-3, -0.0858e-3, 0.0062e-3
# 0.01 to 100 ppm of SO3 in 2.5 to 25 % of water, at one atmosphere: where the other relation was held
# against this one. The range of the measurements behind it was not seen.
_SO3_PA, _WATER_PA = (1e-3, 10.2), (2.5e3, 26e3)
SO3_SHARE_OF_SULPHUR, SO3_SHARE_HALF_WIDTH = 0.03, 0.02
"""Part of the fuel's sulphur that leaves as SO3, 1 to 5 %; the rest is SO2. Basis: epa_ap42_1_3."""
_METHODS_APART_K = 12.0
"""How far another published relation lies from this one at most, found side by side. Basis: okkes_1987."""


def acid_dew_point_k(*, so3_pressure_pa: Real, water_pressure_pa: Real, extrapolate: bool = False) -> Real:
    """Temperature at which sulphuric acid begins to condense from a gas.

    Parameters: partial pressures of sulphur trioxide, 0.001 to 10.2 Pa (0.01 to 100 ppm at sea level), and
    of water vapour, 2.5 to 26 kPa; floats or arrays.
    Raises: Declined outside them, unless `extrapolate`.
    Valid for: flue gas. Another published relation (okkes_1987) lies up to 12 K away.
    Basis: verhoff_1974 (1000/T = 2.276 - 0.0294 ln w - 0.0858 ln s + 0.0062 ln w ln s, mmHg).

    >>> round(acid_dew_point_k(so3_pressure_pa=0.332, water_pressure_pa=12458.0))
    402
    """
    so3, water = (np.asarray(each, dtype=np.float64) for each in (so3_pressure_pa, water_pressure_pa))
    if not extrapolate and not np.all(_within(so3, _SO3_PA) & _within(water, _WATER_PA)):
        raise Declined(message("physics.acid_range"))
    w, s = np.log(water / _MMHG_PA), np.log(so3 / _MMHG_PA)
    return plain(1.0 / (_A + _WATER * w + _ACID * s + _BOTH * w * s))


def _within(pressure_pa: Array, possible: tuple[float, float]) -> NDArray[np.bool_]:
    low, high = possible
    return np.asarray((pressure_pa >= low) & (pressure_pa <= high))


def highest_acid_dew_point_k(
    fuel: Fuel, *, wet_gas_mol_kg: Real, vapour_pressure_pa: Uncertain, pressure_pa: Real
) -> Uncertain | None:
    """The highest temperature at which acid may condense in this flue, or None.

    With the most sulphur that the fuel may hold, or what its data sheet tells if that is more. None where
    neither is known, or where any row lies outside what the relation holds for.
    Parameters: `wet_gas_mol_kg` moles of flue gas of a kilogram of fuel; `vapour_pressure_pa` of its water.
    The width carries that of the vapour pressure, the share of SO3 and how far two relations lie apart;
    that of the gas amount is left out (0.2 K).
    """
    most = fuel.sulphur_most_fraction
    share = max(fuel.sulphur_fraction.value, most.value if most else 0.0)
    so3_share = np.asarray(share / MOLAR_MASS_KG_MOL["S"] / np.asarray(wet_gas_mol_kg, dtype=np.float64))
    so3 = SO3_SHARE_OF_SULPHUR * so3_share * np.asarray(pressure_pa, dtype=np.float64)
    water = np.asarray(vapour_pressure_pa.value, dtype=np.float64)
    if not np.all(_within(so3, _SO3_PA) & _within(water, _WATER_PA)):
        return None

    def at(water_pa: Real, so3_ratio: float = 1.0) -> Array:
        return np.asarray(
            acid_dew_point_k(so3_pressure_pa=so3_ratio * so3, water_pressure_pa=water_pa, extrapolate=True)
        )

    by_water = through(at, vapour_pressure_pa)
    relative = SO3_SHARE_HALF_WIDTH / SO3_SHARE_OF_SULPHUR
    # The logarithm bends: half the span between both ends stands for the half width, U = 2 u.
    by_share = 0.25 * (at(water, 1.0 + relative) - at(water, 1.0 - relative))
    by_method = 0.5 * _METHODS_APART_K
    total = np.sqrt(np.asarray(by_water.standard_uncertainty) ** 2 + by_share**2 + by_method**2)
    return Uncertain(value=by_water.value, standard_uncertainty=plain(total))
