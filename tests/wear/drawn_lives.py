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
    pace: float | None = None,
) -> list[Life]:
    """`count` lives as a shop sees them, from a Weibull truth.

    Shares `late` were met at some age, and so had outlived it; shares `inspected` are looked at only every
    quarter of `pace`; each is watched for up to `watch` times `pace`, which is the life unless it is given.
    """
    draw = np.random.default_rng(seed)
    pace = life if pace is None else pace
    seen: list[Life] = []
    for _ in range(count):
        entered = pace * draw.uniform(0.0, 0.8) if draw.random() < late else 0.0
        # Of those that reached the age of entry.
        died = life * ((entered / life) ** shape + draw.exponential()) ** (1.0 / shape)
        until = entered + pace * watch * draw.uniform(0.2, 1.0)
        if died > until:
            seen.append(Life.good_at(until, clock=HOURS, entered=entered))
        elif draw.random() < inspected:
            step = 0.25 * pace
            last = entered + step * np.floor((died - entered) / step)
            seen.append(Life.failed_between(last, last + step, clock=HOURS, entered=entered))
        else:
            seen.append(Life.failed_at(died, clock=HOURS, entered=entered))
    return seen
