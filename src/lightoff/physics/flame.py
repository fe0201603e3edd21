"""How hot the flame could be if it lost nothing."""

from __future__ import annotations

import numpy as np

from lightoff.physics.burn import Products
from lightoff.physics.gas import REFERENCE_TEMPERATURE_K, enthalpy_j_mol, heat_capacity_j_mol_k
from lightoff.physics.uncertain import Array

_FIRST_GUESS_K = 1900.0
_PASSES = 6
_CLOSE_K = 1e-6


def gas_heat_j_kg(gas: Products, temperature_k: Array) -> Array:
    """Sensible heat of the products above 25 degC, J per kg of fuel."""
    cold = np.asarray(REFERENCE_TEMPERATURE_K)
    total = np.zeros(())
    for name, moles in gas.parts():
        total = total + moles * (enthalpy_j_mol(name, temperature_k) - enthalpy_j_mol(name, cold))
    return total


def gas_heat_capacity_j_kg_k(gas: Products, temperature_k: Array) -> Array:
    """Heat capacity of the products, J per K and kg of fuel."""
    total = np.zeros(())
    for name, moles in gas.parts():
        total = total + moles * heat_capacity_j_mol_k(name, temperature_k)
    return total


def complete_flame_temperature_k(gas: Products, *, heat_j_kg: Array) -> Array:
    """Temperature to which this heat brings the products, nothing lost and nothing split apart.

    Parameters: `heat_j_kg` net heating value, less what carbon monoxide holds, with the air's heat above
    25 degC. Reads high below an air ratio of 1.2, where the gas splits (see `flame_temperature_k`).
    Basis: mcbride_1993 (Newton's method on the enthalpy balance).
    """
    t = np.full(np.shape(heat_j_kg), _FIRST_GUESS_K)
    for _ in range(_PASSES):
        step = (gas_heat_j_kg(gas, t) - heat_j_kg) / gas_heat_capacity_j_kg_k(gas, t)
        t = np.clip(t - step, 250.0, 5000.0)
        if np.all(np.abs(step) < _CLOSE_K):
            break
    return t
