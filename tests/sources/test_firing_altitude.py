"""Firing rate; altitude, weather and voltage."""

import pytest

from lightoff.physics.altitude import REFERENCE_PLACE, Place, air_ratio_change, derate_factor
from lightoff.physics.firing import firing_rate
from lightoff.physics.fuel import Fuel, fuel_from_data_sheet
from lightoff.terms.shelf import Feed

SOURCE = "fluids 1.3.1 for pressure, CoolProp 8.0.0 for humidity, ideal gas"


def diesel() -> Fuel:
    return fuel_from_data_sheet(
        key="diesel_2",
        name="No. 2 diesel",
        density_15c_kg_m3=848.3,
        heating_value_j_kg=42.784e6,
        heating_value_basis="net",
        hydrogen_fraction=0.13,
    )


def place(altitude_m: float, celsius: float | None = None, humidity: float = 0.0) -> Place:
    return Place.at_altitude(
        altitude_m,
        air_temperature_k=None if celsius is None else celsius + 273.15,
        relative_humidity_fraction=humidity,
    )


@pytest.mark.parametrize(
    ("row", "altitude_m", "celsius", "humidity", "expected"),
    [
        ("C074", 0, -20, 0.0, 1.1383),
        ("C075", 0, 35, 0.0, 0.9351),
        ("C076", 0, 35, 0.8, 0.8933),
        ("C077", 1500, None, 0.0, 0.8638),
        ("C078", 1500, 30, 0.3, 0.7812),
        ("C079", 2500, 20, 0.0, 0.7246),
        ("C080", 3000, -10, 0.0, 0.7578),
    ],
)
def test_air_ratio_moves(check, row, altitude_m, celsius, humidity, expected) -> None:
    where = f"{altitude_m} m, {'standard' if celsius is None else f'{celsius} degC'}, {humidity:.0%}"
    check(
        row,
        f"change of the air ratio from 15 degC at sea level to {where}",
        expected=expected,
        got=air_ratio_change(here=REFERENCE_PLACE, there=place(float(altitude_m), celsius, humidity)),
        tolerance=0.0005,
        unit="-",
        source=SOURCE,
        how_seen="computed with fluids and CoolProp",
    )


def test_moved_and_derated(check) -> None:
    check(
        "C081",
        "air ratio set to 1.35 at sea level, at 1500 m on a day of 30 degC and 30 %",
        expected=1.0547,
        got=1.35 * air_ratio_change(here=REFERENCE_PLACE, there=place(1500.0, 30, 0.3)),
        tolerance=0.001,
        unit="-",
        source=SOURCE,
        how_seen="computed with fluids and CoolProp",
    )
    check(
        "C082",
        "share of fuel that restores air ratio 1.30 at 2500 m and 20 degC",
        expected=0.7524,
        got=derate_factor(
            air_ratio=1.35,
            target_air_ratio=1.30,
            here=REFERENCE_PLACE,
            there=place(2500.0, 20),
            feed=Feed.METERING_PUMP,
        ),
        tolerance=0.001,
        unit="-",
        source=SOURCE,
        how_seen="computed with fluids and CoolProp",
    )


def test_supply_voltage(check) -> None:
    here, there = (
        Place(pressure_pa=101325.0, air_temperature_k=288.15, relative_humidity_fraction=0.0, supply_v=volts)
        for volts in (13.6, 11.5)
    )
    check(
        "C083",
        "air ratio of 1.35 at 13.6 V, at 11.5 V",
        expected=1.1415,
        got=1.35 * air_ratio_change(here=here, there=there),
        tolerance=0.0005,
        unit="-",
        source="A fan in proportion to its voltage, fuel unmoved: arithmetic on an assumption",
        how_seen="computed by hand",
    )


def test_heat_input(check) -> None:
    volume = 1.6 / 848.3  # an hour's fuel at 15 degC
    rate = firing_rate(diesel(), volume_m3=volume, time_s=3600.0, fuel_temperature_k=288.15)
    check(
        "C092",
        "net input of 1.6 kg/h of diesel",
        expected=19.015,
        got=rate.net_input_w.value / 1000,
        tolerance=0.002,
        unit="kW",
        source="42.784 MJ/kg x 1.6 kg/h, arithmetic",
        how_seen="computed by hand",
    )
    air = 1.3 * diesel().stoichiometry.air_mol_kg * 1.6 * 8.314462618 * 288.15 / 101325.0
    check(
        "C093",
        "combustion air of 1.6 kg/h at air ratio 1.3, 15 degC, sea level",
        expected=24.57,
        got=air,
        tolerance=0.03,
        unit="m3/h",
        source="Cantera 3.2.0, gri30.yaml, ideal gas",
        how_seen="computed with Cantera 3.2.0",
    )
