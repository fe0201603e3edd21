"""A start's course: asked for, voltage held, lit or not within the tries, and whether it keeps burning.

Hazards are chances; the ways in which a flame dies compete, each with its own usual time. All thresholds
are judgement, no source, unless the sheet gives them.
"""

from __future__ import annotations

import numpy as np

from lightoff.ground.values import dataclass
from lightoff.heater.soft import log_odds, step
from lightoff.physics.uncertain import Array

CUT_OUT_SPREAD_V = 0.12  # of a 12 V supply; twice for 24 V
SIGNAL_NEEDED = 0.42
"""Least light at the flame sensor, over that of a healthy flame behind a clean window."""
SIGNAL_SPREAD = 0.05
WARMER_TRY = 0.5
"""What a further try finds better, in log odds: a warm chamber, fuel at the nozzle."""
UNPRIMED_DIES = 0.95
BUBBLES_KILL, LEAST_DELIVERED, RICHEST, LEANEST = 0.33, 0.55, 0.86, 2.5
"""Half of the flames die at this share of bubbles, share of the fuel, air ratio and air ratio."""
FLAME_NOT_SEEN_S, TOO_RICH_S, BLOWN_OFF_S = 12.0, 25.0, 30.0
"""How long each takes; what is lack of fuel takes as long as the line lasts. Judgement, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """Chances of one start; each (n,). The tries add to `lit`, and with "never" to `tried`."""

    asked: Array  # the control wakes and asks for flame
    tried: Array  # ... and fuel goes on
    first_try: Array
    second_try: Array
    later_try: Array
    lit: Array
    dies: Array  # given that it lit
    time_to_death_s: Array


def course(
    *,
    asked: Array,
    voltage_margin_v: Array,
    supply_v: float,
    chance: Array,
    tries: int,
    delivered_share: Array,
    unprimed: Array,
    bubbles: Array,
    air_ratio: Array,
    full_line_air_ratio: Array,
    signal: Array,
    full_line_signal: Array,
    false_flame: Array,
    peak_over_limit_k: Array,
    line_time_s: float,
    warm_up_s: Array,
) -> Course:
    """The course of a start from its ingredients. `voltage_margin_v` over the cut-out, in the trial.

    `full_line_...` as it is while the line still gives all: a flame that is too lean or too dim even then is
    so by its air, its altitude or its nozzle and goes out at once. Where lift, filter or line make it so, the
    flame burns first what stands between them and the nozzle: bowl, soft hose and the pump's regulator give
    it up by and by. Whether it dies is the same either way. Judgement, no source.
    """
    holds = step(voltage_margin_v / (CUT_OUT_SPREAD_V * supply_v / 12.0))
    asked = asked * (1.0 - false_flame)
    tried = asked * holds
    again = step(log_odds(chance) + WARMER_TRY)
    first = tried * chance
    second = (tried - first) * again if tries > 1 else np.zeros_like(first)
    # The third try and all that follow it, each with the same chance.
    later = (tried - first - second) * (1.0 - (1.0 - again) ** (tries - 2)) if tries > 2 else 0.0 * first
    lean, lean_at_once = (_too_lean(each) for each in (air_ratio, full_line_air_ratio))
    unseen, unseen_at_once = (_not_seen(each) for each in (signal, full_line_signal))
    starved = step((LEAST_DELIVERED - delivered_share) / 0.05) * (1.0 - unprimed)
    ways: tuple[tuple[Array, float | Array], ...] = (
        (unprimed * UNPRIMED_DIES, np.log(line_time_s)),
        (step((bubbles - BUBBLES_KILL) / 0.05), np.log(0.6 * line_time_s)),
        (starved, np.log(line_time_s)),
        (unseen, _log_time(unseen, unseen_at_once, at_once_s=FLAME_NOT_SEEN_S, line_time_s=line_time_s)),
        (step((RICHEST - air_ratio) / 0.03), np.log(TOO_RICH_S)),
        (lean, _log_time(lean, lean_at_once, at_once_s=BLOWN_OFF_S, line_time_s=line_time_s)),
        (step(peak_over_limit_k / 2.0), np.log(warm_up_s)),
    )
    alive, weight, log_time = np.ones_like(chance), np.full_like(chance, 1e-9), np.full_like(chance, 1e-9)
    for hazard, log_s in ways:
        alive *= 1.0 - hazard
        weight += hazard
        log_time += hazard * log_s
    return Course(
        asked=asked,
        tried=tried,
        first_try=first,
        second_try=second,
        later_try=later,
        lit=first + second + later,
        dies=1.0 - alive,
        time_to_death_s=np.exp(log_time / weight),
    )


def _too_lean(air_ratio: Array) -> Array:
    return step((air_ratio - LEANEST) / 0.10)


def _not_seen(signal: Array) -> Array:
    return step((SIGNAL_NEEDED - signal) / SIGNAL_SPREAD)


def _log_time(hazard: Array, at_once: Array, *, at_once_s: float, line_time_s: float) -> Array:
    """Log of the time that a way to die takes: `at_once` of its hazard is there with a full line, the rest
    comes as the line is used up. In proportion, so that it never shortens as fuel gets scarce."""
    for_want_of_fuel = 1.0 - np.minimum(at_once, hazard) / np.maximum(hazard, 1e-12)
    return np.asarray(np.log(at_once_s) + for_want_of_fuel * np.log(line_time_s / at_once_s))
