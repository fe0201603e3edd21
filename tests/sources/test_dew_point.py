"""The temperature below which water drips from a flue."""

import math

import pytest

from lightoff.physics import air
from lightoff.physics.acid import acid_dew_point_k
from lightoff.physics.burn import products
from lightoff.physics.flue import analyse
from lightoff.physics.fuel import Fuel, fuel_from_data_sheet, stoichiometry_of

SOURCE = "Cantera 3.2.0 for the gas, CoolProp 8.0.0 for saturation, fluids 1.3.1 for pressure"


def diesel() -> Fuel:
    return fuel_from_data_sheet(
        key="diesel_2",
        name="No. 2 diesel",
        density_15c_kg_m3=848.3,
        heating_value_j_kg=45.759e6,
        heating_value_basis="gross",
        hydrogen_fraction=0.13,
    )


def oxygen(air_ratio: float) -> float:
    return products(diesel().stoichiometry, air_ratio=air_ratio).dry_fractions()["O2"]


@pytest.mark.parametrize(
    ("row", "air_ratio", "altitude_m", "expected"),
    [
        ("C061", 1.0, 0, 49.89),
        ("C062", 1.3, 0, 44.98),
        ("C063", 1.5, 0, 42.34),
        ("C064", 2.0, 0, 37.15),
        ("C065", 1.3, 3000, 38.00),
    ],
)
def test_in_dry_air(check, row, air_ratio, altitude_m, expected) -> None:
    gas = analyse(
        diesel(), o2_dry_fraction=oxygen(air_ratio), pressure_pa=air.standard_pressure_pa(float(altitude_m))
    )
    check(
        row,
        f"dew point of diesel's flue gas at air ratio {air_ratio}, {altitude_m} m, dry air",
        expected=expected,
        got=gas.water_dew_point_k.value - 273.15,
        tolerance=0.03,
        unit="degC",
        source=SOURCE,
        how_seen="computed with Cantera and CoolProp",
    )


def test_in_humid_air(check) -> None:
    gas = analyse(
        diesel(),
        o2_dry_fraction=oxygen(1.3),
        combustion_air_temperature_k=303.15,
        relative_humidity_fraction=0.8,
        pressure_pa=101325.0,
    )
    check(
        "C066",
        "dew point of diesel's flue gas at air ratio 1.3, air of 30 degC and 80 %",
        expected=50.29,
        got=gas.water_dew_point_k.value - 273.15,
        tolerance=0.06,
        unit="degC",
        source=SOURCE,
        how_seen="computed with Cantera and CoolProp",
    )


def test_textbook(check) -> None:
    s = stoichiometry_of(carbon_fraction=0.86, hydrogen_fraction=0.14, oxygen_fraction=0.0)
    share = products(s, air_ratio=1.1).wet_fractions()["H2O"]
    check(
        "P17",
        "dew point of an 86/14 oil's gas at 10 % excess air and 15 psia",
        expected=121.6,
        got=(air.dew_point_k(share * 15 * 6894.757) - 273.15) * 1.8 + 32,
        tolerance=0.6,
        unit="degF",
        source="FOSSEE Python textbook companions: D. A. Mooney, example 14.4",
        how_seen="second-hand: a student's transcription of the worked example",
    )


MMHG_PA = 101325.0 / 760.0
ENGINEERS_PAGE = "Verhoff and Banchero 1974, worked example on an engineer's page: 12 % water, 0.02 % SO2"
WORKSHEET = "Verhoff and Banchero 1974, worked example of a works' calculation sheet, 27 January 2014"


@pytest.mark.parametrize(
    ("row", "water_mmhg", "so3_mmhg", "expected", "tolerance", "source"),
    [
        # The page rounds ln(SO3) to -6 and 1000/T to 2.489 before it divides: 0.3 K.
        ("A001", 93.44, 0.0024917, 402.0, 0.5, ENGINEERS_PAGE),
        ("A002", 38.1103549, 0.00097421, 383.52498618, 0.001, WORKSHEET),
    ],
)
def test_acid(check, row, water_mmhg, so3_mmhg, expected, tolerance, source) -> None:
    check(
        row,
        f"acid dew point at {water_mmhg:.1f} mmHg of water and {so3_mmhg:.5f} mmHg of SO3",
        expected=expected,
        got=acid_dew_point_k(so3_pressure_pa=so3_mmhg * MMHG_PA, water_pressure_pa=water_mmhg * MMHG_PA),
        tolerance=tolerance,
        unit="K",
        source=source,
        how_seen="second-hand: the page was read, the paper was not",
    )


@pytest.mark.parametrize(
    ("row", "water_fraction", "so3_fraction"),
    [
        ("A003", 0.05, 1e-8),
        ("A004", 0.11, 2e-8),
        ("A005", 0.11, 1e-6),
        ("A006", 0.12, 1e-5),
        ("A007", 0.15, 1e-4),
    ],
)
def test_acid_by_another_relation(check, row, water_fraction, so3_fraction) -> None:
    """Okkes's relation, in atmospheres; the two are said to lie no more than 12 K apart."""
    log_water, log_so3 = math.log10(water_fraction), math.log10(so3_fraction)
    okkes_k = 273.15 + 203.25 + 27.6 * log_water + 10.83 * log_so3 + 1.06 * (log_so3 + 8) ** 2.19
    got = acid_dew_point_k(
        so3_pressure_pa=so3_fraction * air.SEA_LEVEL_PRESSURE_PA,
        water_pressure_pa=water_fraction * air.SEA_LEVEL_PRESSURE_PA,
    )
    check(
        row,
        f"acid dew point at {100 * water_fraction:.0f} % of water and {1e6 * so3_fraction:g} ppm of SO3",
        expected=okkes_k,
        got=got,
        tolerance=12.0,
        unit="K",
        source="Okkes, Hydrocarbon Processing, July 1987, 53",
        how_seen="computed with another relation, as quoted second-hand",
        note="methods differ",
    )
