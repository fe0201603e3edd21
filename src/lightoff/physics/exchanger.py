"""Heat from gas to coolant and from coolant to water, and what a layer of soot or scale takes away."""

from __future__ import annotations

import numpy as np

from lightoff.physics.uncertain import Real, plain


def gas_outlet_temperature_k(
    *, gas_inlet_k: Real, water_k: Real, conductance_w_k: Real, gas_capacity_w_k: Real
) -> Real:
    """Temperature of the gas after it has passed a jacket that keeps one temperature.

    Parameters: floats or arrays; `gas_capacity_w_k` is mass flow times heat capacity, above zero.
    Valid for: coolant that takes far more heat per kelvin than the gas does. Flue gas loses a quarter of
    its heat capacity on the way from 2000 to 500 K: take the mean, or go by slices.
    Basis: heat_exchanger (a sink of constant temperature).
    """
    steps = np.asarray(conductance_w_k, dtype=np.float64) / gas_capacity_w_k
    return plain(water_k + (gas_inlet_k - np.asarray(water_k, dtype=np.float64)) * np.exp(-steps))


def counterflow_effectiveness(*, ntu: Real, capacity_ratio: Real) -> Real:
    """Share of the possible heat that two streams running against each other exchange.

        (1 - exp(-NTU (1 - C))) / (1 - C exp(-NTU (1 - C)))

    Parameters: floats or arrays; `ntu` is conductance over the smaller stream's heat capacity flow, zero
    and above; `capacity_ratio` C is the smaller over the larger, from 0 to 1. Basis: heat_exchanger.
    """
    units = np.asarray(ntu, dtype=np.float64)
    capacity = np.asarray(capacity_ratio, dtype=np.float64)
    exponent = units * (1.0 - capacity)
    # (1 - exp(-x)) / x, which is 1 at x = 0: so equal streams need no formula of their own.
    at_zero = exponent == 0.0
    mean = np.where(at_zero, 1.0, -np.expm1(-exponent) / np.where(at_zero, 1.0, exponent))
    share = units * mean
    return plain(share / (1.0 + capacity * share))


def conductance_with_layer_w_k(
    *, clean_w_k: Real, thickness_m: Real, conductivity_w_m_k: Real, area_m2: Real
) -> Real:
    """Conductance of a heat exchanger with a layer of soot or scale on it.

        1/UA = 1/UA clean + thickness / (conductivity x area)

    Parameters: floats or arrays; thickness zero and above, conductivity and area above zero. Soot
    conducts 0.05 to 0.15 W/m K (from memory, unverified), lime scale about 1 (from memory, unverified).
    Valid for: an even layer that does not narrow the passage.
    Basis: heat_exchanger (resistances in series).
    """
    clean = np.asarray(clean_w_k, dtype=np.float64)
    return plain(clean / (1.0 + clean * thickness_m / (conductivity_w_m_k * area_m2)))
