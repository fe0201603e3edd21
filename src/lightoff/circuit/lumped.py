"""The circuit as one volume, one flow and one emitter: what arrives of the heat, and how hot it runs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lightoff.physics.uncertain import Array

COOLANT_J_M3_K = 3.72e6
"""Half glycol, half water by volume at 60 degC: 1,035 kg/m3 and 3.6 kJ/kg K. From memory, unverified."""
RATED_RISE_K = 8.0
"""Coolant from return to supply at rated heat: the flow of a circuit in order. Judgement, no source."""
METAL_SHARE = 0.30
"""Heat held by jacket, pipes and fan-coils over that of the coolant. Judgement, no source."""
EMITTER_SHARE = 0.85
"""Rooms take this share of rated heat at 70 degC coolant and 20 degC air. Judgement, no source."""
ROOM_K, COLD_WATER_K = 293.15, 283.15
HOT_WATER_NTU = 1.7
"""Transfer units of a hot-water exchanger in order. Judgement, no source."""
PEAK_PER_RISE = 0.45
"""Local peak in the jacket above the sensed temperature, for each kelvin of rise. Judgement, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """Each (n,)."""

    flow_m3_s: Array
    rise_k: Array
    supply_k: Array
    return_k: Array
    peak_k: Array
    warm_up_k_s: Array
    warm_up_s: Array
    tap_k: Array
    emitted_share: Array  # of what healthy rooms would take


def circuit(
    *,
    heat_w: Array,
    rated_heat_w: float,
    volume_m3: float,
    start_k: float,
    thermostat_k: Array,
    flow: Array,
    air_share: Array,
    low_share: Array,
    pump_open: Array,
    emitter: Array,
    zone_shut: Array,
    hot_water: Array,
    leaked_share: Array,
    load_w: float,
) -> Circuit:
    """A lumped circuit with its heat. Air and lack of coolant take flow; leakage takes heat elsewhere.

    Basis: energy_balance; what a bubble or a low level costs is judgement.
    """
    rated_flow = rated_heat_w / (COOLANT_J_M3_K * RATED_RISE_K)
    starved = np.clip(1.0 - 1.3 * low_share, 0.0, 1.0) ** 2
    # A pump that stands still leaves a few per cent by thermosiphon.
    moved = np.maximum((1.0 - pump_open) * (1.0 - 0.95 * air_share) * starved, 0.03)
    stream = rated_flow * flow * moved
    rise = np.minimum(heat_w / (COOLANT_J_M3_K * stream), 150.0)
    taken = np.minimum(stream / rated_flow, 1.0) ** 0.3
    ua = EMITTER_SHARE * rated_heat_w / 50.0 * emitter * (1.0 - zone_shut) * taken
    balance = ROOM_K + heat_w * (1.0 - 0.5 * leaked_share) / np.maximum(ua, 1e-3)
    mean = np.minimum(balance, thermostat_k - 3.0)
    mean = np.maximum(mean, start_k)
    capacity = COOLANT_J_M3_K * volume_m3 * (1.0 + METAL_SHARE) * np.maximum(1.0 - 0.6 * low_share, 0.2)
    slope = np.maximum(heat_w * (1.0 - leaked_share) - load_w, 0.0) / capacity
    # With little flow the volume is not mixed: the heater warms its own water and stops.
    mixed = np.clip(stream / rated_flow, 0.0, 1.0) ** 0.25
    ntu = HOT_WATER_NTU * hot_water
    supply = np.minimum(mean + 0.5 * rise, thermostat_k + 0.2 * rise)
    share = 1.0 - np.exp(-ntu * np.minimum(stream / rated_flow, 1.0) ** 0.4)
    return Circuit(
        flow_m3_s=stream,
        rise_k=rise,
        supply_k=supply,
        return_k=np.maximum(supply - rise, start_k),
        peak_k=np.minimum(supply, thermostat_k) + PEAK_PER_RISE * rise,
        warm_up_k_s=slope * mixed,
        warm_up_s=np.clip((thermostat_k - start_k) / np.maximum(slope / mixed, 1e-3), 60.0, 7200.0),
        tap_k=COLD_WATER_K + share * (supply - COLD_WATER_K),
        emitted_share=np.clip(ua / (EMITTER_SHARE * rated_heat_w / 50.0), 0.0, 1.5)
        * np.clip((mean - ROOM_K) / 45.0, 0.0, 1.2),
    )
