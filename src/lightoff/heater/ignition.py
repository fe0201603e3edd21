"""The igniter's glow and the chance that a trial lights."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lightoff.physics.igniter import heating_time_s, steady_temperature_k
from lightoff.physics.uncertain import Array

AREA_PER_WATT_M2 = 2.6e-6
"""Glowing surface for each rated watt, so that rated power glows at some 1,400 K. Judgement, no source."""
EMISSIVITY, FILM_W_M2_K = 0.9, 40.0
HEAT_CAPACITY_PER_WATT_J_K = 0.045
"""So that a rated igniter is hot in some 20 s. Judgement, no source."""
NEEDED_K = 1_130.0
"""Half of the trials light at this surface temperature with a good spray. Prompt starts want 1,200 K and
more; open-surface ignition of diesel is a matter of chance over a wide range. Judgement, no source."""
NEEDED_SPREAD_K = 38.0
SEAT_K = 420.0
"""What an igniter's seat costs, in kelvin of glow for each log unit. Judgement, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ignition:
    """Each (n,)."""

    glow_k: Array
    chance: Array  # that one trial lights
    delay_s: Array  # from the start of heating to flame, where it lights


def ignition(
    *,
    rated_w: float,
    power_w: Array,
    seat: Array,
    drop_size_ratio: Array,
    air_ratio: Array,
    delivered_share: Array,
    surroundings_k: Array,
    usual_delay_s: float,
    delay_law: Array,
) -> Ignition:
    """Chance and delay of light-off. The balance of heat is physics; the chance's shape is judgement."""
    area = AREA_PER_WATT_M2 * rated_w
    capacity = HEAT_CAPACITY_PER_WATT_J_K * rated_w
    glow = np.asarray(
        steady_temperature_k(
            power_w=power_w,
            area_m2=area,
            emissivity=EMISSIVITY,
            film_w_m2_k=FILM_W_M2_K,
            surroundings_k=surroundings_k,
        )
    )
    seen = glow + SEAT_K * np.log(np.clip(seat, 0.05, 1.2))
    hot = _logistic((seen - NEEDED_K) / NEEDED_SPREAD_K)
    fine = _logistic((1.85 - drop_size_ratio) / 0.12)
    rich = _logistic((air_ratio - 0.62) / 0.05)
    lean = _logistic((2.7 - air_ratio) / 0.12)
    fed = _logistic((delivered_share - 0.35) / 0.04)
    rated_glow = float(
        np.asarray(
            steady_temperature_k(
                power_w=rated_w,
                area_m2=area,
                emissivity=EMISSIVITY,
                film_w_m2_k=FILM_W_M2_K,
                surroundings_k=293.15,
            )
        )
    )
    heating = _heating_s(seen, power_w, area, capacity, surroundings_k)
    rated_heating = float(
        _heating_s(np.array([rated_glow]), np.array([rated_w]), area, capacity, np.array([293.15]))[0]
    )
    vapour = drop_size_ratio**2
    delay = usual_delay_s * (0.65 * heating / rated_heating + 0.35 * vapour) * delay_law
    return Ignition(glow_k=glow, chance=hot * fine * rich * lean * fed, delay_s=np.clip(delay, 1.0, 900.0))


def _heating_s(
    seen_k: Array, power_w: Array, area_m2: float, capacity_j_k: float, surroundings_k: Array
) -> Array:
    """Until 96 % of what the spray will see, from cold; slower where it is weaker."""
    target = np.minimum(seen_k * 0.96, NEEDED_K + 20.0)
    target = np.minimum(target, 0.985 * seen_k)
    target = np.maximum(target, surroundings_k + 1.0)
    time = np.asarray(
        heating_time_s(
            steady_temperature_k=np.maximum(seen_k, target + 1.0),
            target_temperature_k=target,
            surroundings_k=surroundings_k,
            power_w=np.maximum(power_w, 1.0),
            heat_capacity_j_k=capacity_j_k,
        )
    )
    return np.where(np.isfinite(time), np.minimum(time, 600.0), 600.0)


def _logistic(x: Array) -> Array:
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(x, -60.0, 60.0))))
