"""One million flue readings with uncertainty, against the same states through Cantera's equilibrium.

Ours: air ratio from oxygen and from carbon dioxide, composition, every loss, both efficiencies, dew
point, flame temperature, figures referred to 15 degC and sea level, each with carried uncertainty.
Theirs: for each reading the atoms of fuel and air brought to equilibrium at the stack's temperature
(and, in the second row, at the flame's), nothing else and no uncertainty: a bound in their favour.
The rate of Cantera is measured on a few thousand states and scaled. Both run on one core, in turn.

    python benchmarks/flue_analysis.py
"""

from __future__ import annotations

import time

import cantera as ct
import numpy as np

from lightoff.physics.flue import ReadingUncertainty, analyse
from lightoff.physics.fuel import Fuel, fuel_from_data_sheet

READINGS, STATES, REPEATS = 1_000_000, 2_000, 3


def diesel() -> Fuel:
    """No. 2 diesel, C 87 %, H 13 %."""
    return fuel_from_data_sheet(
        key="diesel_2",
        name="No. 2 diesel",
        density_15c_kg_m3=848.3,
        heating_value_j_kg=45.759e6,
        heating_value_basis="gross",
        hydrogen_fraction=0.13,
    )


def readings(fuel: Fuel, count: int) -> dict[str, np.ndarray]:
    """Plausible readings: dry O2 of 2 to 12 %, CO to 300 ppm, stack at 150 to 430 degC."""
    rng = np.random.default_rng(20_260_101)
    o2 = rng.uniform(0.02, 0.12, count)
    line = fuel.stoichiometry.largest_dry_co2_fraction * (1.0 - o2 / 0.2095)
    return {
        "o2_dry_fraction": o2,
        "co2_dry_fraction": line + rng.normal(0.0, 0.001, count),
        "co_dry_fraction": rng.uniform(0.0, 300e-6, count),
        "stack_temperature_k": rng.uniform(423.0, 703.0, count),
        "combustion_air_temperature_k": rng.uniform(253.0, 308.0, count),
        "pressure_pa": rng.uniform(70e3, 102e3, count),
    }


def our_rate(fuel: Fuel) -> float:
    """Readings a second, the best of several runs."""
    rows = readings(fuel, READINGS)
    doubt = ReadingUncertainty(
        o2_fraction=0.003,
        co2_fraction=0.005,
        co_fraction=10e-6,
        stack_temperature_k=3.0,
        combustion_air_temperature_k=1.0,
    )
    seconds = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        analyse(fuel, **rows, uncertainty=doubt)
        seconds.append(time.perf_counter() - start)
    return READINGS / min(seconds)


def their_rate(fuel: Fuel, *, with_flame: bool) -> float:
    """States a second, the best of several runs."""
    rows = readings(fuel, STATES)
    gas = ct.Solution("gri30.yaml")
    ratio = analyse(fuel, o2_dry_fraction=rows["o2_dry_fraction"]).air_ratio.value
    s = fuel.stoichiometry
    amounts = np.zeros((STATES, gas.n_species))
    for name, moles in (
        ("C", s.carbon_mol_kg),
        ("H", 2 * s.water_mol_kg),
        ("O2", 0.2095 * s.air_mol_kg * ratio),
        ("N2", 0.7808 * s.air_mol_kg * ratio),
        ("AR", 0.0093 * s.air_mol_kg * ratio),
        ("CO2", 0.0004 * s.air_mol_kg * ratio),
    ):
        amounts[:, gas.species_index(name)] = moles
    seconds = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        for row, stack, pressure in zip(
            amounts, rows["stack_temperature_k"], rows["pressure_pa"], strict=True
        ):
            gas.TPX = stack, pressure, row
            gas.equilibrate("TP")
            if with_flame:
                gas.TPX = 2000.0, pressure, row
                gas.equilibrate("TP")
        seconds.append(time.perf_counter() - start)
    return STATES / min(seconds)


def main() -> None:
    """Print the rows of the table of results."""
    fuel = diesel()
    stack, both = their_rate(fuel, with_flame=False), their_rate(fuel, with_flame=True)
    ours = our_rate(fuel)
    again = their_rate(fuel, with_flame=False)
    stack = max(stack, again)  # theirs before and after ours, the better counts
    print("| what | lightoff, 1/s | Cantera, 1/s | ratio | aim |")
    print("|---|---|---|---|---|")
    print(
        f"| flue analysis with uncertainty, against equilibrium at the stack's temperature "
        f"| {ours:,.0f} | {stack:,.0f} | {ours / stack:,.0f} | 200 |"
    )
    print(
        f"| the same, against equilibrium at the stack's and the flame's temperature "
        f"| {ours:,.0f} | {both:,.0f} | {ours / both:,.0f} | |"
    )


if __name__ == "__main__":
    main()
