"""Glowing igniters, heat exchangers, soot, and copper wire."""

import math

import numpy as np
import pytest

from lightoff.physics.burn import products
from lightoff.physics.exchanger import (
    conductance_with_layer_w_k,
    counterflow_effectiveness,
    gas_outlet_temperature_k,
)
from lightoff.physics.flame import flame_temperature_k, gas_heat_capacity_j_kg_k
from lightoff.physics.fuel import Fuel, fuel_from_data_sheet
from lightoff.physics.igniter import steady_temperature_k
from lightoff.physics.wiring import copper_resistance_ohm

BALANCE = "area {0.9 sigma (T^4 - Ta^4) + 40 W/m2 K (T - Ta)}, 4 cm2, 20 degC around"
INCROPERA = "Incropera and DeWitt, Fundamentals of Heat and Mass Transfer"
TRANSCRIBED = "second-hand: a published transcription of the book's worked example"
FOOT_M = 0.3048


@pytest.mark.parametrize(
    ("row", "power_w", "expected", "tolerance"),
    [
        ("C099", 89.7, 1100.0, 1.5),
        ("C100", 10.5**2 / 1.6, 998.6, 0.1),
        ("C101", 12.0**2 / 1.6, 1101.3, 0.1),
        ("C102", 13.6**2 / 1.6, 1202.6, 0.1),
    ],
)
def test_igniter(check, row, power_w, expected, tolerance) -> None:
    got = steady_temperature_k(
        power_w=power_w, area_m2=4e-4, emissivity=0.9, film_w_m2_k=40.0, surroundings_k=293.15
    )
    check(
        row,
        f"glow of an invented igniter at {power_w:.1f} W",
        expected=expected,
        got=got - 273.15,
        tolerance=tolerance,
        unit="degC",
        source=BALANCE,
        how_seen="computed by root finding",
        note="geometry invented: proves the solution, not a real igniter's temperature",
    )


def test_hot_cylinder(check) -> None:
    got = steady_temperature_k(
        power_w=998.4, area_m2=math.pi * 0.07, emissivity=0.8, film_w_m2_k=15.0, surroundings_k=298.0
    )
    check(
        "P32",
        "temperature of a pipe of 70 mm that loses 998 W a metre, emissivity 0.8, 15 W/m2 K, 25 degC around",
        expected=200.0,
        got=got - 273.0,
        tolerance=0.3,
        unit="degC",
        source=f"{INCROPERA}, example 1.2, turned round",
        how_seen=TRANSCRIBED,
    )


@pytest.mark.parametrize(
    ("row", "ntu", "capacity_ratio", "expected"),
    [
        ("C_eff_cf_1.5", 1.5, 0.5, 0.690785),
        ("C_eff_cf_2", 2.0, 0.3, 0.813592),
        ("C_eff_cf_0.8", 0.8, 1.0, 0.444444),
    ],
)
def test_counterflow(check, row, ntu, capacity_ratio, expected) -> None:
    check(
        row,
        f"effectiveness of counterflow, {ntu} transfer units, capacity ratio {capacity_ratio}",
        expected=expected,
        got=counterflow_effectiveness(ntu=ntu, capacity_ratio=capacity_ratio),
        tolerance=1e-6,
        unit="-",
        source="ht 1.2.0, effectiveness from NTU",
        how_seen="computed with ht 1.2.0",
    )


def test_oil_cooler(check) -> None:
    oil, water = 0.1 * 2131.0, 0.2 * 4178.0
    conductance = math.pi * 0.025 * 65.7 / (1 / 2249.5 + 1 / 38.85)
    share = counterflow_effectiveness(ntu=conductance / oil, capacity_ratio=oil / water)
    check(
        "P_inc111_L",
        "oil outlet of a concentric tube of 65.7 m, oil from 100 degC, water from 30 degC",
        expected=60.0,
        got=100.0 - share * 70.0,
        tolerance=0.3,
        unit="degC",
        source=f"{INCROPERA}, example 11.1, turned round",
        how_seen=TRANSCRIBED,
        note="the book works with the logarithmic mean difference, ours with effectiveness",
    )


def diesel() -> Fuel:
    return fuel_from_data_sheet(
        key="diesel_2",
        name="No. 2 diesel",
        density_15c_kg_m3=848.3,
        heating_value_j_kg=42.784e6,
        heating_value_basis="net",
        hydrogen_fraction=0.13,
    )


@pytest.mark.parametrize(
    ("row", "soot_mm", "conductance", "expected"),
    [
        ("C107", 0.0, 18.0, 400.9),
        ("C108", 0.5, 14.0, 559.1),
        ("C109", 1.0, 11.455, 691.5),
        ("C110", 2.0, 8.4, 890.9),
    ],
)
def test_soot_on_the_jacket(check, row, soot_mm, conductance, expected) -> None:
    fuel = diesel()
    layered = conductance_with_layer_w_k(
        clean_w_k=18.0, thickness_m=soot_mm * 1e-3, conductivity_w_m_k=0.07, area_m2=0.45
    )
    check(
        f"{row}_conductance",
        f"conductance of an invented jacket with {soot_mm} mm of soot",
        expected=conductance,
        got=layered,
        tolerance=0.0006,
        unit="W/K",
        source="1/UA = 1/18 + thickness / (0.07 x 0.45)",
        how_seen="computed by hand",
    )
    gas = products(fuel.stoichiometry, air_ratio=1.3)
    t = flame_temperature_k(fuel, air_ratio=1.3, combustion_air_temperature_k=293.15, dissociation=False)
    slices = 400
    for _ in range(slices):
        capacity = float(gas_heat_capacity_j_kg_k(gas, np.asarray(t))) * 1.6 / 3600
        t = gas_outlet_temperature_k(
            gas_inlet_k=t, water_k=343.15, conductance_w_k=layered / slices, gas_capacity_w_k=capacity
        )
    check(
        row,
        f"exhaust of 1.6 kg/h at air ratio 1.3 behind that jacket, {soot_mm} mm of soot, in {slices} slices",
        expected=expected,
        got=float(t) - 273.15,
        tolerance=3.0,
        unit="degC",
        source="Cantera 3.2.0, gri30.yaml; 1500 slices, gas from the flame's complete-burning temperature",
        how_seen="computed with Cantera 3.2.0",
        note="conductance and the soot's conductivity are invented",
    )


def gauge_section_m2(gauge: int) -> float:
    """Metal of an American gauge. Its diameter is 0.005 in x 92^((36 - n) / 39) by definition."""
    return math.pi / 4 * (0.005 * 0.0254 * 92 ** ((36 - gauge) / 39)) ** 2


@pytest.mark.parametrize(
    ("gauge", "expected"), [(6, 0.3951), (8, 0.6282), (10, 0.9989), (12, 1.588), (14, 2.525), (16, 4.016)]
)
def test_solid_wire(check, gauge: int, expected: float) -> None:
    check(
        f"wire_{gauge}_solid",
        f"1000 ft of solid copper wire, gauge {gauge}, 20 degC",
        expected=expected,
        got=copper_resistance_ohm(
            length_m=1000 * FOOT_M, section_m2=gauge_section_m2(gauge), temperature_k=293.15
        ),
        tolerance=0.0005,
        relative=True,
        unit="ohm",
        source="HyperPhysics (Georgia State University), table of American wire gauge",
        how_seen="second-hand: the table as carried in several published programs",
    )


@pytest.mark.parametrize(("gauge", "expected"), [(6, 0.491), (8, 0.778), (10, 1.24), (12, 1.98), (14, 3.14)])
def test_stranded_hot_wire(check, gauge: int, expected: float) -> None:
    check(
        f"P_nec_{gauge}",
        f"1000 ft of stranded copper wire, gauge {gauge}, 75 degC",
        expected=expected,
        got=copper_resistance_ohm(
            length_m=1.02 * 1000 * FOOT_M, section_m2=gauge_section_m2(gauge), temperature_k=348.15
        ),
        tolerance=0.01,
        relative=True,
        unit="ohm",
        source="NEC, chapter 9, table 8, uncoated stranded",
        how_seen="second-hand: two reproductions of the table",
        note="strands taken as 2 % longer",
    )
