"""The chain of formulas behind a flue analysis, from inputs by name to figures by name."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from lightoff.physics import air, burn, flame, loss
from lightoff.physics.fuel import Fuel, Stoichiometry, stoichiometry_of
from lightoff.physics.gas import (
    CO_HEATING_VALUE_J_MOL,
    REFERENCE_TEMPERATURE_K,
    WATER_LATENT_HEAT_J_MOL,
    heat_capacity_j_mol_k,
)
from lightoff.physics.uncertain import Array

_AIR_O2 = air.OXYGEN_IN_DRY_AIR_FRACTION


class FlueChain:
    """The chain of formulas from inputs to figures; called once for each input that is moved.

    What depends only on temperatures is kept for the arrays it was made from.
    """

    def __init__(self, fuel: Fuel) -> None:
        self.fuel = fuel
        self._flame_k: Array | None = None
        self._kept: dict[tuple[str, int, int], tuple[tuple[Array, ...], dict[str, Array]]] = {}

    def __call__(self, values: Mapping[str, Array]) -> dict[str, Array]:
        s, net, gross = self._fuel(values)
        water = self._water_per_dry_air(values)
        figures = self._air_ratio(s, values, water)
        figures["water_per_dry_air"] = water
        gas = burn.products(
            s, air_ratio=figures["air_ratio"], co_dry_fraction=values.get("co", 0.0), water_per_dry_air=water
        )
        dry, wet = gas.dry_mol_kg, gas.wet_mol_kg
        figures["o2_dry"] = np.asarray(gas.o2 / dry)
        figures["co2_dry"] = np.asarray(gas.co2 / dry)
        figures["o2_wet"] = np.asarray(gas.o2 / wet)
        figures["latent"] = np.asarray(s.water_mol_kg * WATER_LATENT_HEAT_J_MOL / gross)
        self._carbon_monoxide(figures, values)
        if "pressure" in values:
            figures["dew_point"] = np.asarray(air.dew_point_k(gas.h2o / wet * values["pressure"]))
        if "intake" in values:
            figures["flame"] = self._flame(gas, s, net, values, figures["air_ratio"], water)
            if "pressure" in values:
                here = air.dry_air_mol_m3(
                    temperature_k=values["intake"],
                    pressure_pa=values["pressure"],
                    water_fraction=water / (1.0 + water),
                )
                figures["referred"] = figures["air_ratio"] * (air.REFERENCE_DRY_AIR_MOL_M3 / here)
            if "stack" in values:
                self._losses(figures, gas, values, net, gross)
        return figures

    def _fuel(self, values: Mapping[str, Array]) -> tuple[Stoichiometry, float, float]:
        fuel, hydrogen, oxygen = self.fuel, float(values["hydrogen"]), float(values["oxygen"])
        moved = hydrogen - fuel.hydrogen_fraction.value + oxygen - fuel.oxygen_fraction.value
        s = stoichiometry_of(
            carbon_fraction=fuel.carbon_fraction.value - moved,
            hydrogen_fraction=hydrogen,
            oxygen_fraction=oxygen,
            sulphur_fraction=fuel.sulphur_fraction.value,
            moisture_fraction=fuel.moisture_fraction.value,
        )
        held, latent = float(values["heat"]), s.water_mol_kg * WATER_LATENT_HEAT_J_MOL
        gross = held if fuel.heating_value_basis == "gross" else held + latent
        return s, gross - latent, gross

    def _water_per_dry_air(self, values: Mapping[str, Array]) -> Array:
        if not {"humidity", "intake", "pressure"} <= values.keys():
            return np.zeros(())
        kept = self._keep("saturation", (values["intake"],), _saturation)
        x = values["humidity"] * kept["pa"] / values["pressure"]
        return x / (1.0 - x)

    def _air_ratio(self, s: Stoichiometry, values: Mapping[str, Array], water: Array) -> dict[str, Array]:
        co = values.get("co", 0.0)
        figures: dict[str, Array] = {}
        if "o2_dry" in values:
            figures["from_o2"] = np.asarray(
                burn.air_ratio_from_dry_o2(s, o2_dry_fraction=values["o2_dry"], co_dry_fraction=co)
            )
        elif "o2_wet" in values:
            figures["from_o2"] = np.asarray(
                burn.air_ratio_from_wet_o2(
                    s, o2_wet_fraction=values["o2_wet"], co_dry_fraction=co, water_per_dry_air=water
                )
            )
        if "co2" in values:
            figures["from_co2"] = np.asarray(
                burn.air_ratio_from_co2(s, co2_dry_fraction=values["co2"], co_dry_fraction=co)
            )
        best = figures["from_o2"] if "from_o2" in figures else figures["from_co2"]
        figures["air_ratio"] = best
        return figures

    def _carbon_monoxide(self, figures: dict[str, Array], values: Mapping[str, Array]) -> None:
        o2 = values["o2_dry"] if "o2_dry" in values else figures["o2_dry"]
        if "co" in values:
            figures["co_air_free"] = values["co"] * _AIR_O2 / (_AIR_O2 - o2)
        if "co2" in values:
            figures["fuel_factor"] = np.asarray(
                burn.fuel_factor(
                    o2_dry_fraction=o2, co2_dry_fraction=values["co2"], co_dry_fraction=values.get("co", 0.0)
                )
            )

    def _losses(
        self,
        figures: dict[str, Array],
        gas: burn.Products,
        values: Mapping[str, Array],
        net: float,
        gross: float,
    ) -> None:
        ends = (values["stack"], values["intake"])
        lost = loss.flue_loss(gas, self._keep("rises", ends, _rises))
        total = np.asarray(lost.total_j_kg)
        figures["rise"] = values["stack"] - values["intake"]
        figures["dry_gas_loss"] = np.asarray(lost.dry_gas_j_kg / net)
        figures["vapour_loss"] = np.asarray(lost.vapour_j_kg / net)
        figures["unburned_loss"] = np.asarray(lost.unburned_j_kg / net)
        figures["loss_net"] = total / net
        figures["efficiency_gross"] = (net - total) / gross
        referred = loss.flue_loss(gas, self._keep("referred", ends, _referred_rises))
        figures["loss_referred"] = np.asarray(referred.total_j_kg / net)

    def _flame(
        self,
        gas: burn.Products,
        s: Stoichiometry,
        net: float,
        values: Mapping[str, Array],
        air_ratio: Array,
        water: Array,
    ) -> Array:
        """The temperature at the readings, then one Newton step from it for every input moved."""
        brought = self._keep("air", (values["intake"],), _air_heat)
        heat = (
            net
            - gas.co * CO_HEATING_VALUE_J_MOL
            + air_ratio * s.air_mol_kg * (brought["dry"] + water * brought["water"])
        )
        if self._flame_k is None:
            self._flame_k = flame.complete_flame_temperature_k(gas, heat_j_kg=np.asarray(heat))
        kept = self._keep("flame", (self._flame_k,), _flame_gas)
        content, capacity = np.zeros(()), np.zeros(())
        for name in loss.SPECIES:
            moles = getattr(gas, name.lower())
            content = content + moles * kept[name]
            capacity = capacity + moles * kept[f"{name} capacity"]
        return self._flame_k + (heat - content) / capacity

    def _keep(
        self, name: str, arrays: tuple[Array, ...], make: Callable[..., dict[str, Array]]
    ) -> dict[str, Array]:
        key = (name, id(arrays[0]), id(arrays[-1]))
        if key not in self._kept:
            self._kept[key] = (arrays, make(*arrays))  # holding the arrays keeps their ids taken
        return self._kept[key][1]


def _saturation(intake_k: Array) -> dict[str, Array]:
    return {"pa": np.asarray(air.saturation_pressure_pa(intake_k))}


def _rises(stack_k: Array, intake_k: Array) -> dict[str, Array]:
    return loss.heat_rises_j_mol(hot_k=stack_k, cold_k=intake_k)


def _referred_rises(stack_k: Array, intake_k: Array) -> dict[str, Array]:
    cold = np.asarray(air.REFERENCE_AIR_TEMPERATURE_K)
    return loss.heat_rises_j_mol(hot_k=cold + (stack_k - intake_k), cold_k=cold)


def _air_heat(intake_k: Array) -> dict[str, Array]:
    """Heat of a mole of dry air and of water vapour above 25 degC."""
    rises = loss.heat_rises_j_mol(hot_k=intake_k, cold_k=np.asarray(REFERENCE_TEMPERATURE_K))
    dry = sum((share * rises[name] for name, share in air.DRY_AIR.items()), np.zeros(()))
    return {"dry": dry, "water": rises["H2O"]}


def _flame_gas(flame_k: Array) -> dict[str, Array]:
    kept = loss.heat_rises_j_mol(hot_k=flame_k, cold_k=np.asarray(REFERENCE_TEMPERATURE_K))
    capacities = {f"{name} capacity": heat_capacity_j_mol_k(name, flame_k) for name in loss.SPECIES}
    return kept | capacities
