"""Fleets of lives drawn from a known truth, by a seeded generator: late entered, found failed, still good."""

import numpy as np

from lightoff.wear.lives import Clock, Life

HOURS = Clock.RUN_HOURS


def fleet(
    seed: int,
    *,
    count: int,
    shape: float,
    life: float,
    late: float = 0.4,
    inspected: float = 0.4,
    watch: float = 1.0,
    every: float = 0.25,
) -> list[Life]:
    """`count` lives that were seen. Shares `late` entered with age and `inspected` are looked at only now and
    then, `every` part of the characteristic life; each is watched up to `watch` characteristic lives."""
    draw = np.random.default_rng(seed)
    seen: list[Life] = []
    while len(seen) < count:
        entered = life * draw.uniform(0.0, 0.8) if draw.random() < late else 0.0
        died = life * draw.weibull(shape)
        if died <= entered:
            continue  # failed before anybody looked: nobody knows of it
        until = entered + life * watch * draw.uniform(0.2, 1.0)
        if died > until:
            seen.append(Life.good_at(until, clock=HOURS, entered=entered))
        elif draw.random() < inspected:
            step = life * every
            last = entered + step * np.floor((died - entered) / step)
            seen.append(Life.failed_between(last, last + step, clock=HOURS, entered=entered))
        else:
            seen.append(Life.failed_at(died, clock=HOURS, entered=entered))
    return seen
