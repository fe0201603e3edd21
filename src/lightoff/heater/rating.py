"""What the model takes a heater type to be: its sheet, and what follows from it by balance.

Rated figures hold at the reference place (15 degC, dry, sea level), on No. 2 diesel at 15 degC and at the
supply's usual voltage. What a sheet does not say is closed by balance or by scaling with heat; such shares
are engineering judgement, no source, unless they say otherwise.
"""

from __future__ import annotations

import numpy as np

from lightoff.ground.values import dataclass
from lightoff.heater.gas_side import COLD_K, GasSide, conductance_for_outlet_w_k, gas_side
from lightoff.physics import air, burn
from lightoff.physics.fuel import Fuel, Stoichiometry, density_kg_m3, viscosity_m2_s
from lightoff.physics.uncertain import Array, Real
from lightoff.terms.shelf import Sheet

CHARGED_SHARE = 1.055
"""Voltage at rest of a charged lead-acid battery over its nominal: 12.66 of 12 V.
Common practice, no source."""
CASE_LOSS_SHARE = 0.02
"""Of the fuel's net heat, lost by the case and not by the flue. Judgement, no source."""
RATED_WATER_K = 333.15
"""Mean coolant temperature at which rated output is stated. Judgement, no source."""
COLD_TO_HOT_RESISTANCE = 0.55
"""Igniter's resistance cold over hot, where the sheet tells none; materials differ both ways, hence the wide
spread. Judgement, no source."""
_COLDEST_STACK_RISE_K = 40.0
"""Above the coolant: a sheet that claims more heat than its fuel gives is met only so far."""
_LEAST_AIR_RATIO = 1.05
"""Of a fan that is said to give less: nobody rates a burner richer. Judgement, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rating:
    """Figures of one heater type that its chain starts from, SI."""

    sheet: Sheet
    air_ratio: float
    air_mol_s: float
    fuel_density_kg_m3: float
    fuel_viscosity_m2_s: float
    conductance_w_k: float
    stack_temperature_k: float
    igniter_hot_ohm: float
    igniter_cold_ohm: float

    @property
    def rest_v(self) -> float:
        """The usual voltage at rest."""
        return CHARGED_SHARE * self.sheet.supply_v

    @property
    def motors_a(self) -> float:
        """Fan, compressor and fuel pump together, at the usual voltage."""
        sheet = self.sheet
        return sheet.fan_current_a + sheet.compressor_current_a + sheet.pump_current_a

    @property
    def fuel_volume_m3_s(self) -> float:
        """Rated fuel by volume."""
        return self.sheet.fuel_flow_kg_s / self.fuel_density_kg_m3


def rate(sheet: Sheet, reference_fuel: Fuel) -> Rating:
    """The rating of a type: its conductance from gas to coolant closes the balance of rated heat and fuel,
    or meets the rated exhaust temperature where the sheet tells one.

    `reference_fuel` is what the sheet was rated on, its viscosity known.
    Basis: element_balance, energy_balance.
    """
    stoichiometry, gas = reference_fuel.stoichiometry, gas_side(reference_fuel)
    fuel, hot_ohm = sheet.fuel_flow_kg_s, sheet.igniter_v**2 / sheet.igniter_w
    ratio = _air_ratio(sheet, stoichiometry)
    lost = gas.heating_value_j_kg * (1.0 - CASE_LOSS_SHARE) - sheet.heat_output_w / fuel
    intake = air.REFERENCE_AIR_TEMPERATURE_K
    stack = sheet.stack_temperature_rated_k or float(
        gas.temperature_k(ratio, lost + ratio * gas.air_j_k * (intake - COLD_K))
    )
    stack = max(stack, RATED_WATER_K + _COLDEST_STACK_RISE_K)
    flame = float(gas.flame_temperature_k(ratio, intake, 1.0 - CASE_LOSS_SHARE))
    capacity, growth = jacket_capacity(gas, ratio, fuel, RATED_WATER_K)
    return Rating(
        sheet=sheet,
        air_ratio=ratio,
        air_mol_s=ratio * stoichiometry.air_mol_kg * fuel,
        fuel_density_kg_m3=float(density_kg_m3(reference_fuel, air.REFERENCE_AIR_TEMPERATURE_K)),
        fuel_viscosity_m2_s=float(viscosity_m2_s(reference_fuel, air.REFERENCE_AIR_TEMPERATURE_K)),
        conductance_w_k=conductance_for_outlet_w_k(
            inlet_k=flame,
            water_k=RATED_WATER_K,
            outlet_k=stack,
            capacity_w_k=float(capacity),
            growth_per_k=float(growth),
        ),
        stack_temperature_k=stack,
        igniter_hot_ohm=hot_ohm,
        igniter_cold_ohm=sheet.igniter_cold_ohm or COLD_TO_HOT_RESISTANCE * hot_ohm,
    )


def _air_ratio(sheet: Sheet, stoichiometry: Stoichiometry) -> float:
    """By the maker's oxygen; where that is an estimate and the fan's air is told, by fan and fuel."""
    is_said = "fan_flow_m3_s" not in sheet.estimated
    if sheet.fan_flow_m3_s is not None and is_said and "o2_dry_low_fraction" in sheet.estimated:
        moles = sheet.fan_flow_m3_s * air.REFERENCE_DRY_AIR_MOL_M3
        return max(float(moles / (stoichiometry.air_mol_kg * sheet.fuel_flow_kg_s)), _LEAST_AIR_RATIO)
    middle_o2 = 0.5 * (sheet.o2_dry_low_fraction + sheet.o2_dry_high_fraction)
    return float(burn.air_ratio_from_dry_o2(stoichiometry, o2_dry_fraction=middle_o2))


def jacket_capacity(gas: GasSide, air_ratio: Real, fuel_kg_s: Real, water_k: Real) -> tuple[Array, Array]:
    """Heat capacity flow of the gas at the water's temperature, W/K, and its growth with temperature, 1/K."""
    a, b = gas.capacity_j_kg_k(np.asarray(air_ratio, dtype=np.float64))
    slope = a + b * (np.asarray(water_k, dtype=np.float64) - COLD_K)
    return np.asarray(slope * fuel_kg_s), np.asarray(b / slope)
