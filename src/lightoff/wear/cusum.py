"""CUSUM: sums of departures that tell a change from chance, with a head start after service."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

import numpy as np

from lightoff.ground.values import dataclass
from lightoff.physics.normal import cumulative
from lightoff.physics.uncertain import Array

SLACK = 0.5
"""Departure let pass each time, in standard deviations: half of the change to be found soon.
Basis: brook_evans_1972 (k = 0.5 for a change of one standard deviation)."""
DECISION = 4.0
"""Sum from which a change is called, in standard deviations. Basis: lucas_crosier_1982 (h = 4, k = 0.5: one
false alarm in 168 readings on two sides)."""
HEAD_START = 0.5
"""Part of the decision at which both sums begin after service, so that work that went wrong shows at once.
Basis: lucas_crosier_1982 (half of h)."""
_NODES = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Cusum:
    """The sums after each reading, in standard deviations: of rises and of falls, each nought and above.

    `alarm_at` is the first reading at which a sum passes the decision, None where none does; `side` which.
    `began_at` is the first reading after that sum last stood at nought, the first of all where a head start
    has not run down. Places count from nought.
    """

    rises: tuple[float, ...]
    falls: tuple[float, ...]
    alarm_at: int | None
    began_at: int | None
    side: Literal["rise", "fall"] | None


def cusum(
    departures: Sequence[float],
    *,
    slack: float = SLACK,
    decision: float = DECISION,
    head_start: float = HEAD_START,
) -> Cusum:
    """Sums of standardised departures (reading less target, over its standard deviation), in order of time.

    rise = max(0, rise + z - slack), fall = max(0, fall - z - slack); a change is called above `decision`.
    `head_start` is a part of the decision, from 0 up to 1: 0 unless the first reading follows service.
    Basis: lucas_crosier_1982 (fast initial response).
    """
    rise = fall = head_start * decision
    rises, falls = [], []
    since = {"rise": 0, "fall": 0}
    alarm_at: int | None = None
    began_at: int | None = None
    side: Literal["rise", "fall"] | None = None
    for at, z in enumerate(departures):
        rise, fall = max(0.0, rise + z - slack), max(0.0, fall - z - slack)
        rises.append(rise)
        falls.append(fall)
        if alarm_at is None and max(rise, fall) > decision:
            alarm_at, side = at, "rise" if rise >= fall else "fall"
            began_at = since[side]
        since = {
            "rise": at + 1 if rise == 0.0 else since["rise"],
            "fall": at + 1 if fall == 0.0 else since["fall"],
        }
    return Cusum(rises=tuple(rises), falls=tuple(falls), alarm_at=alarm_at, began_at=began_at, side=side)


def readings_to_alarm(
    *,
    shift: float,
    slack: float = SLACK,
    decision: float = DECISION,
    head_start: float = 0.0,
    two_sided: bool = True,
) -> float:
    """Mean number of readings until an alarm, where all are off by `shift` standard deviations.

    With no shift it is the mean number between false alarms. `head_start` is a part of the decision.
    Valid for: normal readings, independent of each other; two sides without a head start only.
    Raises: ValueError for a head start on two sides.
    Basis: brook_evans_1972, solved on Gauss and Legendre's nodes.
    """
    if two_sided:
        if head_start:
            raise ValueError("a head start is worked out for one side at a time: set two_sided=False")
        up, down = (_one_side(each, slack, decision, 0.0) for each in (shift, -shift))
        return 1.0 / (1.0 / up + 1.0 / down)
    return _one_side(shift, slack, decision, head_start * decision)


def _one_side(shift: float, slack: float, decision: float, begin: float) -> float:
    nodes, shares = np.polynomial.legendre.leggauss(_NODES)
    place = 0.5 * decision * (nodes + 1.0)
    share = 0.5 * decision * shares
    drift = slack - shift

    def density(step: Array) -> Array:
        return np.asarray(np.exp(-0.5 * (step + drift) ** 2) / math.sqrt(2.0 * math.pi))

    # Unknowns: mean run from each node, and from nought, where a sum rests with a chance of its own.
    matrix = np.eye(_NODES + 1)
    matrix[:-1, :-1] -= share[None, :] * density(place[None, :] - place[:, None])
    matrix[:-1, -1] -= cumulative(drift - place)
    matrix[-1, :-1] -= share * density(place)
    matrix[-1, -1] -= float(cumulative(np.array(drift)))
    run = np.linalg.solve(matrix, np.ones(_NODES + 1))
    reach = share * density(place - begin)
    return float(1.0 + reach @ run[:-1] + float(cumulative(np.array(drift - begin))) * run[-1])
