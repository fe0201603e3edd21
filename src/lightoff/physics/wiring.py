"""Copper on the way to the heater, and the volts that are left at its plug."""

from __future__ import annotations

import numpy as np

from lightoff.physics.uncertain import Real, plain

COPPER_RESISTIVITY_OHM_M = 1.7241e-8
"""Annealed copper at 20 degC. Basis: nbs_handbook_100."""
COPPER_COEFFICIENT_1_K = 0.00393
"""Rise of its resistance per kelvin, of that at 20 degC. Basis: nbs_handbook_100."""
_COPPER_REFERENCE_K = 293.15


def copper_resistance_ohm(*, length_m: Real, section_m2: Real, temperature_k: Real) -> Real:
    """Resistance of a copper wire; the length there and back for a pair.

    Parameters: floats or arrays; `section_m2` of metal, above zero. A stranded wire has about 2 % more
    (common practice, no source): lengthen it by that. Joints come on top.
    Valid for: 200 to 400 K. Basis: nbs_handbook_100.
    """
    warmth = 1.0 + COPPER_COEFFICIENT_1_K * (np.asarray(temperature_k, np.float64) - _COPPER_REFERENCE_K)
    return plain(COPPER_RESISTIVITY_OHM_M * length_m / section_m2 * warmth)


def loaded_voltage_v(
    *, rest_v: Real, source_ohm: Real, resistive_load_ohm: Real, constant_current_a: Real
) -> Real:
    """Voltage at the plug with a resistor (igniter) and constant currents (motors, lamps) on it.

        (rest - source ohm x current) / (1 + source ohm / load ohm)

    Parameters: floats or arrays, zero and above; `source_ohm` is battery, wires both ways and joints in
    series; infinity for `resistive_load_ohm` is no resistor. Returns 0 where the wires cannot carry the
    constant currents at all: then those motors stand, which this does not work out.
    Basis: ohm_law.
    """
    source = np.asarray(source_ohm, dtype=np.float64)
    with np.errstate(divide="ignore"):
        divider = 1.0 + source / np.asarray(resistive_load_ohm, dtype=np.float64)
    return plain(np.maximum((rest_v - source * constant_current_a) / divider, 0.0))
