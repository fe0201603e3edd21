"""Laws of the flame's temperature."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lightoff.physics.burn import products
from lightoff.physics.equilibrium import equilibrium_flame
from lightoff.physics.flame import (
    complete_flame_temperature_k,
    flame_atoms,
    flame_tangent,
    flame_temperature_k,
)
from lightoff.physics.fuel import Fuel, fuel_from_data_sheet
from lightoff.physics.gas import NASA_COEFFICIENTS, enthalpies_j_mol, heat_capacities_j_mol_k


def atoms_for(fuel: Fuel, air_ratio: float, pressure_pa: float = 101325.0):
    gas = products(fuel.stoichiometry, air_ratio=np.asarray(air_ratio))
    heat = np.asarray(fuel.net_heating_value_j_kg)
    return flame_atoms(gas, heat_j_kg=heat, pressure_pa=np.asarray(pressure_pa))


@pytest.mark.parametrize("air_ratio", [1.0, 1.02, 1.2, 1.6, 3.0])
def test_the_atoms_of_the_flame_close(diesel: Fuel, air_ratio: float) -> None:
    atoms = atoms_for(diesel, air_ratio)
    n = equilibrium_flame(atoms).moles_mol_kg
    assert n["CO2"] + n["CO"] == pytest.approx(atoms.carbon, rel=1e-9)
    assert 2 * (n["H2O"] + n["H2"]) + n["OH"] + n["H"] == pytest.approx(atoms.hydrogen, rel=1e-9)
    oxygen = 2 * (n["CO2"] + n["O2"]) + n["CO"] + n["H2O"] + n["OH"] + n["O"] + n["NO"]
    assert oxygen + 2 * n["SO2"] == pytest.approx(atoms.oxygen + 2 * atoms.so2, rel=1e-9)
    assert 2 * n["N2"] + n["NO"] == pytest.approx(atoms.nitrogen, rel=1e-9)
    assert all(np.all(moles >= 0.0) for moles in n.values())


def test_the_heat_of_the_flame_closes(diesel: Fuel) -> None:
    atoms = atoms_for(diesel, 1.1)
    flame = equilibrium_flame(atoms)
    each = enthalpies_j_mol(tuple(flame.moles_mol_kg), flame.temperature_k)
    heat = sum(moles * each[name] for name, moles in flame.moles_mol_kg.items())
    assert heat == pytest.approx(atoms.enthalpy_j_kg, abs=1e-9 * diesel.net_heating_value_j_kg)


@settings(max_examples=30)
@given(st.floats(1.0, 6.0), st.floats(0.01, 0.5), st.floats(235.0, 330.0))
def test_more_air_is_a_cooler_flame_and_warm_air_a_hotter(air_ratio, more, intake) -> None:
    fuel = fuel_from_data_sheet(
        key="d",
        name="d",
        density_15c_kg_m3=850.0,
        heating_value_j_kg=45.6e6,
        heating_value_basis="gross",
        hydrogen_fraction=0.13,
    )

    def t(ratio: float, air: float, split: bool) -> float:
        return flame_temperature_k(
            fuel, air_ratio=ratio, combustion_air_temperature_k=air, dissociation=split
        )

    for split in (False, True):
        assert (
            t(air_ratio + more, intake, split)
            < t(air_ratio, intake, split)
            < t(air_ratio, intake + 5.0, split)
        )
    assert t(air_ratio, intake, True) <= t(air_ratio, intake, False) + 1e-3


def test_a_lean_flame_does_not_split(diesel: Fuel) -> None:
    split, whole = (
        flame_temperature_k(
            diesel, air_ratio=5.0, combustion_air_temperature_k=288.15, dissociation=dissociation
        )
        for dissociation in (True, False)
    )
    assert split == pytest.approx(whole, abs=0.1)


def test_pressure_holds_the_gas_together(diesel: Fuel) -> None:
    high, sea = (
        flame_temperature_k(diesel, air_ratio=1.05, combustion_air_temperature_k=288.15, pressure_pa=p)
        for p in (60e3, 101e3)
    )
    assert high < sea


def given_for(fuel: Fuel, *, air_ratio: float = 1.2, water: float = 0.01):
    gas = products(fuel.stoichiometry, air_ratio=air_ratio, water_per_dry_air=np.asarray(water))
    return {"gas": gas, "heat_j_kg": np.asarray(fuel.net_heating_value_j_kg), "pressure_pa": np.asarray(9e4)}


@pytest.mark.parametrize(
    "moved",
    [
        {"air_ratio": 1.205},
        {"water": 0.012},
        {"heat_j_kg": np.asarray(42.5e6)},
        {"pressure_pa": np.asarray(8.9e4)},
    ],
)
def test_one_step_along_the_tangent_finds_a_flame_nearby(diesel: Fuel, moved) -> None:
    """Each thing given has a slope of its own: the step is that of the flame solved there."""
    tangent = flame_tangent(**given_for(diesel))
    there = given_for(
        diesel, **{name: each for name, each in moved.items() if name in ("air_ratio", "water")}
    )
    there |= {name: each for name, each in moved.items() if name in there}
    step = equilibrium_flame(flame_atoms(**there)).temperature_k - tangent.temperature_k
    assert abs(step) > 0.05
    assert tangent.moved_temperature_k(**there) - tangent.temperature_k == pytest.approx(step, rel=0.02)


def test_rows_are_solved_apart(diesel: Fuel) -> None:
    ratios = np.array([1.0, 1.3, 2.5, 12.0])
    together = flame_temperature_k(diesel, air_ratio=ratios, combustion_air_temperature_k=288.15)
    for row, ratio in enumerate(ratios):
        alone = flame_temperature_k(diesel, air_ratio=float(ratio), combustion_air_temperature_k=288.15)
        assert isinstance(alone, float)
        assert together[row] == pytest.approx(alone, abs=1e-6)


@pytest.mark.parametrize("species", sorted(NASA_COEFFICIENTS))
def test_the_two_ranges_of_each_gas_meet(species: str) -> None:
    either = np.array([999.999999, 1000.000001])
    for form in (enthalpies_j_mol, heat_capacities_j_mol_k):
        low, high = form((species,), either)[species]
        assert high == pytest.approx(low, rel=3e-4, abs=2.0)
    # The slope of the enthalpy is the heat capacity, on both sides.
    for t in (400.0, 1500.0):
        below, above = enthalpies_j_mol((species,), np.array([t - 0.5, t + 0.5]))[species]
        capacity = heat_capacities_j_mol_k((species,), np.array(t))[species]
        assert above - below == pytest.approx(capacity, rel=1e-5)


def test_heat_without_end_does_not_settle_in_silence(diesel: Fuel) -> None:
    gas = products(diesel.stoichiometry, air_ratio=np.asarray(1.0))
    with pytest.raises(ArithmeticError, match="did not settle"):
        complete_flame_temperature_k(gas, heat_j_kg=np.asarray(1e12))


def test_air_without_fuel_to_speak_of_is_a_cold_flame_and_no_overflow(diesel: Fuel) -> None:
    """Its constants lie beyond single precision, in which the first step goes."""
    t = flame_temperature_k(
        diesel, air_ratio=np.array([15.0, 60.0, 400.0]), combustion_air_temperature_k=253.15
    )
    assert np.all(np.diff(t) < 0.0)
    assert np.all((t > 253.0) & (t < 450.0))
