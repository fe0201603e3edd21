"""What can be seen, heard and smelled of a heater in a given state, as chances.

Scores are read as a soft choice: the state whose score leads is the likely one. They are judgement, no
source; two observations in a hundred are taken as mistaken, so that no single look can exclude a fault.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from lightoff.physics.uncertain import Array

MISTAKEN = 0.02
_SHARP = 3.0


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
    bubbles: Array
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


def signs(s: Seen) -> dict[str, Array]:
    """Chance of each state by reading, (states, n), in the order of the catalogue's states."""
    one = np.ones_like(s.lit)
    dark = one - s.lit
    wet = (s.tried - s.lit) * s.delivered
    rich = np.clip((1.12 - s.air_ratio) / 0.15, 0.0, 2.0)
    coarse = np.clip((s.drop_size_ratio - 1.15) / 0.35, 0.0, 2.5)
    pulse = np.clip(s.bubbles / 0.12, 0.0, 2.5)
    smoke = s.smoke_number
    found: dict[str, Array] = {
        "light_off": _mistaken(np.stack([s.first_try, s.second_try, s.later_try, 1.0 - s.lit])),
        "stop_step": _mistaken(
            np.stack(
                [
                    s.lit * (1.0 - s.dies),
                    1.0 - s.asked,
                    s.asked - s.tried,
                    s.tried - s.lit,
                    s.lit * s.dies,
                    0.01 * one,
                ]
            )
        ),
        "igniter_lamp": _mistaken(np.stack([s.asked, 1.0 - s.asked, 0.02 * one])),
        "flame_lamp": _mistaken(
            np.stack([s.lit * (1.0 - 0.8 * s.dies), dark, 0.6 * s.lit * s.dies, 0.02 * one])
        ),
    }
    flame = _choice(1.2 * one, pulse, 1.6 * s.lopsided + 0.3 * coarse, 0.9 * rich + 0.25 * smoke)
    found["flame_look"] = _mistaken(np.concatenate([flame * s.lit, dark[None]]))
    burning = _choice(
        1.5 * one,
        0.8 * coarse + s.solvent + 1.5 * s.jacket_leak,
        np.minimum(smoke, 4.0) / 2.2,
        np.where(smoke > 2.5, smoke - 2.2, 0.0) / 1.6,
        0.7 * coarse + 0.6 * s.drip,
    )
    unlit = np.stack([1.0 - 0.9 * wet, 0.85 * wet, 0.02 * one, 0.01 * one, 0.05 * wet])
    found["smoke_colour"] = _mistaken(burning * s.lit + unlit * dark)
    raw = s.lit * np.clip(0.5 * coarse + s.drip + s.weep + 0.5 * s.solvent, 0.0, 2.0) + 1.8 * wet
    found["exhaust_smell"] = _mistaken(
        _choice(1.3 * one, (rich + 0.3 * smoke) * s.lit + 0.7 * np.maximum(s.air_ratio - 1.9, 0.0), raw)
    )
    sound = _choice(
        1.3 * one,
        0.6 * coarse + 0.8 * rich,
        1.1 * pulse,
        0.7 * pulse + 0.8 * s.drip,
        0.6 * np.maximum(s.air_ratio - 1.9, 0.0) + 0.2 * np.log(np.maximum(s.inlet_restriction, 1.0)),
    )
    found["burner_sound"] = _mistaken(sound)
    rough = np.clip(np.log(np.maximum(s.fan_friction, 1.0)) / 0.6, 0.0, 2.5)
    surging = 0.5 * np.log(np.maximum(s.inlet_restriction, 1.0))
    fan = _choice(1.3 * one, rough, surging)
    found["fan_sound"] = _mistaken(_or_silent(fan, s.fan_runs * s.asked))
    laboured = 0.6 * np.log(np.maximum(s.intake_restriction, 1.0))
    compressor = _choice(1.3 * one, laboured, 2.0 * np.maximum(-np.log(s.compressor_wear), 0.0))
    found["compressor_sound"] = _mistaken(_or_silent(compressor, s.compressor_runs * s.tried))
    leaving = np.clip(s.drip + s.weep, 0.0, 1.0)
    found["drip_after_stop"] = _mistaken(np.stack([1.0 - leaving, leaving]))
    damp = np.clip(0.85 * wet + 0.6 * leaving + 0.5 * s.solvent + 0.9 * s.jacket_leak, 0.0, 0.97)
    found["chamber_look"] = _mistaken(np.stack([1.0 - damp, damp]))
    found["air_bubbles"] = _mistaken(
        _choice(1.0 * one, np.minimum(s.bubbles / 0.03, 1.6), np.minimum(s.bubbles / 0.10, 3.0))
    )
    runs_on = s.after_run_runs
    found["after_run"] = _mistaken(np.stack([runs_on, 0.3 * (1.0 - runs_on), 0.7 * (1.0 - runs_on)]))
    found["window_look"] = _mistaken(
        _choice(1.0 * one, np.log(np.maximum(s.window_soot, 0.3)) / 0.5 + 0.2 * smoke, -1.0 * one)
    )
    tube = 1e3 * s.tube_soot_m
    looks = _choice(1.0 * one, 0.3 + np.minimum(tube, 1.0), 1.4 * tube - 0.3, 3.0 * s.tube_crack - 1.0)
    found["burn_tube_look"] = _mistaken(looks)
    low = s.coolant_low
    found["coolant_level"] = _mistaken(_choice(1.0 * one, np.minimum(low / 0.15, 2.0), (low - 0.5) / 0.15))
    # Without a flame nothing gets warm, whatever the circuit could do.
    arrives = s.emitted_share * s.lit * (1.0 - s.dies)
    none = 3.0 * (1.0 - arrives / 0.35)
    some = 2.0 * np.clip(s.zone_shut / 0.3, 0.0, 2.0) + 1.5 * np.clip((0.75 - arrives) / 0.3, -1.0, 1.0)
    found["zone_heat"] = _mistaken(_choice(1.5 * np.clip(arrives / 0.5, 0.0, 1.5), some, none))
    warm = np.clip((s.tap_k - 283.15) * s.lit * (1.0 - s.dies), 0.0, 80.0)
    found["hot_water"] = _mistaken(_choice((warm - 30.0) / 6.0, 1.0 * one, (18.0 - warm) / 6.0))
    found["owner_says"] = _mistaken(_complaint(s, raw, arrives, warm))
    return found


def _complaint(s: Seen, raw: Array, arrives: Array, warm: Array) -> Array:
    """What an owner would call it, in the order of the catalogue."""
    one = np.ones_like(s.lit)
    running = s.lit * (1.0 - s.dies)
    dead = (1.0 - s.asked) + 0.4 * (s.asked - s.tried)
    no_flame = (s.tried - s.lit) + 0.6 * (s.asked - s.tried)
    rough = np.clip(np.log(np.maximum(s.fan_friction, 1.0)) / 0.75 + 0.5 * s.bubbles / 0.12, 0.0, 2.0)
    slow = s.second_try + s.later_try
    kinds = _choice(
        0.9 * one,
        np.clip(s.smoke_number / 2.0 + 0.5 * raw + s.exhaust_leak, 0.0, 3.0),
        1.6 * (1.0 - arrives / 0.7),
        1.6 * np.clip((36.0 - warm) / 15.0, -1.0, 1.0),
        rough,
        1.5 * slow,
    )
    return np.concatenate(
        [
            kinds[:1] * running,
            np.stack([dead, no_flame, s.lit * s.dies]),
            kinds[1:] * running,
        ]
    )


STATES: Mapping[str, int] = {
    "light_off": 4, "stop_step": 6, "igniter_lamp": 3, "flame_lamp": 4, "flame_look": 5, "smoke_colour": 5,
    "exhaust_smell": 3, "burner_sound": 5, "fan_sound": 4, "compressor_sound": 4, "drip_after_stop": 2,
    "chamber_look": 2, "air_bubbles": 3, "after_run": 3, "window_look": 3, "burn_tube_look": 4,
    "coolant_level": 3, "zone_heat": 3, "hot_water": 3, "owner_says": 9,
}  # fmt: skip
"""Readings whose states the physics predicts, with how many states each has."""


def _choice(*scores: Array) -> Array:
    weights = _SHARP * np.clip(np.stack(scores), -6.0, 6.0)
    weights -= weights.max(axis=0)
    np.exp(weights, out=weights)
    weights /= weights.sum(axis=0)
    return weights


def _or_silent(states: Array, runs: Array) -> Array:
    return np.concatenate([states * runs, (1.0 - runs)[None]])


def _mistaken(chances: Array) -> Array:
    """Normalised, with the share of mistaken observations spread over all states."""
    clean = np.maximum(chances, 0.0)
    clean *= (1.0 - MISTAKEN) / np.maximum(clean.sum(axis=0), 1e-12)
    clean += MISTAKEN / len(chances)
    return clean
