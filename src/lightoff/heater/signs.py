"""What can be seen, heard and smelled of a heater in a given state, as chances.

Scores are read as a soft choice: the state whose score leads is the likely one. They are judgement, no
source; two observations in a hundred are taken as mistaken, so that no single look can exclude a fault.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from lightoff.ground.values import dataclass
from lightoff.physics.uncertain import Array

MISTAKEN = 0.02
_SHARP, _FURTHEST = 3.0, 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """Indicators from the chain; each (n,)."""

    asked: Array
    tried: Array
    first_try: Array
    second_try: Array
    later_try: Array
    lit: Array
    dies: Array
    delivered: Array
    line_bubbles: Array  # before the pump
    bubbles: Array  # at the nozzle
    smoke_number: Array
    air_ratio: Array
    drop_size_ratio: Array
    lopsided: Array
    drip: Array
    weep: Array
    solvent: Array
    jacket_leak: Array  # coolant into the chamber
    fan_runs: Array
    fan_friction: Array
    inlet_restriction: Array
    compressor_runs: Array
    intake_restriction: Array
    compressor_wear: Array
    after_run_runs: Array
    window_soot: Array
    tube_soot_m: Array
    tube_crack: Array
    coolant_low: Array
    emitted_share: Array
    zone_shut: Array
    tap_k: Array
    exhaust_leak: Array


def write_signs(s: Seen, into: Mapping[str, Array]) -> None:
    """Chance of each state of STATES by reading, (states, n), in the order of the catalogue's states."""
    lit, dark = s.lit, 1.0 - s.lit
    running = lit * (1.0 - s.dies)
    died = lit * s.dies
    unlit = s.tried - lit
    wet = unlit * s.delivered
    rich = _within((1.12 - s.air_ratio) / 0.15, 0.0, 2.0)
    lean = np.maximum(s.air_ratio - 1.9, 0.0)
    coarse = _within((s.drop_size_ratio - 1.15) / 0.35, 0.0, 2.5)
    pulse = np.minimum(s.bubbles / 0.12, 2.5)
    smoke = s.smoke_number
    leaving = np.minimum(s.drip + s.weep, 1.0)
    raw = lit * np.minimum(0.5 * coarse + s.drip + s.weep + 0.5 * s.solvent, 2.0) + 1.8 * wet
    choked = np.log(np.maximum(s.inlet_restriction, 1.0))
    rough = np.log(np.maximum(s.fan_friction, 1.0))
    # Without a flame nothing gets warm, whatever the circuit could do.
    arrives = s.emitted_share * running
    warm_k = _within((s.tap_k - 283.15) * running, 0.0, 80.0)

    def tell(key: str, *chances: Array | float) -> None:
        _tell(chances, into[key])

    tell("light_off", s.first_try, s.second_try, s.later_try, dark)
    tell("stop_step", running, 1.0 - s.asked, s.asked - s.tried, unlit, died, 0.01)
    tell("igniter_lamp", s.asked, 1.0 - s.asked, 0.02)
    tell("flame_lamp", lit - 0.8 * died, dark, 0.6 * died, 0.02)
    flame = _choice(1.2, pulse, 1.6 * s.lopsided + 0.3 * coarse, 0.9 * rich + 0.25 * smoke)
    tell("flame_look", *(flame * lit), dark)
    burning = _choice(
        1.5,
        0.8 * coarse + s.solvent + 1.5 * s.jacket_leak,
        np.minimum(smoke, 4.0) / 2.2,
        np.where(smoke > 2.5, smoke - 2.2, 0.0) / 1.6,
        0.7 * coarse + 0.6 * s.drip,
    )
    none, white, grey, black, blue = burning * lit
    tell(
        "smoke_colour",
        none + dark * (1.0 - 0.9 * wet),
        white + dark * 0.85 * wet,
        grey + dark * 0.02,
        black + dark * 0.01,
        blue + dark * 0.05 * wet,
    )
    tell("exhaust_smell", *_odds(1.3, (rich + 0.3 * smoke) * lit + 0.7 * lean, raw))
    tell(
        "burner_sound",
        *_odds(
            1.3,
            0.6 * coarse + 0.8 * rich,
            1.1 * pulse,
            0.7 * pulse + 0.8 * s.drip,
            0.6 * lean + 0.2 * choked,
        ),
    )
    fan_on = s.fan_runs * s.asked
    fan = _choice(1.3, np.minimum(rough / 0.6, 2.5), 0.5 * choked)
    tell("fan_sound", *(fan * fan_on), 1.0 - fan_on)
    compressor_on = s.compressor_runs * s.tried
    compressor = _choice(
        1.3,
        0.6 * np.log(np.maximum(s.intake_restriction, 1.0)),
        -2.0 * np.log(np.minimum(s.compressor_wear, 1.0)),
    )
    tell("compressor_sound", *(compressor * compressor_on), 1.0 - compressor_on)
    tell("drip_after_stop", 1.0 - leaving, leaving)
    damp = np.minimum(0.85 * wet + 0.6 * leaving + 0.5 * s.solvent + 0.9 * s.jacket_leak, 0.97)
    tell("chamber_look", 1.0 - damp, damp)
    air = s.line_bubbles
    tell("air_bubbles", *_odds(1.0, np.minimum(air / 0.03, 1.6), np.minimum(air / 0.10, 3.0)))
    stops = 1.0 - s.after_run_runs
    tell("after_run", s.after_run_runs, 0.3 * stops, 0.7 * stops)
    tell("window_look", *_odds(1.0, np.log(np.maximum(s.window_soot, 0.3)) / 0.5 + 0.2 * smoke, -1.0))
    tube = 1e3 * s.tube_soot_m
    tell(
        "burn_tube_look",
        *_odds(1.0, 0.3 + np.minimum(tube, 1.0), 1.4 * tube - 0.3, 3.0 * s.tube_crack - 1.0),
    )
    low = s.coolant_low / 0.15
    tell("coolant_level", *_odds(1.0, np.minimum(low, 2.0), low - 0.5 / 0.15))
    tell(
        "zone_heat",
        *_odds(
            1.5 * np.minimum(arrives / 0.5, 1.5),
            2.0 * np.minimum(s.zone_shut / 0.3, 2.0) + 1.5 * _within((0.75 - arrives) / 0.3, -1.0, 1.0),
            3.0 * (1.0 - arrives / 0.35),
        ),
    )
    tell("hot_water", *_odds((warm_k - 30.0) / 6.0, 1.0, (18.0 - warm_k) / 6.0))
    # What an owner would call it.
    well, smokes, weak, cold_tap, noisy, late = running * _choice(
        0.9,
        np.minimum(smoke / 2.0 + 0.5 * raw + s.exhaust_leak, 3.0),
        1.6 * (1.0 - arrives / 0.7),
        1.6 * _within((36.0 - warm_k) / 15.0, -1.0, 1.0),
        np.minimum(rough / 0.75 + 0.5 * s.bubbles / 0.12, 2.0),
        1.5 * (s.second_try + s.later_try),
    )
    kept_back = s.asked - s.tried
    tell(
        "owner_says",
        well,
        (1.0 - s.asked) + 0.4 * kept_back,
        unlit + 0.6 * kept_back,
        died,
        smokes,
        weak,
        cold_tap,
        noisy,
        late,
    )


STATES: Mapping[str, int] = {
    "light_off": 4, "stop_step": 6, "igniter_lamp": 3, "flame_lamp": 4, "flame_look": 5, "smoke_colour": 5,
    "exhaust_smell": 3, "burner_sound": 5, "fan_sound": 4, "compressor_sound": 4, "drip_after_stop": 2,
    "chamber_look": 2, "air_bubbles": 3, "after_run": 3, "window_look": 3, "burn_tube_look": 4,
    "coolant_level": 3, "zone_heat": 3, "hot_water": 3, "owner_says": 9,
}  # fmt: skip
"""Readings whose states the physics predicts, with how many states each has."""


def _within(x: Array, low: float, high: float) -> Array:
    return np.asarray(np.minimum(np.maximum(x, low), high))


def _odds(*scores: Array | float) -> Array:
    """Weights of a soft choice, (states, n)."""
    size = max(np.size(each) for each in scores)
    odds = np.empty((len(scores), size))
    for row, score in zip(odds, scores, strict=True):
        row[:] = score
    np.maximum(odds, -_FURTHEST, out=odds)
    np.minimum(odds, _FURTHEST, out=odds)
    odds *= _SHARP
    np.exp(odds, out=odds)
    return odds


def _choice(*scores: Array | float) -> Array:
    """Chances of a soft choice, (states, n)."""
    odds = _odds(*scores)
    odds /= odds.sum(axis=0)
    return odds


def _tell(chances: Sequence[Array | float], into: Array) -> None:
    """Normalised, with the share of mistaken observations spread over all states."""
    for row, chance in zip(into, chances, strict=True):
        np.maximum(chance, 0.0, out=row)
    into *= (1.0 - MISTAKEN) / np.maximum(into.sum(axis=0), 1e-12)
    into += MISTAKEN / len(into)
