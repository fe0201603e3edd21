"""Flue loss, efficiency and the heat content of gases."""

import cantera as ct
import numpy as np
import pytest

from lightoff.physics.flue import analyse
from lightoff.physics.flue_gas import FlueGas
from lightoff.physics.fuel import Fuel, fuel_from_data_sheet
from lightoff.physics.gas import CO_HEATING_VALUE_J_MOL, enthalpies_j_mol
from lightoff.physics.loss import siegert_loss_fraction

CANTERA = (
    "Cantera 3.2.0, gri30.yaml; enthalpy of dry gas and vapour, stack over intake, and CO x 282.98 kJ/mol"
)
NET, GROSS = 42.784e6, 45.759e6

# O2 %, stack and intake in degC, CO in ppm; loss in % of net heat, efficiency in % of gross heat, Siegert
ROWS = (
    ("C035", "C036", "C037", 3, 180, 20, 20, 7.082, 86.877, 7.164),
    ("C038", "C039", "C040", 5, 200, 20, 0, 8.823, 85.249, 8.910),
    ("C041", "C042", "C043", 5, 300, 20, 50, 13.908, 80.495, 13.860),
    ("C044", "C045", "C046", 7, 250, 20, 100, 12.781, 81.549, 12.781),
    ("C047", "C048", "C049", 9, 350, 0, 300, 22.574, 72.392, 22.283),
    ("C050", "C051", "C052", 6, 450, -10, 100, 24.521, 70.572, 24.073),
)


def diesel() -> Fuel:
    return fuel_from_data_sheet(
        key="diesel_2",
        name="No. 2 diesel",
        density_15c_kg_m3=848.3,
        heating_value_j_kg=NET,
        heating_value_basis="net",
        hydrogen_fraction=0.13,
    )


def analysed(o2: float, stack: float, intake: float, co_ppm: float) -> FlueGas:
    return analyse(
        diesel(),
        o2_dry_fraction=o2 / 100,
        co_dry_fraction=co_ppm * 1e-6,
        stack_temperature_k=stack + 273.15,
        combustion_air_temperature_k=intake + 273.15,
    )


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row[0])
def test_loss_on_net_heat(check, row) -> None:
    key, _, _, o2, stack, intake, co, expected, _, _ = row
    check(
        key,
        f"flue loss of diesel, O2 {o2} %, stack {stack} degC, air {intake} degC, CO {co} ppm",
        expected=expected,
        got=100 * analysed(o2, stack, intake, co).stack_loss_net_fraction.value,
        tolerance=0.05,
        unit="% of net heat",
        source=CANTERA,
        how_seen="computed with Cantera 3.2.0",
        note="the row leaves CO out of the air ratio, ours counts the half oxygen it spares",
    )


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row[1])
def test_efficiency_on_gross_heat(check, row) -> None:
    _, key, _, o2, stack, intake, co, _, expected, _ = row
    lost = analysed(o2, stack, intake, co).stack_loss_net_fraction.value * NET
    check(
        key,
        f"efficiency of diesel, O2 {o2} %, stack {stack} degC, air {intake} degC, CO {co} ppm",
        expected=expected,
        got=100 * (1.0 - (lost + GROSS - NET) / GROSS),
        tolerance=0.03,
        unit="% of gross heat",
        source=CANTERA,
        how_seen="computed with Cantera 3.2.0",
        note="latent heat taken as in the row from 45.759 and 42.784 MJ/kg, a pair that contradicts its own"
        " hydrogen by 0.14 MJ/kg; our own derives one from the other and reads 0.3 points higher",
    )


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row[2])
def test_siegert(check, row) -> None:
    _, _, key, o2, stack, intake, _, _, _, expected = row
    got = siegert_loss_fraction(
        o2_dry_fraction=o2 / 100,
        stack_temperature_k=stack + 273.15,
        combustion_air_temperature_k=intake + 273.15,
    )
    check(
        key,
        f"Siegert's loss, O2 {o2} %, stack {stack} degC, air {intake} degC",
        expected=expected,
        got=100 * got,
        tolerance=0.002,
        unit="% of net heat",
        source="District chimney sweep's page of the 1. BImSchV method: A2 = 0.68, B = 0.007",
        how_seen="second-hand: formula and constants seen there, value computed apart",
    )


def test_unburned_part(check) -> None:
    check(
        "C053",
        "loss by 1000 ppm of CO at 7 % O2",
        expected=0.4643,
        got=100 * analysed(7, 200, 20, 1000).unburned_loss_fraction.value,
        tolerance=0.002,
        unit="% of net heat",
        source="Cantera 3.2.0, gri30.yaml",
        how_seen="computed with Cantera 3.2.0",
    )


@pytest.mark.parametrize("temperature_k", [400.0, 700.0, 1200.0])
@pytest.mark.parametrize("species", ["O2", "N2", "CO2", "H2O", "CO", "Ar"])
def test_heat_content_of_gases(check, species, temperature_k) -> None:
    """Another set of polynomials than ours, and another evaluator."""
    gas = ct.Solution("gri30.yaml")
    other = gas.species("AR" if species == "Ar" else species).thermo
    at_25 = 298.15
    expected = (other.h(temperature_k) - other.h(at_25)) / 1000.0
    cold, warm = enthalpies_j_mol((species,), np.array([at_25, temperature_k]))[species]
    got = float(warm - cold)
    check(
        f"enthalpy-{species}-{temperature_k:.0f}",
        f"heat to warm a mole of {species} from 25 degC to {temperature_k:.0f} K",
        expected=expected,
        got=got,
        tolerance=2e-3,
        relative=True,
        unit="J/mol",
        source="GRI-Mech 3.0 polynomials, by Cantera",
        how_seen="computed with Cantera at the time of the test",
    )


def test_heat_set_free_by_carbon_monoxide(check) -> None:
    gas = ct.Solution("gri30.yaml")

    def h(name: str) -> float:
        return gas.species(name).thermo.h(298.15) / 1000.0

    check(
        "heat-of-co",
        "heat of burning a mole of carbon monoxide at 25 degC",
        expected=h("CO") + 0.5 * h("O2") - h("CO2"),
        got=CO_HEATING_VALUE_J_MOL,
        tolerance=50.0,
        unit="J/mol",
        source="GRI-Mech 3.0 polynomials, by Cantera",
        how_seen="computed with Cantera at the time of the test",
    )


@pytest.mark.parametrize(
    ("o2", "stack", "intake"), [(4.0, 220.0, 5.0), (8.0, 500.0, -25.0), (2.5, 850.0, 35.0)]
)
def test_loss_by_cantera_alongside(check, o2, stack, intake) -> None:
    """The products of our air ratio warmed by Cantera's own enthalpies, humid air included."""
    fuel = diesel()
    got = analyse(
        fuel,
        o2_dry_fraction=o2 / 100,
        co_dry_fraction=0.0,
        stack_temperature_k=stack + 273.15,
        combustion_air_temperature_k=intake + 273.15,
        relative_humidity_fraction=0.6,
        pressure_pa=90e3,
    )
    gas = ct.Solution("gri30.yaml")
    shares = {name.upper(): share for name, share in got.products.wet_fractions().items() if name != "SO2"}
    ends = []
    for celsius in (stack, intake):
        gas.TPX = celsius + 273.15, 90e3, shares
        ends.append(gas.enthalpy_mole / 1000.0)
    check(
        f"loss-live-{o2}-{stack:.0f}",
        f"flue loss of diesel in humid air, O2 {o2} %, stack {stack:.0f} degC, air {intake:.0f} degC",
        expected=100 * (ends[0] - ends[1]) * got.products.wet_mol_kg / NET,
        got=100 * got.stack_loss_net_fraction.value,
        tolerance=0.02,
        unit="% of net heat",
        source="Cantera, gri30.yaml, run beside",
        how_seen="computed with Cantera at the time of the test",
    )
