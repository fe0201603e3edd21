"""The chain of formulas behind a flue analysis, from inputs by name to figures by name.

Uncertainty is found by moving one input after the other and calling the chain again. Each link is kept
for the very objects it was made from, so that what an input does not touch is neither computed again
nor counted: an untouched figure comes back as the same object. Links of the first call, at the readings
themselves, are kept for all later ones; those of a move only while it lasts, so that the next finds their
memory still in the processor's cache.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import TypeAlias, TypeVar, cast

import numpy as np

from lightoff.ground.values import dataclass
from lightoff.physics import air, burn, flame, loss
from lightoff.physics.fuel import Fuel, Stoichiometry, stoichiometry_of
from lightoff.physics.gas import (
    AT_25_DEGC_J_MOL,
    CO_HEATING_VALUE_J_MOL,
    GASES,
    WATER_LATENT_HEAT_J_MOL,
    enthalpies_j_mol,
    heat_capacities_j_mol_k,
)
from lightoff.physics.uncertain import Array, plain, real

_AIR_O2 = air.OXYGEN_IN_DRY_AIR_FRACTION
_Link = TypeVar("_Link")
_Links: TypeAlias = dict[tuple[object, ...], tuple[tuple[object, ...], object]]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Heat:
    """Heating values of the fuel, J/kg; arrays without dimension."""

    net: Array
    gross: Array
    latent_fraction: Array  # of the gross


@dataclass(frozen=True, slots=True, kw_only=True)
class _Burnt:
    """The burn: air ratio and products of one kilogram of fuel."""

    air_ratio: Array
    gas: burn.Products
    wet_mol: Array
    o2_dry: Array
    co2_dry: Array


class FlueChain:
    """Called with inputs by name, gives figures by name; see the module. One block of rows for each."""

    def __init__(self, fuel: Fuel, *, dissociation: bool) -> None:
        self._fuel, self._dissociation = fuel, dissociation
        self._zero, self._sea_level = real(0.0), real(air.SEA_LEVEL_PRESSURE_PA)
        self._gases = GASES if fuel.sulphur_fraction.value else GASES[:-1]
        self._at_15_degc = self._enthalpies_at(real(air.REFERENCE_AIR_TEMPERATURE_K))
        self._complete_k: Array | None = None
        self._tangent: flame.FlameTangent | None = None
        self._at_readings: _Links = {}
        self._of_move = self._at_readings

    def __call__(self, values: Mapping[str, Array]) -> dict[str, Array]:
        self._of_move = {} if self._at_readings else self._at_readings
        s = self._keep("atoms", self._atoms, values["hydrogen"], values["oxygen"])
        heat = self._keep("heat", self._heat, s, values["heat"])
        water = self._water_per_dry_air(values)
        co = values.get("co", self._zero)
        burnt = self._burnt(s, values, co, water)
        o2 = values.get("o2_dry", burnt.o2_dry)
        figures = {
            "water_per_dry_air": water,
            "air_ratio": burnt.air_ratio,
            "o2_dry": o2,
            "co2_dry": burnt.co2_dry,
            "latent": heat.latent_fraction,
        }
        if "co" in values:
            figures["co_air_free"] = self._keep("air free", _air_free, co, o2)
        if "co2" in values:
            co2 = values["co2"]
            figures["from_co2"] = self._keep("from CO2", _from_co2, s, co2, co)
            figures["fuel_factor"] = self._keep("Fo", _fuel_factor, o2, co2, co)
        if "pressure" in values:
            figures["vapour_pressure"] = self._keep("vapour", _vapour_pressure, burnt, values["pressure"])
        if "intake" in values:
            self._heat_figures(figures, values, s, heat, burnt, water)
        return figures

    def _heat_figures(
        self,
        figures: dict[str, Array],
        values: Mapping[str, Array],
        s: Stoichiometry,
        heat: _Heat,
        burnt: _Burnt,
        water: Array,
    ) -> None:
        intake = values["intake"]
        brought = self._keep("air", self._air_heat, self._enthalpies(intake), water)
        pressure = values.get("pressure", self._sea_level) if self._dissociation else self._sea_level
        figures["flame"] = self._keep("flame", self._flame, burnt, s, heat, brought, pressure)
        if "pressure" in values:
            denser = self._keep("denser", _denser_at_15_degc, intake, values["pressure"], water)
            figures["referred"] = self._keep("referred", np.multiply, burnt.air_ratio, denser)
        if "stack" not in values:
            return
        stack = values["stack"]
        rises = self._keep("rises", _rises, self._enthalpies(stack), self._enthalpies(intake))
        lost = self._keep("loss", loss.flue_loss, burnt.gas, rises)
        figures["rise"] = self._keep("rise", np.subtract, stack, intake)
        figures |= self._keep("shares", _shares, lost, heat)
        reference_rises = self._keep("reference rises", self._reference_rises, figures["rise"])
        figures["loss_referred"] = self._keep(
            "referred loss", _referred_loss, burnt.gas, s, reference_rises, heat
        )

    def _enthalpies(self, temperature_k: Array) -> dict[str, Array]:
        return self._keep("enthalpies", self._enthalpies_at, temperature_k)

    def _enthalpies_at(self, temperature_k: Array) -> dict[str, Array]:
        return enthalpies_j_mol(self._gases, temperature_k)

    def _reference_rises(self, rise_k: Array) -> dict[str, Array]:
        return _rises(self._enthalpies_at(air.REFERENCE_AIR_TEMPERATURE_K + rise_k), self._at_15_degc)

    def _air_heat(self, intake: dict[str, Array], water: Array) -> Array:
        """Heat above 25 degC of a mole of dry air and the water with it."""
        rises = _rises(intake, AT_25_DEGC_J_MOL)
        dry = (
            air.DRY_AIR["O2"] * rises["O2"]
            + air.DRY_AIR["CO2"] * rises["CO2"]
            + (air.DRY_AIR["N2"] + air.DRY_AIR["Ar"]) * rises["N2+Ar"]
        )
        return dry + water * rises["H2O"]

    def _flame_gas(self, flame_k: Array) -> tuple[dict[str, Array], dict[str, Array]]:
        rises = _rises(self._enthalpies_at(flame_k), AT_25_DEGC_J_MOL)
        return rises, heat_capacities_j_mol_k(self._gases, flame_k)

    def _keep(self, name: str, make: Callable[..., _Link], *made_from: object) -> _Link:
        key = (name, *map(id, made_from))
        kept = self._at_readings.get(key) or self._of_move.get(key)
        if kept is None:
            kept = self._of_move[key] = (made_from, make(*made_from))  # holding them keeps their ids taken
        return cast("_Link", kept[1])

    def _atoms(self, hydrogen: Array, oxygen: Array) -> Stoichiometry:
        fuel = self._fuel
        # Of one fuel floats, of a fuel moved to all sides at once rows: the same arithmetic.
        more_hydrogen, more_oxygen = cast("float", plain(hydrogen)), cast("float", plain(oxygen))
        moved = more_hydrogen - fuel.hydrogen_fraction.value + more_oxygen - fuel.oxygen_fraction.value
        return stoichiometry_of(
            carbon_fraction=fuel.carbon_fraction.value - moved,
            hydrogen_fraction=more_hydrogen,
            oxygen_fraction=more_oxygen,
            sulphur_fraction=fuel.sulphur_fraction.value,
            moisture_fraction=fuel.moisture_fraction.value,
        )

    def _heat(self, s: Stoichiometry, held: Array) -> _Heat:
        latent = s.water_mol_kg * WATER_LATENT_HEAT_J_MOL
        gross = held if self._fuel.heating_value_basis == "gross" else held + latent
        return _Heat(
            net=real(gross - latent),
            gross=real(gross),
            latent_fraction=real(latent / gross),
        )

    def _water_per_dry_air(self, values: Mapping[str, Array]) -> Array:
        if not {"humidity", "intake", "pressure"} <= values.keys():
            return self._zero
        saturated = self._keep("saturation", air.saturation_pressure_pa, values["intake"])
        return self._keep("water", _water, saturated, values["humidity"], values["pressure"])

    def _burnt(self, s: Stoichiometry, values: Mapping[str, Array], co: Array, water: Array) -> _Burnt:
        if "o2_dry" in values:
            ratio = self._keep("dry O2", _from_dry_o2, s, values["o2_dry"], co)
        elif "o2_wet" in values:
            ratio = self._keep("wet O2", _from_wet_o2, s, values["o2_wet"], co, water)
        else:
            ratio = self._keep("from CO2", _from_co2, s, values["co2"], co)
        return self._keep("burnt", _burnt, s, ratio, co, water)

    def _flame(self, burnt: _Burnt, s: Stoichiometry, heat: _Heat, brought: Array, pressure: Array) -> Array:
        """The temperature at the readings, then one step along the tangent for every input moved."""
        gas = burnt.gas
        given = real(heat.net + burnt.air_ratio * s.air_mol_kg * brought)
        if self._dissociation:
            if self._tangent is None:
                self._tangent = flame.flame_tangent(gas, heat_j_kg=given, pressure_pa=pressure)
            return self._tangent.moved_temperature_k(gas, heat_j_kg=given, pressure_pa=pressure)
        given = real(given - gas.co * CO_HEATING_VALUE_J_MOL)
        if self._complete_k is None:
            self._complete_k = flame.complete_flame_temperature_k(gas, heat_j_kg=given)
        rises, capacities = self._keep("flame gas", self._flame_gas, self._complete_k)
        return self._complete_k + (given - _sum_over(gas, rises)) / _sum_over(gas, capacities)


def _from_dry_o2(s: Stoichiometry, o2: Array, co: Array) -> Array:
    return real(burn.air_ratio_from_dry_o2(s, o2_dry_fraction=o2, co_dry_fraction=co))


def _from_wet_o2(s: Stoichiometry, o2: Array, co: Array, water: Array) -> Array:
    return real(
        burn.air_ratio_from_wet_o2(s, o2_wet_fraction=o2, co_dry_fraction=co, water_per_dry_air=water)
    )


def _from_co2(s: Stoichiometry, co2: Array, co: Array) -> Array:
    return real(burn.air_ratio_from_co2(s, co2_dry_fraction=co2, co_dry_fraction=co))


def _burnt(s: Stoichiometry, air_ratio: Array, co: Array, water: Array) -> _Burnt:
    gas = burn.products(s, air_ratio=air_ratio, co_dry_fraction=co, water_per_dry_air=water)
    dry = real(gas.dry_mol_kg)
    wet = real(dry + gas.h2o)
    return _Burnt(
        air_ratio=air_ratio,
        gas=gas,
        wet_mol=wet,
        o2_dry=real(gas.o2 / dry),
        co2_dry=real(gas.co2 / dry),
    )


def _air_free(co: Array, o2: Array) -> Array:
    return real(burn.co_air_free_fraction(co_fraction=co, o2_fraction=o2, extrapolate=True))


def _fuel_factor(o2: Array, co2: Array, co: Array) -> Array:
    return real(burn.fuel_factor(o2_dry_fraction=o2, co2_dry_fraction=co2, co_dry_fraction=co))


def _water(saturated: Array, humidity: Array, pressure: Array) -> Array:
    share = humidity * saturated / pressure
    return real(share / (1.0 - share))


def _vapour_pressure(burnt: _Burnt, pressure: Array) -> Array:
    return real(burnt.gas.h2o / burnt.wet_mol * pressure)


def _denser_at_15_degc(intake: Array, pressure: Array, water: Array) -> Array:
    """How many times the dry air of here a fan delivers at 15 degC and sea level."""
    here = air.dry_air_mol_m3(
        temperature_k=intake, pressure_pa=pressure, water_fraction=water / (1.0 + water)
    )
    return real(air.REFERENCE_DRY_AIR_MOL_M3 / here)


def _rises(hot: dict[str, Array], cold: dict[str, Array]) -> dict[str, Array]:
    return {name: each - cold[name] for name, each in hot.items()}


def _shares(lost: loss.FlueLoss, heat: _Heat) -> dict[str, Array]:
    total = real(lost.total_j_kg)
    return {
        "dry_gas_loss": real(lost.dry_gas_j_kg / heat.net),
        "vapour_loss": real(lost.vapour_j_kg / heat.net),
        "unburned_loss": real(lost.unburned_j_kg / heat.net),
        "loss_net": real(total / heat.net),
        "efficiency_gross": real((heat.net - total) / heat.gross),
    }


def _referred_loss(gas: burn.Products, s: Stoichiometry, rises: dict[str, Array], heat: _Heat) -> Array:
    """As if the air had been dry: its humidity is of the day and not of the burn."""
    in_dry_air = replace(gas, h2o=s.water_mol_kg)
    return real(loss.flue_loss(in_dry_air, rises).total_j_kg / heat.net)


def _sum_over(gas: burn.Products, by_species: Mapping[str, Array]) -> Array:
    return sum((moles * by_species[name] for name, moles in gas.parts()), real(0.0))
