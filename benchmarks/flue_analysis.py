"""One million flue readings with uncertainty, against the same states through Cantera's equilibrium.

Ours: air ratio from oxygen and from carbon dioxide, composition in moles and in dry and wet shares, every
loss, both efficiencies, dew point, the flame in equilibrium, figures referred to 15 degC and sea level, each
figure with its uncertainty carried from five readings and the fuel.

Theirs: the equilibrium of the same atoms in the flue (temperature and pressure held) and in the flame
(heat and pressure held), and nothing else: the air ratio is given to it, no uncertainty of anything.
With uncertainty it must solve each state again for every input moved to either side, as ours does:
nine states of the flue and eleven of the flame for a reading. The rate of Cantera is measured on a few
thousand states and scaled. Both run on one core, in turn, theirs before and after ours.

    python benchmarks/flue_analysis.py
"""

from __future__ import annotations

import time
from collections.abc import Callable

import cantera as ct
import numpy as np

from lightoff.physics.burn import products
from lightoff.physics.flame import air_heat_j_mol
from lightoff.physics.flue import analyse
from lightoff.physics.flue_gas import ReadingUncertainty
from lightoff.physics.fuel import Fuel, fuel_from_data_sheet

READINGS, STATES, REPEATS = 1_000_000, 2_000, 5
FLUE_STATES = 1 + 2 * 4  # O2, CO, stack temperature, hydrogen of the fuel
FLAME_STATES = 1 + 2 * 5  # O2, CO, intake temperature, hydrogen and heat of the fuel


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


def best_s(work: Callable[[], object]) -> float:
    """Seconds of the best of several runs."""
    seconds = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        work()
        seconds.append(time.perf_counter() - start)
    return min(seconds)


def our_s(fuel: Fuel, *, dissociation: bool) -> float:
    """Seconds a reading."""
    rows = readings(fuel, READINGS)
    doubt = ReadingUncertainty(
        o2_fraction=0.003,
        co2_fraction=0.005,
        co_fraction=10e-6,
        stack_temperature_k=3.0,
        combustion_air_temperature_k=1.0,
    )

    def work() -> object:
        gas = analyse(fuel, **rows, uncertainty=doubt, dissociation=dissociation)
        return gas, gas.products.dry_fractions(), gas.products.wet_fractions()

    return best_s(work) / READINGS


class Cantera:
    """The same states, their atoms and heats made ready beforehand."""

    def __init__(self, fuel: Fuel) -> None:
        rows = readings(fuel, STATES)
        self.gas = gas = ct.Solution("gri30.yaml")
        ratio = analyse(fuel, o2_dry_fraction=rows["o2_dry_fraction"]).air_ratio.value
        burnt = products(fuel.stoichiometry, air_ratio=ratio)
        air = ratio * fuel.stoichiometry.air_mol_kg
        self.moles = np.zeros((STATES, gas.n_species))
        for name, each in (
            ("CO2", burnt.co2),
            ("H2O", burnt.h2o),
            ("O2", burnt.o2),
            ("N2", 0.7808 * air),
            ("AR", 0.0093 * air),
        ):
            self.moles[:, gas.species_index(name)] = each
        self.stack, self.pressure = rows["stack_temperature_k"], rows["pressure_pa"]
        brought = air_heat_j_mol(rows["combustion_air_temperature_k"], np.zeros(()))
        heat = fuel.net_heating_value_j_kg + air * brought
        kilograms = self.moles @ gas.molecular_weights / 1000.0
        self.enthalpy = np.empty(STATES)
        for row, moles in enumerate(self.moles):
            gas.TPX = 298.15, self.pressure[row], moles
            self.enthalpy[row] = gas.enthalpy_mass + heat[row] / kilograms[row]

    def flue(self) -> None:
        """Every state at the stack's temperature."""
        gas = self.gas
        for moles, stack, pressure in zip(self.moles, self.stack, self.pressure, strict=True):
            gas.TPX = stack, pressure, moles
            gas.equilibrate("TP")

    def flame(self) -> None:
        """Every state with the heat of its fuel."""
        gas = self.gas
        for moles, enthalpy, pressure in zip(self.moles, self.enthalpy, self.pressure, strict=True):
            gas.TPX = 2000.0, pressure, moles
            gas.HP = enthalpy, pressure
            gas.equilibrate("HP")


def main() -> None:
    """Print the rows of the table of results."""
    fuel = diesel()
    theirs = Cantera(fuel)
    flue_s, flame_s = best_s(theirs.flue), best_s(theirs.flame)
    whole, plain = our_s(fuel, dissociation=True), our_s(fuel, dissociation=False)
    flue_s = min(flue_s, best_s(theirs.flue)) / STATES
    flame_s = min(flame_s, best_s(theirs.flame)) / STATES
    print("| flue analysis of a million readings with uncertainty | lightoff, 1/s | Cantera, 1/s | ratio |")
    print("|---|---|---|---|")
    for what, ours, others in (
        (
            "the same states, uncertainty on both sides (9 of the flue, 11 of the flame)",
            whole,
            FLUE_STATES * flue_s + FLAME_STATES * flame_s,
        ),
        ("Cantera without uncertainty: one flue and one flame", whole, flue_s + flame_s),
        ("flame burnt completely in ours; Cantera without uncertainty, the flue alone", plain, flue_s),
    ):
        print(f"| {what} | {1 / ours:,.0f} | {1 / others:,.1f} | {others / ours:,.0f} |")


if __name__ == "__main__":
    main()
