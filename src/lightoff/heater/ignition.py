"""The igniter's glow and the chance that a trial lights."""

from __future__ import annotations

import numpy as np

from lightoff.ground.values import dataclass
from lightoff.heater.soft import step
from lightoff.physics.igniter import heating_time_s, steady_temperature_k
from lightoff.physics.uncertain import Array

AREA_PER_WATT_M2 = 4.0e-6
"""Glowing surface for each rated watt, so that rated power glows at some 1,400 K; an invented igniter of
90 W and 4 cm2 at 1,100 degC has 4.5e-6. Judgement, no source."""
EMISSIVITY, FILM_W_M2_K = 0.9, 40.0
"""Judgement, no source."""
HEAT_CAPACITY_PER_WATT_J_K = 0.018
"""So that a rated igniter is hot in some 20 s. Judgement, no source."""
NEEDED_K = 1_130.0
"""Half of the trials light at this surface temperature with a good spray. Prompt starts want 1,200 K and
more; open-surface ignition of diesel is a matter of chance over a wide range. Judgement, no source."""
NEEDED_SPREAD_K = 38.0
SEAT_K = 420.0
"""What an igniter's seat costs, in kelvin of glow for each log unit. Judgement, no source."""
COARSEST_TO_LIGHT, RICHEST_TO_LIGHT, LEANEST_TO_LIGHT, LEAST_FED_TO_LIGHT = 1.85, 0.62, 2.7, 0.35
"""Half of the trials light at this drop size over rated, air ratio, air ratio and share of the fuel, each by
itself. Judgement, no source."""
STANDS_FULL = 0.5
"""Share of the trials that find the line as it was left standing; in the others it is drawn down as in a run,
by the trial that failed before or by their own. Judgement, no source."""
HEATING_SHARE = 0.65
"""Of the usual time to light, the igniter's own; the rest is vapour from drops. Judgement, no source."""
ROOM_K = 293.15
_LONGEST_S = 600.0


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
    standing_air_ratio: Array,
    delivered_share: Array,
    surroundings_k: float,
    usual_delay_s: float,
    delay_law: Array,
) -> Ignition:
    """Chance and delay of light-off. The balance of heat is physics; the chance's shape is judgement.

    `standing_air_ratio` with the line as it was left standing: a siphon's first fuel comes before lift,
    filter and line hold it back, so that behind a blocked filter it may light and then dies.
    Basis: radiation_balance, d_square_law.
    """
    area = AREA_PER_WATT_M2 * rated_w
    glow = _glow_k(power_w, area, surroundings_k)
    # A badly seated igniter glows well and the spray sees less of it.
    seen = glow + SEAT_K * np.log(np.minimum(np.maximum(seat, 0.05), 1.2))
    chance = step((seen - NEEDED_K) / NEEDED_SPREAD_K)
    chance *= step((COARSEST_TO_LIGHT - drop_size_ratio) / 0.12)
    standing, drawn_down = _mixture_lights(standing_air_ratio), _mixture_lights(air_ratio)
    chance *= STANDS_FULL * standing + (1.0 - STANDS_FULL) * drawn_down
    chance *= step((delivered_share - LEAST_FED_TO_LIGHT) / 0.04)
    capacity = HEAT_CAPACITY_PER_WATT_J_K * rated_w
    rated = np.array([rated_w])
    rated_heating = float(_heating_s(_glow_k(rated, area, ROOM_K), rated, capacity, ROOM_K)[0])
    heating = _heating_s(seen, power_w, capacity, surroundings_k) / rated_heating
    vapour = drop_size_ratio * drop_size_ratio
    delay = usual_delay_s * (HEATING_SHARE * heating + (1.0 - HEATING_SHARE) * vapour) * delay_law
    return Ignition(glow_k=glow, chance=chance, delay_s=np.minimum(np.maximum(delay, 1.0), 900.0))


def _mixture_lights(air_ratio: Array) -> Array:
    return step((air_ratio - RICHEST_TO_LIGHT) / 0.05) * step((LEANEST_TO_LIGHT - air_ratio) / 0.12)


def _glow_k(power_w: Array, area_m2: float, surroundings_k: float) -> Array:
    return np.asarray(
        steady_temperature_k(
            power_w=power_w,
            area_m2=area_m2,
            emissivity=EMISSIVITY,
            film_w_m2_k=FILM_W_M2_K,
            surroundings_k=surroundings_k,
        )
    )


def _heating_s(seen_k: Array, power_w: Array, capacity_j_k: float, surroundings_k: float) -> Array:
    """From cold until it lights promptly.

    One too cold for that comes within 4 % of what it reaches, and then waits for vapour, the longer the
    colder it is: judgement, no source.
    """
    prompt = NEEDED_K + 20.0
    target = np.maximum(np.minimum(seen_k * 0.96, prompt), surroundings_k + 1.0)
    time = np.asarray(
        heating_time_s(
            steady_temperature_k=np.maximum(seen_k, target + 1.0),
            target_temperature_k=target,
            surroundings_k=surroundings_k,
            power_w=np.maximum(power_w, 1.0),
            heat_capacity_j_k=capacity_j_k,
        )
    )
    return np.minimum(time * (prompt / target) ** 4, _LONGEST_S)
