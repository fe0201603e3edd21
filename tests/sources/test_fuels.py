"""Stoichiometry, heat, density and viscosity of fuels."""

import cantera as ct
import pytest

from lightoff.physics.fuel import (
    Fuel,
    blend,
    density_kg_m3,
    fuel_from_data_sheet,
    stoichiometry_of,
    viscosity_m2_s,
)

CANTERA = "Cantera 3.2.0, gri30.yaml, dry air O2 .2095 N2 .7808 Ar .0093 CO2 .0004"
COMPANION = "FOSSEE Python textbook companions"


def diesel() -> Fuel:
    return fuel_from_data_sheet(
        key="diesel_2",
        name="No. 2 diesel",
        density_15c_kg_m3=848.3,
        heating_value_j_kg=45.759e6,
        heating_value_basis="gross",
        hydrogen_fraction=0.13,
        viscosity_points=((293.15, 4.2e-6), (313.15, 2.6e-6)),
    )


def kerosene() -> Fuel:
    return fuel_from_data_sheet(
        key="diesel_1",
        name="No. 1",
        density_15c_kg_m3=810.0,
        heating_value_j_kg=46.1e6,
        heating_value_basis="gross",
        hydrogen_fraction=0.138,
    )


def biodiesel() -> Fuel:
    return fuel_from_data_sheet(
        key="b100",
        name="B100",
        density_15c_kg_m3=878.1,
        heating_value_j_kg=40.161e6,
        heating_value_basis="gross",
        hydrogen_fraction=0.12,
        oxygen_fraction=0.11,
    )


def mixed(biodiesel_share: float) -> Fuel:
    return blend([diesel(), biodiesel()], [1 - biodiesel_share, biodiesel_share], key="blend", name="blend")


FUELS = {
    "D2": diesel,
    "K1": kerosene,
    "B5": lambda: mixed(0.05),
    "B20": lambda: mixed(0.20),
    "B100": biodiesel,
}


@pytest.mark.parametrize(
    ("row", "name", "expected"),
    [
        ("C001", "D2", 14.473),
        ("C003", "K1", 14.655),
        ("C005", "B5", 14.371),
        ("C007", "B20", 14.068),
        ("C009", "B100", 12.503),
    ],
)
def test_stoichiometric_air(check, row, name, expected) -> None:
    check(
        row,
        f"dry air for one kilogram of {name}",
        expected=expected,
        got=FUELS[name]().stoichiometry.air_kg_kg,
        tolerance=0.003,
        unit="kg/kg",
        source=CANTERA,
        how_seen="computed with Cantera 3.2.0",
    )


@pytest.mark.parametrize(
    ("row", "name", "expected"),
    [
        ("C002", "D2", 15.54),
        ("C004", "K1", 15.26),
        ("C006", "B5", 15.55),
        ("C008", "B20", 15.60),
        ("C010", "B100", 15.86),
    ],
)
def test_largest_carbon_dioxide(check, row, name, expected) -> None:
    check(
        row,
        f"largest dry carbon dioxide of {name}",
        expected=expected,
        got=100 * FUELS[name]().stoichiometry.largest_dry_co2_fraction,
        tolerance=0.01,
        unit="%",
        source=CANTERA,
        how_seen="computed with Cantera 3.2.0",
    )


def test_flue_volumes(check) -> None:
    s = diesel().stoichiometry
    for row, what, expected, got in (
        ("C011", "dry", 10.476, s.dry_gas_volume_m3_kg),
        ("C012", "wet", 11.922, s.wet_gas_volume_m3_kg),
    ):
        check(
            row,
            f"{what} flue gas of a kilogram of diesel at air ratio one, 0 degC, 101.325 kPa",
            expected=expected,
            got=got,
            tolerance=0.003,
            unit="m3/kg",
            source=CANTERA,
            how_seen="computed with Cantera 3.2.0",
        )


@pytest.mark.parametrize(
    ("name", "carbon", "hydrogen", "oxygen"),
    [("diesel", 0.87, 0.13, 0.0), ("lean oil", 0.84, 0.10, 0.016), ("biodiesel", 0.77, 0.12, 0.11)],
)
def test_stoichiometric_air_by_cantera_alongside(check, name, carbon, hydrogen, oxygen) -> None:
    gas = ct.Solution("gri30.yaml")
    rest = 1.0 - carbon - hydrogen - oxygen
    moles = {"C": carbon / 12.011, "H": hydrogen / 1.008, "O": oxygen / 15.999, "AR": rest / 39.95}
    ratio = gas.stoich_air_fuel_ratio(moles, "O2:0.2095, N2:0.7808, AR:0.0093, CO2:0.0004")
    ours = stoichiometry_of(carbon_fraction=carbon, hydrogen_fraction=hydrogen, oxygen_fraction=oxygen)
    check(
        f"stoich-air-live-{name.replace(' ', '-')}",
        f"dry air for one kilogram of {name} (C {carbon}, H {hydrogen}, O {oxygen})",
        expected=ratio,
        got=ours.air_kg_kg,
        tolerance=2e-4,
        relative=True,
        unit="kg/kg",
        source="Cantera, stoich_air_fuel_ratio(), run beside",
        how_seen="computed with Cantera at the time of the test",
    )


def test_octane(check) -> None:
    """Worked examples on C8H18, 114.22 kg/kmol."""
    carbon = 8 * 12.011 / (8 * 12.011 + 18 * 1.008)
    air = stoichiometry_of(
        carbon_fraction=carbon, hydrogen_fraction=1 - carbon, oxygen_fraction=0.0
    ).air_kg_kg
    for row, what, expected, got, tolerance, book in (
        ("P11", "stoichiometric air", 15.09, air, 0.05, "Moran and Shapiro, example 13.1"),
        ("P12", "air at 150 %", 22.64, 1.5 * air, 0.08, "Moran and Shapiro, example 13.1"),
        (
            "P13",
            "air with 20 mol of oxygen a mole of fuel",
            24.2,
            20 / 12.5 * air,
            0.1,
            "Cengel and Boles, 15-1",
        ),
    ):
        check(
            row,
            f"{what} for a kilogram of octane",
            expected=expected,
            got=got,
            tolerance=tolerance,
            unit="kg/kg",
            source=f"{COMPANION}: {book}",
            how_seen="second-hand: a student's transcription of the worked example",
        )


@pytest.mark.parametrize(
    ("row", "gross", "hydrogen", "net", "book"),
    [
        ("P22", 45071e3, 0.125, 42323.2e3, "Bhatt and Thakore, Stoichiometry, example 7.2"),
        ("P23", 43540e3, 0.09, 41561.3e3, "Bhatt and Thakore, Stoichiometry, example 7.10"),
    ],
)
def test_net_from_gross(check, row, gross, hydrogen, net, book) -> None:
    fuel = fuel_from_data_sheet(
        key="x",
        name="x",
        density_15c_kg_m3=900.0,
        heating_value_j_kg=gross,
        heating_value_basis="gross",
        hydrogen_fraction=hydrogen,
    )
    check(
        row,
        f"net heating value from {gross / 1e3:.0f} kJ/kg gross and {hydrogen:.1%} hydrogen",
        expected=net,
        got=fuel.net_heating_value_j_kg,
        tolerance=5e-4,
        relative=True,
        unit="J/kg",
        source=f"{COMPANION}: {book}",
        how_seen="second-hand: a student's transcription of the worked example",
        note="the book rounds the water of hydrogen from 8.94 to 9 kg/kg",
    )


def test_latent_heat_of_propane(check) -> None:
    """Gross less net heating value of C3H8 is the latent heat of four moles of water."""
    water = stoichiometry_of(
        carbon_fraction=36.033 / 44.097, hydrogen_fraction=8.064 / 44.097, oxygen_fraction=0.0
    ).water_mol_kg
    check(
        "P28-P29",
        "gross less net heating value of propane",
        expected=50339e3 - 46348e3,
        got=water * 44_004.0,
        tolerance=10e3,
        unit="J/kg",
        source="K. Niemeyer, Computational Thermodynamics (open book), heating values",
        how_seen="seen in the open book's notebook (computed there with Cantera)",
    )


@pytest.mark.parametrize(
    ("row", "celsius", "expected"), [("C096", -20, 19.409), ("C097", 0, 7.959), ("C098", 60, 1.792)]
)
def test_viscosity(check, row, celsius, expected) -> None:
    check(
        row,
        f"viscosity of diesel at {celsius} degC from 4.2 at 20 and 2.6 at 40 degC",
        expected=expected,
        got=1e6 * viscosity_m2_s(diesel(), celsius + 273.15),
        tolerance=0.02,
        unit="mm2/s",
        source="ASTM D341 equation as seen in copies, computed apart",
        how_seen="computed with NumPy from the equation seen",
    )


def test_viscosity_worked_example(check) -> None:
    oil = fuel_from_data_sheet(
        key="oil",
        name="oil",
        density_15c_kg_m3=870.0,
        heating_value_j_kg=45.3e6,
        heating_value_basis="gross",
        hydrogen_fraction=0.13,
        viscosity_points=((313.15, 32e-6), (373.15, 5.4e-6)),
    )
    check(
        "P35",
        "viscosity at 80 degC of an oil of 32 at 40 and 5.4 at 100 degC",
        expected=8.5,
        got=1e6 * viscosity_m2_s(oil, 353.15),
        tolerance=0.1,
        unit="mm2/s",
        source="A published worksheet of ASTM D341",
        how_seen="second-hand: the worksheet was read, the standard was not",
    )


@pytest.mark.parametrize(("row", "celsius", "expected"), [("C094", -10, 865.85), ("C095", 30, 837.66)])
def test_remembered_density_is_only_compared(row, celsius, expected) -> None:
    """The form of D1250 was remembered, so agreement proves only that two people remember alike."""
    assert density_kg_m3(diesel(), celsius + 273.15) == pytest.approx(expected, abs=0.5)


def test_carbon_dioxide_of_heat(check) -> None:
    s = diesel().stoichiometry
    kg_per_mmbtu = s.carbon_mol_kg * 44.009e-3 / 45.759e6 * 1055.05585262e6
    check(
        "C088",
        "carbon dioxide for a million Btu gross of No. 2 oil",
        expected=73.96,
        got=kg_per_mmbtu,
        tolerance=0.8,
        unit="kg/MMBtu",
        source="40 CFR 98 subpart C, table C-1, distillate fuel oil No. 2",
        how_seen="second-hand: a copy of the table",
    )
