"""A start's course: asked for, voltage held, lit or not within the tries, and whether it keeps burning.

Hazards are chances; the ways in which a flame dies compete, each with its own usual time. All thresholds
are judgement, no source, unless the sheet gives them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lightoff.physics.uncertain import Array

CUT_OUT_SPREAD_V = 0.12  # of a 12 V supply; twice for 24 V
SIGNAL_NEEDED = 0.42
"""Least light at the flame sensor, over that of a healthy flame behind a clean window."""
SIGNAL_SPREAD = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """Chances of one start; each (n,). The tries and "never" add to `tried`."""

    asked: Array  # the control wakes and asks for flame
    tried: Array  # ... and fuel goes on
    first_try: Array
    second_try: Array
    later_try: Array
    never: Array
    dies: Array  # given that it lit
    time_to_death_s: Array
    dies_hot: Array  # share of deaths by the high limit
    lit: Array


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
    signal: Array,
    false_flame: Array,
    peak_over_limit_k: Array,
    line_time_s: float,
    warm_up_s: Array,
) -> Course:
    """The course of a start from its ingredients. `voltage_margin_v` over the cut-out, in the trial."""
    holds = _logistic(voltage_margin_v / (CUT_OUT_SPREAD_V * supply_v / 12.0))
    asked = asked * (1.0 - false_flame)
    tried = asked * holds
    first = tried * chance
    # The second try finds a warm chamber and fuel at the nozzle, the line a little better filled.
    again = _logistic(_logit(chance) + 0.5)
    second = (tried - first) * again if tries > 1 else np.zeros_like(first)
    later = (tried - first - second) * again if tries > 2 else np.zeros_like(first)
    lit = first + second + later
    ways = (
        (unprimed * 0.95, np.full_like(chance, line_time_s)),
        (_logistic((bubbles - 0.33) / 0.05), np.full_like(chance, 0.6 * line_time_s)),
        (_logistic((0.55 - delivered_share) / 0.05) * (1.0 - unprimed), np.full_like(chance, line_time_s)),
        (_logistic((SIGNAL_NEEDED - signal) / SIGNAL_SPREAD), np.full_like(chance, 12.0)),
        (_logistic((0.86 - air_ratio) / 0.03), np.full_like(chance, 25.0)),
        (_logistic((air_ratio - 2.5) / 0.10), np.full_like(chance, 30.0)),
        (_logistic(peak_over_limit_k / 2.0), warm_up_s),
    )
    alive, weight, log_time = np.ones_like(chance), np.full_like(chance, 1e-9), np.full_like(chance, 1e-9)
    for hazard, time in ways:
        alive = alive * (1.0 - hazard)
        weight = weight + hazard
        log_time = log_time + hazard * np.log(time)
    return Course(
        asked=asked,
        tried=tried,
        first_try=first,
        second_try=second,
        later_try=later,
        never=tried - lit,
        dies=1.0 - alive,
        time_to_death_s=np.exp(log_time / weight),
        dies_hot=ways[-1][0] / weight,
        lit=lit,
    )


def _logistic(x: Array) -> Array:
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(x, -60.0, 60.0))))


def _logit(p: Array) -> Array:
    clipped = np.clip(p, 1e-9, 1.0 - 1e-9)
    return np.asarray(np.log(clipped / (1.0 - clipped)))
