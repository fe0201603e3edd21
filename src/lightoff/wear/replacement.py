"""When to renew a part that wears, by cost in the long run."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from lightoff.ground.errors import Refusal
from lightoff.ground.message import Message, message
from lightoff.ground.values import dataclass
from lightoff.physics.uncertain import Array
from lightoff.wear.lives import Clock, word
from lightoff.wear.posterior import LifePosterior, Use
from lightoff.wear.saying import whole

MOST_SEASONS = 15
"""How many seasons ahead a renewal is looked for: common practice, no source (a heater's life)."""
_NODES, _FEW_NODES = (np.polynomial.legendre.leggauss(count) for count in (12, 5))
_SHORT = 0.4
"""Over spans shorter than this share of a short life the few nodes give the mean use within two in ten
thousand; a test holds them to the many."""
_GONE = 40.0  # a cumulative hazard of which nobody is left
_LARGEST = 600.0  # exp of more overflows
_WORTH_IT = 0.005  # a saving below this share of the cost of waiting for failures is none


@dataclass(frozen=True, slots=True, kw_only=True)
class AgeReplacement:
    """The age at which renewing costs least in the long run; None where waiting for the failure does."""

    clock: Clock
    age: float | None
    cost_per_unit: float
    cost_of_waiting_per_unit: float

    def says(self) -> tuple[Message, ...]:
        """When to renew, in a sentence."""
        if self.age is None:
            return (message("wear.renew_on_failure"),)
        saving = whole(100.0 * (1.0 - self.cost_per_unit / self.cost_of_waiting_per_unit))
        return (message("wear.renew_at", age=whole(self.age), clock=word(self.clock), saving=saving),)


def age_replacement(lives: LifePosterior, *, planned_cost: float, failure_cost: float) -> AgeReplacement:
    """The age for planned renewal that costs least per unit of the clock in the long run.

        cost(t) = {planned S(t) + failure (1 - S(t))} / integral of S from 0 to t

    Both are means over all lives that are possible. Costs are in one money, above nought.
    Raises: Refusal for a cost that is not above nought.
    Valid for: renewal at any age at the same planned cost, and a piece as good as new each time.
    Basis: barlow_proschan_1965 (age replacement).
    """
    _check(planned_cost, failure_cost)
    middle = lives.life(coverage=0.98)
    edges = np.concatenate([[0.0], np.geomspace(middle.low * 1e-3, middle.high * 100.0, 240)])
    survive, used = _survival_and_use(lives, edges)
    rates = _rate(survive, used, planned_cost, failure_cost)
    waiting = float(rates[-1])
    at = int(np.argmin(rates))
    if at == rates.size - 1 or rates[at] > (1.0 - _WORTH_IT) * waiting:
        return AgeReplacement(
            clock=lives.clock, age=None, cost_per_unit=waiting, cost_of_waiting_per_unit=waiting
        )
    low, high = float(edges[at]), float(edges[min(at + 2, edges.size - 1)])
    begin, used_before = low, float(used[at - 1]) if at else 0.0

    def cost(age: float) -> float:
        reached, more = _survival_and_use(lives, np.array([begin, age]))
        return float(_rate(reached, used_before + more, planned_cost, failure_cost)[-1])

    ratio = 0.5 * (math.sqrt(5.0) - 1.0)
    while high - low > 1e-7 * high:  # golden section
        one, other = high - ratio * (high - low), low + ratio * (high - low)
        low, high = (low, other) if cost(one) < cost(other) else (one, high)
    age = 0.5 * (low + high)
    return AgeReplacement(
        clock=lives.clock, age=age, cost_per_unit=cost(age), cost_of_waiting_per_unit=waiting
    )


def cost_per_season(
    lives: LifePosterior,
    season: Use,
    *,
    planned_cost: float,
    failure_cost: float,
    seasons: int = MOST_SEASONS,
) -> Array:
    """Cost per season in the long run of renewing at the 1st, 2nd, ... visit, shape (seasons,).

    A visit comes after each season, and the part may be renewed at it for `planned_cost`, which is small
    where the housing is open anyway. A part renewed after a failure begins its count anew.
    Raises: Refusal for a cost that is not above nought, or a season of another clock.
    Basis: barlow_proschan_1965 (age replacement, at the ages that visits offer).
    """
    (cost,) = costs_per_season(
        lives, season, planned_cost=planned_cost, failure_costs=(failure_cost,), seasons=seasons
    )
    return cost


def costs_per_season(
    lives: LifePosterior,
    season: Use,
    *,
    planned_cost: float,
    failure_costs: Sequence[float],
    seasons: int = MOST_SEASONS,
) -> tuple[Array, ...]:
    """The same for several costs of a failure at once: what the lives tell is worked out once."""
    for each in failure_costs:
        _check(planned_cost, each)
    lives.check(0.0, season)
    survive, used = _survival_and_use(lives, season.expected * np.arange(seasons + 1.0))
    return tuple(_rate(survive, used, planned_cost, each) * season.expected for each in failure_costs)


def further_use(lives: LifePosterior, ages: Array) -> tuple[Array, Array]:
    """Of each possible life, from the first of `ages` on: chance to have failed by the others, and mean use.

    `ages` of shape (ages,) rise; arrays of shape (points, ages - 1).
    """
    survive, used = _pieces(lives, ages, lives.log_survival(ages[:1]))
    return 1.0 - survive, used


def _check(planned_cost: float, failure_cost: float) -> None:
    if not (0.0 < planned_cost < math.inf and 0.0 < failure_cost < math.inf):
        raise Refusal(message("wear.cost_not_possible"), field="costs")


def _rate(survive: Array, used: Array, planned_cost: float, failure_cost: float) -> Array:
    return (planned_cost * survive + failure_cost * (1.0 - survive)) / used


def _survival_and_use(lives: LifePosterior, edges: Array) -> tuple[Array, Array]:
    """Mean chance to reach each edge but the first from new, and mean use between the first and it."""
    survive, used = _pieces(lives, edges, np.zeros((lives.weights.size, 1)))
    return lives.weights @ survive, lives.weights @ used


def _pieces(lives: LifePosterior, edges: Array, so_far: Array) -> tuple[Array, Array]:
    """Chance to reach each edge but the first, and mean use from the first edge to it.

    `so_far` is the logarithm of the chance that is given already, shape (points, 1). Arrays of shape
    (points, edges - 1), by Gauss and Legendre's nodes between neighbours.
    """
    begin, width = edges[:-1], np.diff(edges)
    survive = np.exp(lives.log_survival(edges[1:]) - so_far)
    # A life far shorter than the span has gone before its first node: the span ends where none is left.
    gone = np.exp(np.minimum(np.log(_GONE - lives.log_survival(begin)) / lives.shapes[:, None], _LARGEST))
    span = np.clip(lives.lives[:, None] * gone - begin, 0.0, width)
    clipped = bool((span < width).any())
    used = np.zeros_like(survive)
    short = float(width.max()) < _SHORT * lives.life().low
    for node, part in zip(*(_FEW_NODES if short else _NODES), strict=True):
        place = 0.5 * (1.0 + node)  # squared, so that nodes crowd where a young part fails
        ages = begin + (span if clipped else width[None, :]) * place**2
        reached = lives.log_survival_at(ages)
        reached -= so_far
        np.exp(reached, out=reached)
        reached *= part * place * span
        used += reached
    return survive, np.cumsum(used, axis=1)
