"""How hot the flame could be if it lost nothing."""

from __future__ import annotations

from dataclasses import fields

import numpy as np

from lightoff.ground.values import dataclass
from lightoff.physics import air
from lightoff.physics.burn import Products, products
from lightoff.physics.equilibrium import Atoms, equilibrium_flame
from lightoff.physics.fuel import Fuel
from lightoff.physics.gas import (
    ARGON_IN_ATMOSPHERIC_NITROGEN_FRACTION,
    AT_25_DEGC_J_MOL,
    enthalpies_j_mol,
    heat_capacities_j_mol_k,
)
from lightoff.physics.uncertain import Array, Real, plain, real

_FIRST_GUESS_K = 1900.0
_PASSES = 12
_CLOSE_K = 1e-6


def flame_temperature_k(
    fuel: Fuel,
    *,
    air_ratio: Real,
    combustion_air_temperature_k: Real,
    pressure_pa: Real = air.SEA_LEVEL_PRESSURE_PA,
    water_per_dry_air: Real = 0.0,
    dissociation: bool = True,
) -> Real:
    """Temperature of the flame that keeps all its heat: an upper bound of the real one.

    Parameters: floats or arrays; `air_ratio` of one and more; fuel at 25 degC. With `dissociation` the
    gas splits apart as equilibrium wants (matters below an air ratio of 1.4: 20 K at 1.3, 80 K at 1.1).
    Basis: mcbride_1993, element_balance.
    """
    gas = products(fuel.stoichiometry, air_ratio=air_ratio, water_per_dry_air=water_per_dry_air)
    intake = real(combustion_air_temperature_k)
    brought = air_heat_j_mol(intake, real(water_per_dry_air))
    heat = real(fuel.net_heating_value_j_kg + air_ratio * fuel.stoichiometry.air_mol_kg * brought)
    if not dissociation:
        return plain(complete_flame_temperature_k(gas, heat_j_kg=heat))
    atoms = flame_atoms(gas, heat_j_kg=heat, pressure_pa=real(pressure_pa))
    return plain(equilibrium_flame(atoms).temperature_k)


def air_heat_j_mol(intake_k: Array, water_per_dry_air: Array) -> Array:
    """Heat above 25 degC of a mole of dry air and the water with it."""
    shares: dict[str, Real] = {
        "O2": air.DRY_AIR["O2"],
        "N2+Ar": air.DRY_AIR["N2"] + air.DRY_AIR["Ar"],
        "CO2": air.DRY_AIR["CO2"],
        "H2O": water_per_dry_air,
    }
    warm = enthalpies_j_mol(tuple(shares), intake_k)
    total = real(0.0)
    for name, share in shares.items():
        total = total + (warm[name] - AT_25_DEGC_J_MOL[name]) * share
    return total


@dataclass(frozen=True, slots=True, kw_only=True)
class FlameTangent:
    """A solved flame, and its temperature for what is given a little otherwise, along the tangent.

    `given` are the moles of each gas of Products, the heat and the pressure; `slopes` tell how ln T moves
    with each of them.
    """

    temperature_k: Array
    given: tuple[Real, ...]
    slopes: Array

    def moved_temperature_k(self, gas: Products, *, heat_j_kg: Array, pressure_pa: Array) -> Array:
        """The temperature there; parameters as those of `flame_atoms`."""
        moved = real(1.0)
        for now, then, slope in zip(
            _given(gas, heat_j_kg, pressure_pa), self.given, self.slopes, strict=True
        ):
            if now is not then:
                moved = moved + slope * (now - then)
        return real(self.temperature_k * moved)


def flame_tangent(gas: Products, *, heat_j_kg: Array, pressure_pa: Array) -> FlameTangent:
    """The flame in equilibrium of these products, and how its temperature moves with them."""
    flame = equilibrium_flame(flame_atoms(gas, heat_j_kg=heat_j_kg, pressure_pa=pressure_pa))
    return FlameTangent(
        temperature_k=flame.temperature_k,
        given=_given(gas, heat_j_kg, pressure_pa),
        slopes=np.tensordot(_ATOMS_OF_EACH, flame.slopes, axes=1),
    )


def flame_atoms(gas: Products, *, heat_j_kg: Array, pressure_pa: Array) -> Atoms:
    """The atoms of the products, with the heat that their burning out sets free above 25 degC."""
    burnt_out = (
        (gas.co2 + gas.co) * AT_25_DEGC_J_MOL["CO2"]
        + gas.h2o * AT_25_DEGC_J_MOL["H2O"]
        + gas.so2 * AT_25_DEGC_J_MOL["SO2"]
    )
    return Atoms.of(
        gas,
        argon_fraction=ARGON_IN_ATMOSPHERIC_NITROGEN_FRACTION,
        enthalpy_j_kg=real(burnt_out + heat_j_kg),
        pressure_pa=pressure_pa,
    )


_GASES = tuple(each.name for each in fields(Products))


def _given(gas: Products, heat_j_kg: Real, pressure_pa: Real) -> tuple[Real, ...]:
    return (*(getattr(gas, name) for name in _GASES), heat_j_kg, pressure_pa)


def _atoms_of_each() -> Array:
    """What one more of each thing given adds to each field of Atoms: these are straight lines."""
    one = np.eye(len(_GASES) + 2)
    atoms = flame_atoms(
        Products(**dict(zip(_GASES, one, strict=False))), heat_j_kg=one[-2], pressure_pa=one[-1]
    )
    return np.stack([getattr(atoms, each.name) for each in fields(Atoms)], axis=-1)


_ATOMS_OF_EACH = _atoms_of_each()


def gas_heat_j_kg(gas: Products, temperature_k: Array) -> Array:
    """Sensible heat of the products above 25 degC, J per kg of fuel."""
    parts = gas.parts()
    warm = enthalpies_j_mol(tuple(name for name, _ in parts), temperature_k)
    total = real(0.0)
    for name, moles in parts:
        total = total + moles * (warm[name] - AT_25_DEGC_J_MOL[name])
    return total


def gas_heat_capacity_j_kg_k(gas: Products, temperature_k: Array) -> Array:
    """Heat capacity of the products, J per K and kg of fuel."""
    parts = gas.parts()
    capacities = heat_capacities_j_mol_k(tuple(name for name, _ in parts), temperature_k)
    total = real(0.0)
    for name, moles in parts:
        total = total + moles * capacities[name]
    return total


def complete_flame_temperature_k(gas: Products, *, heat_j_kg: Array) -> Array:
    """Temperature to which this heat brings the products, nothing lost and nothing split apart.

    Parameters: `heat_j_kg` net heating value, less what carbon monoxide holds, with the air's heat above
    25 degC. Raises ArithmeticError if it does not settle.
    Basis: mcbride_1993 (Newton's method on the enthalpy balance).
    """
    t = real(np.full(np.shape(heat_j_kg), _FIRST_GUESS_K))
    moving = np.ones_like(t)
    for _ in range(_PASSES):
        step = (gas_heat_j_kg(gas, t) - heat_j_kg) / gas_heat_capacity_j_kg_k(gas, t)
        t = np.clip(t - moving * step, 250.0, 5000.0)
        moving = moving * ~(np.abs(step) < _CLOSE_K)  # settled rows stay: none depends on those beside it
        if not np.any(moving):
            return t
    raise ArithmeticError("the flame's temperature did not settle")
