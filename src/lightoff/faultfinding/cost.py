"""What it costs to get a heater mended, in minutes of a technician's time.

Repairs are done by falling chance over cost until handing over to the maker's service is cheaper. For one
fault, independent repairs and a check after each this order is exact (Kadane and Simon 1977; Kalagnanam and
Henrion 1988); with two faults or shared openings it is a good rule and no more, hence the look-ahead of
`ranking`. Basis: heckerman_1995.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from lightoff.physics.uncertain import Array
from lightoff.terms.shelf import Fault

OPENING_MINUTES: Mapping[str, float] = {
    "": 0.0,
    "electric": 2.0,
    "exhaust": 6.0,
    "fuel": 8.0,
    "coolant": 12.0,
}
"""What an opened path owes on closing: leak, CO or bleeding check. Judgement, no source."""
CONFIRM_MINUTES = 4.0
"""A start to see whether it runs well. Judgement, no source."""
HAND_OVER_MINUTES = 300.0
"""Handing the heater to the maker's service, as a technician's own time. Judgement; a shop's to set."""
SOUND_MINUTES = 5.0
"""Showing the owner that nothing is wrong. Judgement, no source."""


def repair_minutes(fault: Fault, opened: frozenset[str] = frozenset()) -> float:
    """One repair with its parts, what it opens (once in a visit) and the start that confirms it."""
    opening = 0.0 if fault.opens in opened else OPENING_MINUTES[fault.opens]
    return fault.minutes + fault.parts_minutes + opening + CONFIRM_MINUTES


def expected_cost(chances: Array, costs: Array, hand_over: float) -> tuple[Array, Array]:
    """Expected minutes of mending by falling chance over cost, and which action comes first.

    Parameters: `chances` (n, actions), each row adding up to at most one, the rest is beyond all actions;
    `costs` (actions,) above zero; `hand_over` always ends it. Returns (n,) minutes and (n,) the first action,
    -1 for handing over at once. Basis: heckerman_1995 (call service ends the plan).
    """
    order = np.argsort(-chances / costs, axis=1, kind="stable")
    sorted_chances = np.take_along_axis(chances, order, axis=1)
    sorted_costs = costs[order]
    before = 1.0 - np.cumsum(sorted_chances, axis=1) + sorted_chances
    left = np.maximum(np.concatenate([before, before[:, -1:] - sorted_chances[:, -1:]], axis=1), 0.0)
    spent = np.concatenate(
        [np.zeros((len(chances), 1)), np.cumsum(sorted_costs * left[:, :-1], axis=1)], axis=1
    )
    stopping = spent + left * hand_over
    stop = np.argmin(stopping, axis=1)
    rows = np.arange(len(chances))
    return stopping[rows, stop], np.where(stop > 0, order[:, 0], -1)


def costs_of(faults: Mapping[str, Fault], keys: Sequence[str], opened: frozenset[str]) -> Array:
    """Minutes of each repair, then of showing that nothing is wrong, (faults + 1,)."""
    return np.array([*(repair_minutes(faults[key], opened) for key in keys), SOUND_MINUTES])


def repair_key(fault: Fault) -> str:
    """What is done to mend it: faults that share it are mended together.

    A part that can be swapped mends by its renewal everything that it can have.
    """
    return f"renew {fault.part}" if fault.swap and fault.part else fault.key
