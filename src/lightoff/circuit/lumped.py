"""The circuit as one volume, one flow and one emitter: what arrives of the heat, and how hot it runs."""

from __future__ import annotations

import numpy as np

from lightoff.ground.values import dataclass
from lightoff.physics.coolant import HALF_J_M3_K
from lightoff.physics.uncertain import Array

RATED_RISE_K = 8.0
"""Usual coolant from return to supply at rated heat: the flow of a circuit in order. Judgement, no source."""
METAL_SHARE = 0.30
"""Heat held by jacket, pipes and fan-coils over that of the coolant. Judgement, no source."""
EMITTER_SHARE, EMITTER_RISE_K = 0.75, 50.0
"""Rooms take this share of rated heat from coolant so much warmer than they. Judgement, no source."""
ROOM_K, COLD_WATER_K = 293.15, 283.15
SWITCHES_BELOW_K = 3.0
"""Mean coolant below the thermostat's mark while the burner runs up to it. Judgement, no source."""
HOT_WATER_NTU = 1.7
"""Transfer units of a hot-water exchanger in order. Judgement, no source."""
PEAK_PER_RISE = 0.45
"""Local peak in the jacket above the sensed temperature, for each kelvin of rise. Judgement, no source."""
LEAST_FLOW = 0.03
"""Of the flow in order, moved by warmth alone when the pump stands. Judgement, no source."""
MOST_RISE_K = 150.0
ROOMS_LOSE = 0.5
"""Of the heat that leaks to the engine, what the rooms go without. Judgement, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stream:
    """The coolant's flow and what the rooms take through it, before any heat is known; each (n,)."""

    flow_m3_s: Array
    flow_ratio: Array  # over the flow in order
    rooms_w_k: Array
    rooms_share: Array  # over healthy rooms
    leaked_share: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """Each (n,)."""

    rise_k: Array
    supply_k: Array
    return_k: Array
    peak_k: Array
    warm_up_k_s: Array
    warm_up_s: Array
    tap_k: Array
    emitted_share: Array  # of what healthy rooms would take


def stream(
    *,
    rated_heat_w: float,
    flow: Array,
    air_share: Array,
    low_share: Array,
    pump_open: Array,
    emitter: Array,
    zone_shut: Array,
    leaked_share: Array,
) -> Stream:
    """What moves. Air and lack of coolant take flow; what a bubble or a low level costs is judgement.

    Basis: energy_balance (the flow in order).
    """
    rated_flow_m3_s = rated_heat_w / (HALF_J_M3_K * RATED_RISE_K)
    full = np.maximum(1.0 - 1.3 * low_share, 0.0)
    moved = np.maximum((1.0 - pump_open) * (1.0 - 0.95 * air_share) * full * full, LEAST_FLOW)
    ratio = flow * moved
    rooms = emitter * (1.0 - zone_shut) * np.minimum(ratio, 1.0) ** 0.3
    return Stream(
        flow_m3_s=rated_flow_m3_s * ratio,
        flow_ratio=ratio,
        rooms_w_k=EMITTER_SHARE * rated_heat_w / EMITTER_RISE_K * rooms,
        rooms_share=rooms,
        leaked_share=leaked_share,
    )


def mean_coolant_k(
    coolant: Stream,
    *,
    cold_heat_w: Array,
    cold_k: float,
    fading_w_k: Array,
    thermostat_k: Array,
    start_k: float,
) -> Array:
    """Mean coolant temperature of a steady burner: where rooms and heater agree, or its thermostat.

    The heater gives `cold_heat_w` to coolant of `cold_k` and `fading_w_k` less for each kelvin above it.
    Basis: energy_balance.
    """
    kept = 1.0 - ROOMS_LOSE * coolant.leaked_share
    balance = (kept * (cold_heat_w + fading_w_k * cold_k) + coolant.rooms_w_k * ROOM_K) / (
        kept * fading_w_k + np.maximum(coolant.rooms_w_k, 1e-3)
    )
    return np.maximum(np.minimum(balance, thermostat_k - SWITCHES_BELOW_K), start_k)


def circuit(
    coolant: Stream,
    *,
    heat_w: Array,
    mean_k: Array,
    volume_m3: float,
    coolant_j_m3_k: float,
    start_k: float,
    thermostat_k: Array,
    low_share: Array,
    hot_water: Array,
    load_w: float,
) -> Circuit:
    """Temperatures of the coolant with this heat in it. Basis: energy_balance, heat_exchanger."""
    rise = np.minimum(heat_w / (coolant_j_m3_k * coolant.flow_m3_s), MOST_RISE_K)
    capacity = coolant_j_m3_k * volume_m3 * (1.0 + METAL_SHARE) * np.maximum(1.0 - 0.6 * low_share, 0.2)
    slope = np.maximum(heat_w * (1.0 - coolant.leaked_share) - load_w, 0.0) / capacity
    # With little flow the volume is not mixed: the heater warms its own water and stops.
    ratio = np.minimum(coolant.flow_ratio, 1.0)
    mixed = np.sqrt(np.sqrt(ratio))
    supply = np.minimum(mean_k + 0.5 * rise, thermostat_k + 0.2 * rise)
    exchanged = 1.0 - np.exp(-HOT_WATER_NTU * hot_water * ratio**0.4)
    to_go = np.maximum(thermostat_k - start_k, 0.0)
    return Circuit(
        rise_k=rise,
        supply_k=supply,
        return_k=np.maximum(supply - rise, start_k),
        # When the rooms have had enough, it is the thermostat that ends the run.
        peak_k=thermostat_k + PEAK_PER_RISE * rise,
        warm_up_k_s=slope * mixed,
        warm_up_s=np.minimum(np.maximum(to_go * mixed / np.maximum(slope, 1e-3), 60.0), 7200.0),
        tap_k=COLD_WATER_K + exchanged * (supply - COLD_WATER_K),
        emitted_share=np.minimum(coolant.rooms_share, 1.5)
        * np.minimum(np.maximum((mean_k - ROOM_K) / 45.0, 0.0), 1.2),
    )
