"""The flame's temperature, with and without its gas splitting apart."""

import cantera as ct
import numpy as np
import pytest

from lightoff.physics.burn import products
from lightoff.physics.equilibrium import equilibrium_flame
from lightoff.physics.flame import flame_atoms, flame_temperature_k
from lightoff.physics.fuel import Fuel, fuel_from_data_sheet

CANTERA = "Cantera 3.2.0, gri30.yaml; net heating value set free, equilibrate(HP)"


def oil(hydrogen: float, net_j_kg: float, oxygen: float = 0.0) -> Fuel:
    return fuel_from_data_sheet(
        key="oil",
        name="oil",
        density_15c_kg_m3=848.3,
        heating_value_j_kg=net_j_kg,
        heating_value_basis="net",
        hydrogen_fraction=hydrogen,
        oxygen_fraction=oxygen,
    )


DIESEL = oil(0.13, 42.784e6)


@pytest.mark.parametrize(
    ("row", "air_ratio", "air_celsius", "expected"),
    [
        ("C054", 1.0, 25, 2282.4),
        ("C055", 1.1, 25, 2207.5),
        ("C056", 1.3, 25, 2011.5),
        ("C057", 1.5, 25, 1835.4),
        ("C058", 2.0, 25, 1516.6),
        ("C060", 1.3, -20, 1983.3),
    ],
)
def test_with_dissociation(check, row, air_ratio, air_celsius, expected) -> None:
    check(
        row,
        f"flame of diesel in equilibrium at air ratio {air_ratio}, air of {air_celsius} degC",
        expected=expected,
        got=flame_temperature_k(
            DIESEL, air_ratio=air_ratio, combustion_air_temperature_k=air_celsius + 273.15
        ),
        tolerance=3.0,
        unit="K",
        source=CANTERA,
        how_seen="computed with Cantera 3.2.0",
    )


def test_complete(check) -> None:
    check(
        "C059",
        "flame of diesel burnt completely at air ratio 1.3, air of 25 degC",
        expected=2032.5,
        got=flame_temperature_k(
            DIESEL, air_ratio=1.3, combustion_air_temperature_k=298.15, dissociation=False
        ),
        tolerance=3.0,
        unit="K",
        source="Cantera 3.2.0, gri30.yaml, no dissociation",
        how_seen="computed with Cantera 3.2.0",
    )


def test_octane_of_the_textbooks(check) -> None:
    """Liquid C8H18: the books' enthalpies of formation give 44.43 MJ/kg net."""
    octane = oil(18 * 1.008 / (8 * 12.011 + 18 * 1.008), 44.43e6)
    check(
        "P16",
        "flame of liquid octane burnt completely in its theoretical air",
        expected=2395,
        got=flame_temperature_k(
            octane, air_ratio=1.0, combustion_air_temperature_k=298.15, dissociation=False
        ),
        tolerance=6,
        unit="K",
        source="FOSSEE Python textbook companions: Moran and Shapiro, example 13.8a; Cengel and Boles, 15-8",
        how_seen="second-hand: students' transcriptions of both worked examples",
        note="the net heat of liquid octane that goes in is from the same tables, from memory",
    )


@pytest.mark.parametrize("air_ratio", [1.0, 1.05, 1.2, 1.4, 1.8])
def test_gas_of_the_flame_alongside(check, air_ratio) -> None:
    """The same atoms and the same heat through Cantera's own equilibrium at constant enthalpy."""
    pressure, intake = 80e3, 278.15
    s = DIESEL.stoichiometry
    ours = products(s, air_ratio=np.asarray(air_ratio))
    gas = ct.Solution("gri30.yaml")
    air = air_ratio * s.air_mol_kg
    complete = {
        "CO2": float(ours.co2),
        "H2O": float(ours.h2o),
        "O2": float(ours.o2),
        "N2": 0.7808 * air,
        "AR": 0.0093 * air,
    }
    # Complete products at 25 degC, warmed by the net heat, less what cold air lacks.
    gas.TPX = intake, pressure, {"O2": 0.2095, "N2": 0.7808, "AR": 0.0093, "CO2": 0.0004}
    cold = gas.enthalpy_mole
    gas.TP = 298.15, pressure
    lacking = air * (gas.enthalpy_mole - cold) / 1000.0
    gas.TPX = 298.15, pressure, complete
    kilograms = sum(complete.values()) * gas.mean_molecular_weight / 1000.0
    enthalpy = gas.enthalpy_mass + (42.784e6 - lacking) / kilograms
    gas.HP = enthalpy, pressure
    gas.equilibrate("HP")
    theirs = dict(zip(gas.species_names, gas.X, strict=True))
    heat = 42.784e6 - lacking
    flame = equilibrium_flame(
        flame_atoms(ours, heat_j_kg=np.asarray(heat), pressure_pa=np.asarray(pressure)),
    )
    total = sum(float(moles) for moles in flame.moles_mol_kg.values())
    source, seen = "Cantera, gri30.yaml, equilibrate(HP), run beside", "computed with Cantera at the test"
    check(
        f"flame-live-{air_ratio}",
        f"flame of diesel in equilibrium at air ratio {air_ratio}, 80 kPa, air of 5 degC",
        expected=gas.T,
        got=float(flame.temperature_k),
        tolerance=1.5,
        unit="K",
        source=source,
        how_seen=seen,
    )
    for species, tolerance in (("CO", 0.02), ("OH", 0.03), ("NO", 0.03), ("O2", 0.01), ("H2", 0.03)):
        check(
            f"flame-{species}-{air_ratio}",
            f"{species} in that flame at air ratio {air_ratio}",
            expected=100 * theirs[species],
            got=100 * float(flame.moles_mol_kg[species]) / total,
            tolerance=tolerance,
            relative=True,
            unit="%",
            source=source,
            how_seen=seen,
        )


def test_biodiesel_of_the_notes(check) -> None:
    fuel = oil(0.12, 37.521e6, 0.11)
    check(
        "notes-b100-flame",
        "flame of B100 in equilibrium at air ratio 1.3, air of 25 degC",
        expected=2016,
        got=flame_temperature_k(fuel, air_ratio=1.3, combustion_air_temperature_k=298.15),
        tolerance=3.0,
        unit="K",
        source=CANTERA,
        how_seen="computed with Cantera 3.2.0",
    )
