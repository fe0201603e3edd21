"""Gas from the flame through the jacket to the stack: heat balance and a cooled pipe, in closed forms.

The heat of the products is fitted as a quadratic in temperature to the exact polynomials of
`physics.gas`, so that a hundred thousand rows cost milliseconds; the fit is within 1.5 % of them
from 320 to 2,200 K (tested).
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from lightoff.ground.values import dataclass
from lightoff.physics import burn
from lightoff.physics.flame import air_heat_j_mol, gas_heat_j_kg
from lightoff.physics.fuel import Fuel
from lightoff.physics.uncertain import Array, Real

COLD_K = 298.15
_FITTED_K = np.linspace(320.0, 2200.0, 60)
_PASSES = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class GasSide:
    """Heat above 25 degC, J per kg of fuel, as a (T - 25 degC) + b/2 (T - 25 degC)^2.

    `products_*` at air ratio one; `air_*` for each further whole air need.
    """

    heating_value_j_kg: float
    products_j_k: float
    products_j_k2: float
    air_j_k: float
    air_j_k2: float

    def capacity_j_kg_k(self, air_ratio: Real) -> tuple[Array, Array]:
        """a and b for this air ratio; below one the products shrink with the air."""
        burnt = np.minimum(air_ratio, 1.0)
        excess = np.maximum(np.asarray(air_ratio) - 1.0, 0.0)
        a = burnt * self.products_j_k + excess * self.air_j_k
        return np.asarray(a), np.asarray(burnt * self.products_j_k2 + excess * self.air_j_k2)

    def heat_j_kg(self, air_ratio: Real, temperature_k: Real) -> Array:
        """Sensible heat of the gas above 25 degC, per kg of fuel."""
        a, b = self.capacity_j_kg_k(air_ratio)
        above = np.asarray(temperature_k) - COLD_K
        return np.asarray(a * above + 0.5 * b * above**2)

    def flame_temperature_k(self, air_ratio: Real, air_temperature_k: Real, burnt_share: Real) -> Array:
        """Temperature of a flame that keeps its heat, nothing split apart.

        `burnt_share` of the fuel's heat comes free: lack of air counts in it, and what the case takes.
        Valid for: air ratios of 0.5 to 3, within 20 K of the exact polynomials from 1.15 on and 40 K at one;
        below 1.2 it lies above the true one, which splits apart.
        """
        brought = np.asarray(air_ratio) * self.air_j_k * (np.asarray(air_temperature_k) - COLD_K)
        return self.temperature_k(air_ratio, self.heating_value_j_kg * np.asarray(burnt_share) + brought)

    def temperature_k(self, air_ratio: Real, heat_j_kg: Real) -> Array:
        """The temperature at which the gas holds this heat above 25 degC: `heat_j_kg` turned round."""
        a, b = self.capacity_j_kg_k(air_ratio)
        # Down to where the fit turns, 200 K and more below anything that burns.
        root = np.sqrt(np.maximum(a * a + 2.0 * b * np.asarray(heat_j_kg), 0.0))
        return np.asarray(COLD_K + (root - a) / b)


@lru_cache(maxsize=32)
def gas_side(fuel: Fuel) -> GasSide:
    """The gas side of a fuel, fitted once. Basis: mcbride_1993 through `physics.flame`, least squares."""
    products = burn.products(fuel.stoichiometry, air_ratio=1.0)
    heat = gas_heat_j_kg(products, _FITTED_K)
    air = air_heat_j_mol(_FITTED_K, np.zeros(())) * fuel.stoichiometry.air_mol_kg
    above = _FITTED_K - COLD_K
    terms = np.stack([above, 0.5 * above**2], axis=1)
    weight = 1.0 / above
    fits = [np.linalg.lstsq(terms * weight[:, None], each * weight, rcond=None)[0] for each in (heat, air)]
    return GasSide(
        heating_value_j_kg=fuel.net_heating_value_j_kg,
        products_j_k=float(fits[0][0]),
        products_j_k2=float(fits[0][1]),
        air_j_k=float(fits[1][0]),
        air_j_k2=float(fits[1][1]),
    )


def outlet_temperature_k(
    *, inlet_k: Array, water_k: Real, conductance_w_k: Array, capacity_w_k: Array, growth_per_k: Array
) -> Array:
    """Gas temperature behind a jacket of one temperature; `capacity` at the water's, growing with T.

    With C = Cw (1 + g (T - Tw)) the cooling dT/dA = -U (T - Tw) / C gives
    ln((Ti - Tw) / (To - Tw)) + g (Ti - To) = UA / Cw, solved by Newton from the constant-capacity answer.
    Basis: energy_balance; e-NTU with one stream of constant temperature.
    """
    hot = np.maximum(inlet_k - water_k, 1e-3)
    ntu = conductance_w_k / capacity_w_k
    left = hot * np.exp(-np.minimum(ntu / (1.0 + 0.5 * growth_per_k * hot), 60.0))
    for _ in range(_PASSES):
        error = np.log(hot / left) + growth_per_k * (hot - left) - ntu
        # In the logarithm of what is left the curve is nearly straight, so it cannot step below nought.
        left = left * np.exp(np.clip(error / (1.0 + growth_per_k * left), -3.0, 3.0))
        left = np.minimum(left, hot)
    return np.asarray(water_k + left)


def heat_fading_w_k(
    *, inlet_k: Array, water_k: Real, outlet_k: Array, capacity_w_k: Array, growth_per_k: Array
) -> Array:
    """Heat that a jacket loses for each kelvin that its water is warmer, W/K; names as above.

    What `outlet_temperature_k` gives, differentiated by the water's temperature:
    Cw (1 - (To - Tw) / (Ti - Tw) + g (To - Tw) ln((Ti - Tw) / (To - Tw))). Basis: energy_balance.
    """
    hot = np.maximum(inlet_k - water_k, 1e-3)
    left = np.minimum(np.maximum(outlet_k - water_k, 1e-6), hot)
    return np.asarray(capacity_w_k * (1.0 - left / hot + growth_per_k * left * np.log(hot / left)))


def conductance_for_outlet_w_k(
    *, inlet_k: float, water_k: float, outlet_k: float, capacity_w_k: float, growth_per_k: float
) -> float:
    """The conductance that cools the gas to this outlet: `outlet_temperature_k` turned round."""
    hot, left = inlet_k - water_k, outlet_k - water_k
    return capacity_w_k * (float(np.log(hot / left)) + growth_per_k * (hot - left))
