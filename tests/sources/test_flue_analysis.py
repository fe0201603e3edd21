"""Air ratio and composition of flue gas from oxygen, dry and wet."""

import cantera as ct
import numpy as np
import pytest

from lightoff.physics.flue import analyse
from lightoff.physics.flue_gas import FlueGas
from lightoff.physics.fuel import Fuel, blend, fuel_from_data_sheet

CANTERA = (
    "Cantera 3.2.0, gri30.yaml; dry air O2 .2095 N2 .7808 Ar .0093 CO2 .0004; bisection on the air ratio"
)


def oil(
    key: str, hydrogen: float, oxygen: float = 0.0, density: float = 848.3, gross: float = 45.759e6
) -> Fuel:
    return fuel_from_data_sheet(
        key=key,
        name=key,
        density_15c_kg_m3=density,
        heating_value_j_kg=gross,
        heating_value_basis="gross",
        hydrogen_fraction=hydrogen,
        oxygen_fraction=oxygen,
    )


DIESEL = oil("D2", 0.13)
BIODIESEL = oil("B100", 0.12, 0.11, 878.1, 40.161e6)
FUELS = {
    "D2": DIESEL,
    "K1": oil("K1", 0.138, density=810.0, gross=46.1e6),
    "B20": blend([DIESEL, BIODIESEL], [0.8, 0.2], key="B20", name="B20"),
    "B100": BIODIESEL,
}


@pytest.mark.parametrize(
    ("row", "name", "o2", "expected"),
    [
        ("C013", "D2", 2, 1.0987),
        ("C015", "D2", 3, 1.1564),
        ("C017", "D2", 5, 1.2933),
        ("C019", "D2", 7, 1.4694),
        ("C021", "D2", 8, 1.5779),
        ("C023", "D2", 10, 1.8544),
        ("C025", "D2", 12, 2.2543),
        ("C027", "K1", 5, 1.2923),
        ("C028", "B20", 5, 1.2935),
        ("C029", "B100", 5, 1.2944),
    ],
)
def test_air_ratio_from_dry_oxygen(check, row, name, o2, expected) -> None:
    check(
        row,
        f"air ratio of {name} at {o2} % of dry oxygen",
        expected=expected,
        got=analyse(FUELS[name], o2_dry_fraction=o2 / 100).air_ratio.value,
        tolerance=0.0005,
        unit="-",
        source=CANTERA,
        how_seen="computed with Cantera 3.2.0",
    )


@pytest.mark.parametrize(
    ("row", "o2", "expected"),
    [
        ("C014", 2, 14.06),
        ("C016", 3, 13.32),
        ("C018", 5, 11.84),
        ("C020", 7, 10.36),
        ("C022", 8, 9.62),
        ("C024", 10, 8.14),
        ("C026", 12, 6.66),
    ],
)
def test_carbon_dioxide_beside_oxygen(check, row, o2, expected) -> None:
    check(
        row,
        f"dry carbon dioxide of diesel at {o2} % of dry oxygen",
        expected=expected,
        got=100 * analyse(DIESEL, o2_dry_fraction=o2 / 100).co2_dry_fraction.value,
        tolerance=0.01,
        unit="%",
        source=CANTERA,
        how_seen="computed with Cantera 3.2.0",
    )


def test_air_ratio_from_wet_oxygen(check) -> None:
    check(
        "C030",
        "air ratio of diesel at 5 % of wet oxygen, dry air",
        expected=1.3337,
        got=analyse(DIESEL, o2_wet_fraction=0.05).air_ratio.value,
        tolerance=0.0005,
        unit="-",
        source=CANTERA,
        how_seen="computed with Cantera 3.2.0",
    )
    humid = analyse(
        DIESEL,
        o2_wet_fraction=0.05,
        combustion_air_temperature_k=303.15,
        relative_humidity_fraction=0.8,
        pressure_pa=101325.0,
    )
    check(
        "C031",
        "air ratio of diesel at 5 % of wet oxygen, air of 30 degC and 80 %",
        expected=1.3485,
        got=humid.air_ratio.value,
        tolerance=0.001,
        unit="-",
        source=f"{CANTERA}; CoolProp 8.0.0 for the water in the air",
        how_seen="computed with Cantera 3.2.0 and CoolProp 8.0.0",
    )


@pytest.mark.parametrize("air_ratio", [1.05, 1.2, 1.35, 1.6, 2.0])
@pytest.mark.parametrize("name", ["D2", "B100"])
def test_products_of_equilibrium_alongside(check, name, air_ratio) -> None:
    """Cold equilibrium is complete combustion: its products, read as a probe would, give the air ratio."""
    fuel = FUELS[name]
    gas = ct.Solution("gri30.yaml")
    carbon, hydrogen = fuel.carbon_fraction.value / 12.011, fuel.hydrogen_fraction.value / 1.008
    oxygen = fuel.oxygen_fraction.value / 15.999
    air = air_ratio * (carbon + hydrogen / 4 - oxygen / 2) / 0.2095
    gas.TPX = (
        900.0,
        ct.one_atm,
        {
            "C": carbon,
            "H": hydrogen,
            "O": oxygen,
            "O2": 0.2095 * air,
            "N2": 0.7808 * air,
            "AR": 0.0093 * air,
            "CO2": 0.0004 * air,
        },
    )
    gas.equilibrate("TP")
    shares = dict(zip(gas.species_names, gas.X, strict=True))
    dry = 1.0 - shares["H2O"]
    got: FlueGas = analyse(fuel, o2_dry_fraction=shares["O2"] / dry, co_dry_fraction=shares["CO"] / dry)
    source, seen = (
        "Cantera, gri30.yaml, equilibrium at 900 K, run beside",
        "computed with Cantera at the test",
    )
    check(
        f"equilibrium-ratio-{name}-{air_ratio}",
        f"air ratio of {name} from the oxygen of its products at {air_ratio}",
        expected=air_ratio,
        got=got.air_ratio.value,
        tolerance=1e-4,
        unit="-",
        source=source,
        how_seen=seen,
    )
    for species, label in (("CO2", "carbon dioxide"), ("H2O", "water")):
        check(
            f"equilibrium-{species}-{name}-{air_ratio}",
            f"wet {label} of {name} at air ratio {air_ratio}",
            expected=100 * shares[species],
            got=100 * got.products.wet_fractions()[species],
            tolerance=0.002,
            unit="%",
            source=source,
            how_seen=seen,
        )


def test_the_short_form_is_known_to_read_high(check) -> None:
    """20.95 / (20.95 - O2) reads 0.02 high at 5 %: the notes' own comparison."""
    exact = analyse(DIESEL, o2_dry_fraction=np.array([0.02, 0.05, 0.07, 0.10])).air_ratio.value
    short = 20.95 / (20.95 - np.array([2.0, 5.0, 7.0, 10.0]))
    for o2, gap, expected in zip((2, 5, 7, 10), short - exact, (0.007, 0.020, 0.032, 0.060), strict=True):
        check(
            f"short-form-{o2}",
            f"short form of the air ratio less the exact one at {o2} % of oxygen",
            expected=expected,
            got=gap,
            tolerance=0.002,
            unit="-",
            source=CANTERA,
            how_seen="computed with Cantera 3.2.0",
        )
