"""Pressure, density and temperature with altitude; water in air."""

import pytest
from fluids.atmosphere import ATMOSPHERE_1976

from lightoff.physics import air

TABLE = "R. Carmichael, A Table of the Standard Atmosphere to 20 km in SI units (public domain), 2017"
IAPWS = "IAPWS R7-97(2012), industrial formulation"
READ = "second-hand: the published table of US Standard Atmosphere 1976 values was read, the book was not"

# altitude in m, then pressure in Pa, density in kg/m3 and temperature in K as printed there
PRINTED = (
    (-500, 107477, 1.285, 291.4),
    (0, 101325, 1.225, 288.1),
    (500, 95461, 1.167, 284.9),
    (1000, 89876, 1.112, 281.7),
    (1500, 84559, 1.058, 278.4),
    (2000, 79501, 1.007, 275.2),
    (2500, 74691, 0.957, 271.9),
    (3000, 70121, 0.909, 268.7),
    (3500, 65780, 0.863, 265.4),
    (4000, 61660, 0.819, 262.2),
    (5000, 54048, 0.736, 255.7),
    (6000, 47217, 0.660, 249.2),
)


@pytest.mark.parametrize(("altitude_m", "pressure_pa", "density", "temperature_k"), PRINTED)
def test_printed_table(check, altitude_m, pressure_pa, density, temperature_k) -> None:
    height = float(altitude_m)
    check(
        f"atmosphere-pressure-{altitude_m}",
        f"pressure of the standard atmosphere at {altitude_m} m",
        expected=pressure_pa,
        got=air.standard_pressure_pa(height),
        tolerance=1.1,
        unit="Pa",
        source=TABLE,
        how_seen=READ,
        note="printed to the whole pascal, cut off",
    )
    check(
        f"atmosphere-density-{altitude_m}",
        f"density of the standard atmosphere at {altitude_m} m",
        expected=density,
        got=air.standard_density_kg_m3(height),
        tolerance=0.0006,
        unit="kg/m3",
        source=TABLE,
        how_seen=READ,
    )
    check(
        f"atmosphere-temperature-{altitude_m}",
        f"temperature of the standard atmosphere at {altitude_m} m",
        expected=temperature_k,
        got=air.standard_temperature_k(height),
        tolerance=0.11,
        unit="K",
        source=TABLE,
        how_seen=READ,
        note="printed to a tenth, cut off",
    )


# combustion.csv C067 to C073 and P36, P37, as typed there
@pytest.mark.parametrize(
    ("row", "altitude_m", "expected", "tolerance"),
    [
        ("C067", 500, 1.16727, 0.0002),
        ("C068", 1500, 1.0581, 0.0002),
        ("C069", 2500, 0.95695, 0.0002),
        ("C070", 3000, 0.90925, 0.0002),
        ("C071", 4000, 0.81935, 0.0002),
        ("P37", 5000, 0.73643, 0.0002),
    ],
)
def test_density_by_fluids(check, row, altitude_m, expected, tolerance) -> None:
    check(
        row,
        f"density of the standard atmosphere at {altitude_m} m",
        expected=expected,
        got=air.standard_density_kg_m3(float(altitude_m)),
        tolerance=tolerance,
        unit="kg/m3",
        source="fluids 1.3.1, ATMOSPHERE_1976",
        how_seen="seen in its documentation" if row.startswith("P") else "computed with fluids 1.3.1",
    )


@pytest.mark.parametrize(
    ("row", "altitude_m", "expected"),
    [("C072", 1500, 84559.7), ("C073", 3000, 70121.2), ("P36", 5000, 54048.286)],
)
def test_pressure_by_fluids(check, row, altitude_m, expected) -> None:
    check(
        row,
        f"pressure of the standard atmosphere at {altitude_m} m",
        expected=expected,
        got=air.standard_pressure_pa(float(altitude_m)),
        tolerance=1.0,
        unit="Pa",
        source="fluids 1.3.1, ATMOSPHERE_1976",
        how_seen="seen in its documentation" if row.startswith("P") else "computed with fluids 1.3.1",
    )


@pytest.mark.parametrize("altitude_m", [-300.0, 750.0, 1750.0, 2750.0, 4250.0, 5500.0])
def test_fluids_alongside(check, altitude_m) -> None:
    other = ATMOSPHERE_1976(altitude_m)
    check(
        f"atmosphere-live-{altitude_m:.0f}",
        f"density of the standard atmosphere at {altitude_m:.0f} m",
        expected=other.rho,
        got=air.standard_density_kg_m3(altitude_m),
        tolerance=1e-5,
        relative=True,
        unit="kg/m3",
        source="fluids, ATMOSPHERE_1976, run beside",
        how_seen="computed with fluids at the time of the test",
    )


@pytest.mark.parametrize(("temperature_k", "pressure_mpa"), [(300.0, 0.353658941e-2), (500.0, 0.263889776e1)])
def test_saturation_pressure(check, temperature_k, pressure_mpa) -> None:
    check(
        f"saturation-pressure-{temperature_k:.0f}",
        f"saturation pressure of water at {temperature_k:.0f} K",
        expected=pressure_mpa * 1e6,
        got=air.saturation_pressure_pa(temperature_k),
        tolerance=1e-8,
        relative=True,
        unit="Pa",
        source=f"{IAPWS}, table 35",
        how_seen="second-hand: the table's values in another project's published tests",
    )


@pytest.mark.parametrize(("pressure_mpa", "temperature_k"), [(0.1, 372.755919), (1.0, 453.035632)])
def test_saturation_temperature(check, pressure_mpa, temperature_k) -> None:
    check(
        f"saturation-temperature-{pressure_mpa:g}",
        f"temperature at which water condenses at {pressure_mpa:g} MPa",
        expected=temperature_k,
        got=air.dew_point_k(pressure_mpa * 1e6),
        tolerance=1e-6,
        unit="K",
        source=f"{IAPWS}, table 36",
        how_seen="second-hand: the table's values in another project's published tests",
    )


def test_sublimation_pressure(check) -> None:
    check(
        "sublimation-pressure-230",
        "pressure of water vapour over ice at 230 K",
        expected=8.94735,
        got=air.saturation_pressure_pa(230.0),
        tolerance=1e-5,
        unit="Pa",
        source="IAPWS R14-08(2011), check values, table 3",
        how_seen="second-hand: the table's value in another project's published tests",
    )


def test_water_in_humid_air(check) -> None:
    check(
        "C031-water",
        "mole share of water in air at 30 degC and 80 % relative humidity",
        expected=0.03368,
        got=air.water_in_air_fraction(
            temperature_k=303.15, relative_humidity_fraction=0.8, pressure_pa=101325.0
        ),
        tolerance=0.0002,
        unit="mol/mol",
        source="CoolProp 8.0.0, HAPropsSI psi_w",
        how_seen="computed with CoolProp 8.0.0",
        note="ours leaves out the 0.4 % by which air under pressure holds more water",
    )
