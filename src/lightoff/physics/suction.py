"""What it takes to draw fuel from the tank, and what a weak draw does to the flow."""

from __future__ import annotations

import math

import numpy as np

from lightoff.physics.air import STANDARD_GRAVITY_M_S2
from lightoff.physics.uncertain import Real, plain

DISSOLVED_AIR_VOLUME_RATIO = 0.10
"""Volume of air that a volume of diesel fuel holds dissolved when it has stood in air of that pressure
(the Ostwald coefficient), nearly the same from -20 to 40 degC.
Basis: astm_d2779 (about 0.098 at 0 degC, density 850 kg/m3; from memory, unverified)."""


def suction_vacuum_pa(
    *,
    lift_m: Real,
    fuel_density_kg_m3: Real,
    kinematic_viscosity_m2_s: Real,
    volume_flow_m3_s: Real,
    line_length_m: Real,
    line_diameter_m: Real,
    filter_resistance_pa_s_m3: Real,
) -> Real:
    """Vacuum at the pump's inlet, below the air's pressure on the tank: lift, line and filter.

    Parameters: floats or arrays. `lift_m` from the fuel's level up to the pump; below zero where the
    tank stands higher, and then the vacuum may be below zero too. `line_diameter_m` is the bore.
    `filter_resistance_pa_s_m3` is pressure over volume flow at this fuel's viscosity: scale a cold
    filter's by viscosity before.
    Valid for: laminar flow, Reynolds number below 2000; at 2 L/h in any usual line it is below 300.
    Basis: hagen_poiseuille; the lift is density x gravity x height.
    """
    density = np.asarray(fuel_density_kg_m3, dtype=np.float64)
    bore = np.asarray(line_diameter_m, dtype=np.float64)
    viscosity_pa_s = kinematic_viscosity_m2_s * density
    square = bore * bore
    line_pa_s_m3 = 128.0 / math.pi * viscosity_pa_s * line_length_m / (square * square)
    flowing = (line_pa_s_m3 + filter_resistance_pa_s_m3) * volume_flow_m3_s
    return plain(density * STANDARD_GRAVITY_M_S2 * lift_m + flowing)


def air_release_share(*, vacuum_pa: Real, atmosphere_pa: Real) -> Real:
    """Share of a pump's strokes that is filled by dissolved air come out, not by fuel: an upper bound.

    Fuel that has stood in the air at `atmosphere_pa` gives up what it cannot hold at the pump's inlet.
    How much of that comes out on the way is not known: between nothing and this, so carry a wide range.
    Parameters: floats or arrays, absolute `atmosphere_pa` above zero. Returns 0 without vacuum, 1 where
    the vacuum is the whole atmosphere.
    Valid for: diesel and heating fuels, whose own vapour pressure is nothing; not for petrol.
    Basis: henry_law with `DISSOLVED_AIR_VOLUME_RATIO`, astm_d2779; the judgement is ours, no source.
    """
    atmosphere = np.asarray(atmosphere_pa, dtype=np.float64)
    drawn = np.clip(np.asarray(vacuum_pa, dtype=np.float64), 0.0, atmosphere)
    air = DISSOLVED_AIR_VOLUME_RATIO * drawn
    return plain(air / (air + (atmosphere - drawn)))


def siphon_flow_ratio(
    *, suction_ratio: Real, lift_pressure_pa: Real, rated_suction_pa: Real, density_ratio: Real
) -> Real:
    """Fuel volume that a siphon nozzle draws, of the rated volume: less as the lift grows.

    Parameters: floats or arrays. `suction_ratio` is the jet's suction over the rated one, which it takes
    from the atomising air; `lift_pressure_pa` is what lift, line and filter take beyond the rated state
    (below zero for a higher tank); `rated_suction_pa` drives the rated flow, above zero; `density_ratio`
    is the fuel's; the mass ratio is the answer times it. Returns 0 where the jet cannot lift the fuel.
    Valid for: flow ruled by the nozzle's fuel passage; no table of a maker was found to test it with.
    Basis: orifice_law (common practice for this use, no source).
    """
    left = np.maximum(suction_ratio - np.asarray(lift_pressure_pa, dtype=np.float64) / rated_suction_pa, 0.0)
    return plain(np.sqrt(left / density_ratio))
