"""F factors, the fuel factor and references of carbon monoxide, as regulations give them."""

import numpy as np
import pytest

from lightoff.physics import burn
from lightoff.physics.flue import analyse
from lightoff.physics.fuel import Fuel, fuel_from_data_sheet

BTU_J = 1055.05585262
CUBIC_FOOT_M3 = 0.3048**3
GROSS_J_KG = 45.759e6
AT_20_DEGC = 293.15 / 273.15


def diesel(basis: str = "gross") -> Fuel:
    return fuel_from_data_sheet(
        key="diesel_2",
        name="No. 2 diesel",
        density_15c_kg_m3=848.3,
        heating_value_j_kg=GROSS_J_KG if basis == "gross" else 42.784e6,
        heating_value_basis=basis,
        hydrogen_fraction=0.13,
    )


def test_dry_gas_factor(check) -> None:
    volume = diesel().stoichiometry.dry_gas_volume_m3_kg * AT_20_DEGC / CUBIC_FOOT_M3
    check(
        "C084",
        "dry flue gas at air ratio one for a million Btu gross of oil (Fd)",
        expected=9190,
        got=volume / GROSS_J_KG * BTU_J * 1e6,
        tolerance=100,
        unit="dscf/MMBtu",
        source="40 CFR 75 appendix F, table 1, oil",
        how_seen="second-hand: the table in a public air permit",
    )


def test_carbon_factor(check) -> None:
    s = diesel().stoichiometry
    volume = s.carbon_mol_kg * 8.314462618 * 293.15 / 101325.0 / CUBIC_FOOT_M3
    check(
        "C085",
        "carbon dioxide for a million Btu gross of oil (Fc)",
        expected=1420,
        got=volume / GROSS_J_KG * BTU_J * 1e6,
        tolerance=20,
        unit="scf/MMBtu",
        source="40 CFR 75 appendix F, table 1, oil",
        how_seen="second-hand: the table in a public air permit",
    )


def test_fuel_factor_from_the_regulations_factors(check) -> None:
    check(
        "C086",
        "fuel factor Fo of oil, 0.209 Fd / Fc",
        expected=0.209 * 9190 / 1420,
        got=diesel().stoichiometry.fuel_factor,
        tolerance=0.01,
        unit="-",
        source="40 CFR 75 appendix F, table 1, oil: 9190 and 1420",
        how_seen="second-hand: the table in a public air permit",
    )


def test_fuel_factor_of_a_reading(check) -> None:
    gas = burn.products(diesel().stoichiometry, air_ratio=1.3).dry_fractions()
    check(
        "C087",
        "fuel factor Fo of diesel's gas at air ratio 1.3",
        expected=1.3428,
        got=burn.fuel_factor(o2_dry_fraction=gas["O2"], co2_dry_fraction=gas["CO2"]),
        tolerance=0.002,
        unit="-",
        source="Cantera 3.2.0, gri30.yaml",
        how_seen="computed with Cantera 3.2.0",
    )


def test_air_free_carbon_monoxide(check) -> None:
    check(
        "C089",
        "80 ppm of CO at 7 % O2, air-free",
        expected=120.14,
        got=1e6 * burn.co_air_free_fraction(co_fraction=80e-6, o2_fraction=0.07),
        tolerance=0.01,
        unit="ppm",
        source="CO x 20.95 / (20.95 - O2), arithmetic",
        how_seen="computed by hand",
    )
    check(
        "C090",
        "80 ppm of CO at 7 % O2, at 3 % O2 in the regulation's form with 21 %",
        expected=102.86,
        got=1e6
        * burn.co_at_reference_o2_fraction(
            co_fraction=80e-6, o2_fraction=0.07, reference_o2_fraction=0.03, air_o2_fraction=0.21
        ),
        tolerance=0.05,
        unit="ppm",
        source="40 CFR 60.284, correction to a chosen oxygen content",
        how_seen="second-hand: a published copy of the section",
    )


def test_carbon_monoxide_by_heat(check) -> None:
    fuel = diesel("net")
    milligrams = fuel.stoichiometry.dry_gas_mol_kg * 100e-6 * 28.010e-3 * 1e6 / 42.784e6 * 3.6e6
    check(
        "C091",
        "100 ppm of air-free CO, by net heat",
        expected=110.16,
        got=milligrams,
        tolerance=0.3,
        unit="mg/kWh",
        source="Cantera 3.2.0, gri30.yaml",
        how_seen="computed with Cantera 3.2.0",
    )


def test_trace_smoke_pair_of_a_manual(check) -> None:
    check(
        "P38",
        "dry oxygen beside 13 % carbon dioxide",
        expected=3.3,
        got=100 * burn.o2_expected_fraction(diesel(), co2_dry_fraction=0.13),
        tolerance=0.3,
        unit="%",
        source="An oil furnace's installation manual: about 13 % CO2 or 3.3 % O2 at trace smoke",
        how_seen="second-hand: the manual's page was read by another",
    )


@pytest.mark.parametrize(
    ("row", "co2", "expected"), [("C032", 9.0, 1.6828), ("C033", 11.0, 1.3875), ("C034", 13.0, 1.1833)]
)
def test_air_ratio_from_carbon_dioxide(check, row, co2, expected) -> None:
    check(
        row,
        f"air ratio of diesel at {co2:g} % of dry carbon dioxide",
        expected=expected,
        got=analyse(diesel(), co2_dry_fraction=co2 / 100).air_ratio.value,
        tolerance=0.001,
        unit="-",
        source="Cantera 3.2.0, gri30.yaml, bisection",
        how_seen="computed with Cantera 3.2.0",
    )


def test_factors_hold_for_arrays() -> None:
    o2 = np.array([0.02, 0.05, 0.10])
    line = burn.co2_expected_fraction(diesel(), o2_dry_fraction=o2)
    factor = burn.fuel_factor(o2_dry_fraction=o2, co2_dry_fraction=line)
    assert np.ptp(factor) < 0.01
