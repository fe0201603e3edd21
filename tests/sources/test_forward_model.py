"""The forward model as a whole against what stands outside it: gas, stack, igniter, altitude, suction.

What the single formulas are worth is checked in the other files; here the chain that joins them is.
"""

from dataclasses import replace

import cantera as ct
import numpy as np
import pytest

from lightoff.heater.burning import gas
from lightoff.heater.gas_side import gas_side, outlet_temperature_k
from lightoff.heater.ignition import ignition
from lightoff.heater.rating import jacket_capacity
from lightoff.physics.fuel import Fuel, fuel_from_data_sheet
from lightoff.physics.loss import siegert_loss_fraction
from lightoff.plant.conditions import Conditions
from lightoff.plant.model import CASE_LOSS_SHARE, Prediction, predict
from lightoff.plant.parameters import COLUMN, PARAMETERS
from lightoff.plant.quantities import COLUMN as QUANTITY
from lightoff.shelf import open_shelf
from lightoff.terms.shelf import Sheet

SHELF = open_shelf()
DIESEL = SHELF.fuels["diesel_2"]
PUMPED = SHELF.sheets["generic_12_kw"]
RATED = Conditions(fuel=DIESEL, rated_fuel=DIESEL, relative_humidity_fraction=0.0)
CANTERA = "Cantera 3.2.0, gri30.yaml"


def seen(conditions: Conditions = RATED, sheet: Sheet = PUMPED, **shifts: float) -> Prediction:
    row = np.zeros((1, len(PARAMETERS)))
    for key, shift in shifts.items():
        row[0, COLUMN[key]] = shift
    return predict(sheet, conditions, row)


def number(found: Prediction, key: str) -> float:
    return float(found.numeric[0, QUANTITY[key]])


def example_oil() -> Fuel:
    return fuel_from_data_sheet(
        key="oil",
        name="oil",
        density_15c_kg_m3=848.3,
        heating_value_j_kg=42.784e6,
        heating_value_basis="net",
        hydrogen_fraction=0.13,
    )


def dry_gas(fuel: Fuel, air_ratio: float, temperature_k: float) -> dict[str, float]:
    """Dry shares at equilibrium at a temperature, by atoms of fuel and air put together in Cantera."""
    mixture = ct.Solution("gri30.yaml")
    s = fuel.stoichiometry
    air = air_ratio * s.air_mol_kg
    hydrogen = 2.0 * s.water_mol_kg
    # Carbon, hydrogen and what oxygen the fuel has itself, as single atoms: only their count matters.
    own_oxygen = 2.0 * (s.carbon_mol_kg + 0.5 * s.water_mol_kg - s.oxygen_mol_kg)
    moles = {"C": s.carbon_mol_kg, "H": hydrogen, "O": max(own_oxygen, 0.0)}
    moles |= {"O2": 0.2095 * air, "N2": 0.7808 * air, "AR": 0.0093 * air, "CO2": 0.0004 * air}
    mixture.TPX = temperature_k, 101_325.0, moles
    mixture.equilibrate("TP")
    shares = dict(zip(mixture.species_names, mixture.X, strict=True))
    dry = 1.0 - shares["H2O"]
    return {name: shares[name] / dry for name in ("O2", "CO2", "CO", "H2")}


def flame(air_ratio: float) -> dict[str, float]:
    one = np.ones(1)
    found = gas(
        DIESEL.stoichiometry,
        heating_value_j_kg=DIESEL.net_heating_value_j_kg,
        air_ratio=air_ratio * one,
        drop_size_ratio=one,
        lopsided=0.0 * one,
        tube_soot_m=0.0 * one,
        smoke_point=0.0 * one,
        co_floor=one,
        co_slope=one,
    )
    return {"O2": float(found.o2[0]), "CO2": float(found.co2[0]), "CO": float(found.co[0])}


@pytest.mark.parametrize("air_ratio", [1.2, 1.35, 1.5, 2.0])
@pytest.mark.parametrize("part", ["O2", "CO2"])
def test_a_lean_flames_gas(check, air_ratio: float, part: str) -> None:
    check(
        f"model_{part}_{air_ratio}",
        f"{part} of the model's flame at air ratio {air_ratio}",
        expected=100.0 * dry_gas(DIESEL, air_ratio, 900.0)[part],
        got=100.0 * flame(air_ratio)[part],
        tolerance=0.06,
        unit="% dry",
        source=f"{CANTERA}; equilibrium at 900 K",
        how_seen="computed with Cantera 3.2.0",
    )


@pytest.mark.parametrize(
    ("air_ratio", "part", "tolerance"),
    [
        (0.95, "O2", 0.2),
        (0.95, "CO2", 1.0),
        (0.95, "CO", 1.0),
        (0.90, "O2", 0.2),
        (0.90, "CO2", 1.0),
        (0.90, "CO", 1.0),
        (0.80, "O2", 0.2),
        (0.80, "CO", 2.0),
    ],
)
def test_a_rich_flames_gas(check, air_ratio: float, part: str, tolerance: float) -> None:
    check(
        f"model_{part}_{air_ratio}",
        f"{part} of the model's flame at air ratio {air_ratio}",
        expected=100.0 * dry_gas(DIESEL, air_ratio, 1500.0)[part],
        got=100.0 * flame(air_ratio)[part],
        tolerance=tolerance,
        unit="% dry",
        source=f"{CANTERA}; equilibrium at 1500 K, where such a gas freezes",
        how_seen="computed with Cantera 3.2.0",
        note="a real flame mixes badly and keeps some of both; the curve of carbon monoxide is judgement",
    )


@pytest.mark.parametrize("air_ratio", [1.3, 1.5, 2.0])
def test_flame_temperature(check, air_ratio: float) -> None:
    splits = {1.3: 2011.5, 1.5: 1835.4, 2.0: 1516.6}
    check(
        f"model_flame_{air_ratio}",
        f"the model's flame at air ratio {air_ratio}, air of 25 degC",
        expected=splits[air_ratio],
        got=float(gas_side(example_oil()).flame_temperature_k(air_ratio, 298.15, 1.0)),
        tolerance=30.0,
        unit="K",
        source=f"{CANTERA}; net heating value set free, equilibrate(HP)",
        how_seen="computed with Cantera 3.2.0",
        note="the model's gas does not split apart, which is 20 K at 1.3",
    )


@pytest.mark.parametrize(
    ("row", "conductance", "expected"),
    [("C107", 18.0, 400.9), ("C108", 14.0, 559.1), ("C109", 11.455, 691.5), ("C110", 8.4, 890.9)],
)
def test_exhaust_behind_a_sooted_jacket(check, row: str, conductance: float, expected: float) -> None:
    side, ratio, fuel = gas_side(example_oil()), np.array([1.3]), np.array([1.6 / 3600.0])
    capacity, growth = jacket_capacity(side, ratio, fuel, 343.15)
    left = outlet_temperature_k(
        inlet_k=side.flame_temperature_k(ratio, 293.15, 1.0),
        water_k=343.15,
        conductance_w_k=np.array([conductance]),
        capacity_w_k=capacity,
        growth_per_k=growth,
    )
    check(
        f"model_{row}",
        f"exhaust of 1.6 kg/h, air ratio 1.3, by the model's jacket of {conductance} W/K, coolant at 70 degC",
        expected=expected,
        got=float(left[0]) - 273.15,
        tolerance=8.0,
        unit="degC",
        source=f"{CANTERA}; 1500 slices, gas from the flame's complete-burning temperature",
        how_seen="computed with Cantera 3.2.0",
        note="18 W/K clean; 0.5, 1 and 2 mm of soot of 0.07 W/m K on 0.45 m2; invented geometry",
    )


@pytest.mark.parametrize(("volts", "expected"), [(10.5, 998.6), (12.0, 1101.3), (13.6, 1202.6)])
def test_igniter(check, volts: float, expected: float) -> None:
    one = np.ones(1)
    found = ignition(
        rated_w=100.0,
        power_w=volts**2 / 1.6 * one,
        seat=one,
        drop_size_ratio=one,
        air_ratio=1.3 * one,
        standing_air_ratio=1.3 * one,
        delivered_share=one,
        surroundings_k=293.15,
        usual_delay_s=45.0,
        delay_law=one,
    )
    check(
        f"model_igniter_{volts}",
        f"glow of the model's igniter of 100 W on {volts} V and 1.6 ohm",
        expected=expected,
        got=float(found.glow_k[0]) - 273.15,
        tolerance=0.5,
        unit="degC",
        source="area {0.9 sigma (T^4 - Ta^4) + 40 W/m2 K (T - Ta)}, 4 cm2, 20 degC around",
        how_seen="computed by root finding",
        note="geometry invented: proves the chain, not a real igniter's temperature",
    )


@pytest.mark.parametrize(
    ("row", "altitude_m", "celsius", "humidity", "expected"),
    [
        ("C074", 0.0, -20.0, 0.0, 1.1383),
        ("C075", 0.0, 35.0, 0.0, 0.9351),
        ("C076", 0.0, 35.0, 0.8, 0.8933),
        ("C077", 1500.0, 5.25, 0.0, 0.8638),
        ("C078", 1500.0, 30.0, 0.3, 0.7812),
        ("C079", 2500.0, 20.0, 0.0, 0.7246),
        ("C080", 3000.0, -10.0, 0.0, 0.7578),
    ],
)
def test_altitude_and_weather(
    check, row: str, altitude_m: float, celsius: float, humidity: float, expected: float
) -> None:
    there = replace(
        RATED,
        altitude_m=altitude_m,
        air_temperature_k=celsius + 273.15,
        relative_humidity_fraction=humidity,
    )
    check(
        f"model_{row}",
        f"air ratio of a metered heater at {altitude_m:.0f} m and {celsius} degC over its rated one",
        expected=expected,
        got=float(seen(there).air_ratio[0] / seen().air_ratio[0]),
        tolerance=0.012,
        unit="",
        source="fluids 1.3.1 ATMOSPHERE_1976, CoolProp 8.0.0 HAPropsSI; dry air in a cubic metre",
        how_seen="computed with fluids and CoolProp",
        note="the model lets a little air out of the fuel, more in thin air",
    )


def test_voltage(check) -> None:
    full = number(seen(), "battery_voltage_rest")
    setting = float(np.log(1.35 / seen().air_ratio[0]))
    low = replace(RATED, rest_v=full * 11.5 / 13.6)
    check(
        "model_C083",
        "air ratio of a metered heater set to 1.35 when its battery falls from 13.6 to 11.5 parts",
        expected=1.1415,
        got=float(seen(low, air_setting=setting).air_ratio[0]),
        tolerance=0.015,
        unit="",
        source="air in proportion to voltage, as a brushed fan on a fixed path does",
        how_seen="computed by hand",
    )


@pytest.mark.parametrize("key", sorted(SHELF.sheets))
def test_flue_loss_by_siegert(check, key: str) -> None:
    found = seen(sheet=SHELF.sheets[key])
    check(
        f"model_siegert_{key}",
        f"flue loss of the model's {SHELF.sheets[key].heat_output_w / 1000:.0f} kW heater, in order",
        expected=100.0
        * float(
            siegert_loss_fraction(
                o2_dry_fraction=number(found, "flue_o2"),
                stack_temperature_k=number(found, "stack_gas_temperature"),
                combustion_air_temperature_k=288.15,
            )
        ),
        got=100.0 * (1.0 - float(found.efficiency[0]) - CASE_LOSS_SHARE),
        tolerance=0.4,
        unit="% of net heat",
        source="Siegert's formula for fuel oil: (stack - air) (0.68 / (21 - O2) + 0.007)",
        how_seen="second-hand: a chimney sweeps' page quoting the German ordinance's method",
    )


@pytest.mark.parametrize("setting", [-0.05, 0.0, 0.2])
def test_oxygen_and_carbon_dioxide_belong_together(check, setting: float) -> None:
    found = seen(air_setting=setting)
    check(
        f"model_fo_{setting}",
        f"(20.9 - O2) / CO2 of the model's readings with the air moved by {setting:+.0%}",
        expected=0.209 * 9190.0 / 1420.0,
        got=(20.9 - 100.0 * number(found, "flue_o2")) / (100.0 * number(found, "flue_co2")),
        tolerance=0.02,
        unit="",
        source="40 CFR 75, appendix F, table 1: factors Fd and Fc of oil",
        how_seen="second-hand: a reproduction of the table",
    )


def test_where_smoke_begins(check) -> None:
    ratios = np.linspace(0.0, -0.3, 601)
    rows = np.zeros((ratios.size, len(PARAMETERS)))
    rows[:, COLUMN["air_setting"]] = ratios
    found = predict(PUMPED, RATED, rows, with_signs=False)
    at = int(np.argmin(np.abs(found.smoke_margin)))
    check(
        "model_smoke_o2",
        "oxygen at which a good spray of the model begins to smoke",
        expected=3.3,
        got=100.0 * float(found.numeric[at, QUANTITY["flue_o2"]]),
        tolerance=0.5,
        unit="% dry",
        source="an installation page for residential gun burners: trace of smoke near 13 % CO2 or 3.3 % O2",
        how_seen="second-hand: a trade page",
        note="burners of another kind and size; no curve was found for this one",
    )


def test_lift(check) -> None:
    low, high = (
        number(seen(replace(RATED, lift_m=each)), "fuel_vacuum") for each in (0.5, 0.5 + 16 * 0.0254)
    )
    check(
        "model_lift",
        "vacuum for each 16 inches of lift, No. 2 diesel",
        expected=1.0,
        got=(high - low) / 3386.4,
        tolerance=0.03,
        unit="inHg",
        source="an oil pump's service manual page: 1 inHg for each 16 in of lift, oil of 40 API",
        how_seen="second-hand: a trade page",
        note="No. 2 diesel is 3 % heavier than that oil",
    )


def test_heat_in_carbon_monoxide(check) -> None:
    found, dirty = seen(), seen(co_floor=4.0)
    added = number(dirty, "flue_co") - number(found, "flue_co")
    o2 = number(dirty, "flue_o2")
    # Air-free, so that it may be set against a row at 7 % of oxygen.
    at_7 = added * (0.2095 - 0.07) / (0.2095 - o2)
    flue_lost = found.efficiency[0] - dirty.efficiency[0]
    check(
        "model_co_heat",
        "heat that 1,000 ppm of carbon monoxide at 7 % of oxygen hold, as the model loses it",
        expected=0.46,
        got=100.0 * float(flue_lost) * 1000e-6 / at_7,
        tolerance=0.06,
        unit="% of net heat",
        source=f"{CANTERA}; dry gas x CO x 282.98 kJ/mol / net heating value",
        how_seen="computed with Cantera 3.2.0",
        note="what the cooler flame gives less to the jacket makes the model's a tenth smaller",
    )
