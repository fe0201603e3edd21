"""How hot a glowing igniter gets on its power, and how long it takes."""

from __future__ import annotations

import numpy as np

from lightoff.physics.uncertain import Array, Real, plain

STEFAN_BOLTZMANN_W_M2_K4 = 5.670374419e-8
"""Basis: bipm_si_2019 (follows from its defining constants)."""
RADIANT_LOSS_FRACTION = 0.8
"""Part of a glowing igniter's loss at its steady temperature that is radiated, the rest taken by the air.
Basis: common practice, no source; 0.75 to 0.83 for 60 to 110 W from 4 cm2 at an emissivity of 0.9 and
40 W/m2 K, less in a strong draught."""

_NEWTON_STEPS = 4  # within 0.00002 K, from 0 to 3000 K and far beyond
# Gauss and Legendre's two points on 0 to 1, of equal weight: within 0.01 % here.
_GAUSS = (0.5 - 12.0**-0.5, 0.5 + 12.0**-0.5)


def steady_temperature_k(
    *, power_w: Real, area_m2: Real, emissivity: Real, film_w_m2_k: Real, surroundings_k: Real
) -> Real:
    """Temperature at which an igniter loses what it gets, by radiation and to the air.

        power = area {emissivity sigma (T^4 - Ta^4) + film (T - Ta)}

    Parameters: floats or arrays, zero and above; area and at least one of `emissivity` and `film_w_m2_k`
    above zero. Without power it is that of the surroundings. The power is that at the hot resistance.
    Valid for: one even temperature over the glowing part; none of the heat goes down the leads.
    Basis: radiation_balance.
    """
    around = np.asarray(surroundings_k, dtype=np.float64)
    radiant = np.asarray(emissivity, dtype=np.float64) * STEFAN_BOLTZMANN_W_M2_K4
    film = np.asarray(film_w_m2_k, dtype=np.float64)
    flux = np.asarray(power_w, dtype=np.float64) / area_m2
    squared = around * around
    total = flux + radiant * squared * squared + film * around
    # Either loss alone needs a hotter igniter; from the hot side Newton's steps run down to the root and
    # never past it, since the loss curves upwards.
    with np.errstate(divide="ignore", invalid="ignore"):
        by_radiation = np.sqrt(np.sqrt(flux / radiant + squared * squared))
        by_air = around + flux / (film + 4.0 * radiant * squared * around)
    t = np.fmin(by_radiation, by_air)
    for _ in range(_NEWTON_STEPS):
        cube = radiant * t * t * t
        t = (3.0 * cube * t + total) / (4.0 * cube + film)
    return plain(t)


def heating_time_s(
    *,
    steady_temperature_k: Real,
    target_temperature_k: Real,
    surroundings_k: Real,
    power_w: Real,
    heat_capacity_j_k: Real,
) -> Real:
    """Time from cold until an igniter reaches a temperature; infinity where it never does.

    The heat left for warming is the power less a loss that grows to the whole power at the steady
    temperature, `RADIANT_LOSS_FRACTION` of it by radiation.
    Parameters: floats or arrays; constant `power_w`, zero and above. Returns 0 where the surroundings are
    as hot as the target already. Where the radiated part is really from 0.55 to 1, the time is off by up
    to 15 % for targets below 97 % of the rise (seen against the full balance, `tests/physics`).
    Valid for: one even temperature and constant power; a real igniter draws more, or less, while cold.
    Basis: radiation_balance (lumped heat capacity).
    """
    around = np.asarray(surroundings_k, dtype=np.float64)
    target = np.asarray(target_temperature_k, dtype=np.float64)
    warm = target <= around
    never = ~warm & ~(target < steady_temperature_k)
    unreal = warm | never  # worked out with a stand-in, then overwritten
    steady = np.where(unreal, np.maximum(target, around) + 1.0, steady_temperature_k)
    with np.errstate(divide="ignore"):
        pace_s_k = np.asarray(heat_capacity_j_k, np.float64) / power_w
    rise = _rise_integral_k(around, np.maximum(target, around), steady)
    time = pace_s_k * np.where(warm, 1.0, rise)
    return plain(np.where(warm, 0.0, np.where(never, np.inf, time)))


def _rise_integral_k(start: Array, end: Array, steady: Array) -> Array:
    """Integral of dT / (1 - loss share) from start to end, the end below the steady temperature.

    1 - loss share = (Ts - T) g(T) with a smooth g; what 1/g(Ts) makes of it is a logarithm, and the rest
    is smooth enough for two points.
    """
    square = steady * steady
    origin = start * start
    fourth = RADIANT_LOSS_FRACTION / (square * square - origin * origin)
    first = (1.0 - RADIANT_LOSS_FRACTION) / (steady - start)
    at_steady = fourth * 4.0 * steady * square + first
    span = end - start
    rest = np.zeros(())
    for place in _GAUSS:
        t = start + place * span
        g = fourth * (steady + t) * (square + t * t) + first
        # (g(Ts) - g(T)) / (Ts - T) = fourth (3 Ts^2 + 2 Ts T + T^2)
        rest = rest + 0.5 * (3.0 * square + (2.0 * steady + t) * t) / g
    return np.asarray(
        (np.log((steady - start) / (steady - end)) + fourth * span * rest) / at_steady, dtype=np.float64
    )
