"""How many of a part may be asked for: chances of 0, 1, 2 ... pieces, and what a stock makes of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from lightoff.ground.errors import Refusal
from lightoff.ground.message import message
from lightoff.physics.uncertain import Array

_TAIL = 1e-13
_MOST = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """Chances that 0, 1, 2 ... pieces are asked for, shape (counts,); they sum to one."""

    chances: Array = field(compare=False)

    @property
    def mean(self) -> float:
        """Pieces asked for on average."""
        return float(self.chances @ np.arange(self.chances.size))

    def met(self, stock: int) -> float:
        """Chance that the stock is enough."""
        return float(self.chances[: stock + 1].sum())

    def filled(self, stock: int) -> float:
        """Share of requests met from the shelf, where each piece used is ordered again: P(X <= stock - 1).

        Basis: sherbrooke_2004 (fill rate of a base stock).
        """
        return float(self.chances[:stock].sum())

    def shortage(self, stock: int) -> float:
        """Pieces short on average. Basis: sherbrooke_2004 (expected backorders)."""
        counts = np.arange(self.chances.size)
        return float(self.chances @ np.maximum(counts - stock, 0))


def poisson_demand(mean: float) -> Demand:
    """Requests that come about evenly, so many on average. Raises Refusal below nought."""
    _check(mean)
    chances = [math.exp(-mean)]
    if chances[0] == 0.0:  # too many for the sum from nought: from the middle outwards
        counts = np.arange(int(mean + 12.0 * math.sqrt(mean)) + 30)
        logs = counts * math.log(mean) - mean - np.array([math.lgamma(each + 1.0) for each in counts])
        return Demand(chances=np.exp(logs))
    while (sum(chances) < 1.0 - _TAIL or len(chances) <= mean) and len(chances) < _MOST:
        chances.append(chances[-1] * mean / len(chances))
    return Demand(chances=np.array(chances))


def demand_of(chances: Sequence[float]) -> Demand:
    """Requests of several places, each for one piece with its own chance, independently.

    The places are tomorrow's visits, or fitted pieces with their chances not to last the season.
    Raises: Refusal for a chance outside of 0 to 1.
    """
    total = np.ones(1)
    for each in chances:
        if not 0.0 <= each <= 1.0:
            raise Refusal(message("wear.chance_not_possible"), field="chances")
        total = np.convolve(total, [1.0 - each, each])
    return Demand(chances=total)


def season_demand(
    *,
    request_count: int,
    exposure: float,
    coming: float,
    prior_count: float = 0.5,
    prior_exposure: float = 0.0,
) -> Demand:
    """Requests in a coming time at a rate that is known only from a count: wider than Poisson.

    Parameters: `request_count` requests in `exposure` (heater seasons, kilohours), `coming` in the same unit;
    the prior counts like `prior_count` requests in `prior_exposure` (0.5 in none: nearly no opinion).
    Raises: Refusal for numbers below nought, or no exposure at all.
    Basis: gelman_2013 (Poisson counts with a gamma prior: the prediction is negative binomial).
    """
    for each in (request_count, exposure, coming, prior_count, prior_exposure):
        _check(each)
    shape, rate = prior_count + request_count, prior_exposure + exposure
    if rate <= 0.0 or shape <= 0.0:
        raise Refusal(message("wear.no_exposure"), field="exposure")
    share = coming / (rate + coming)
    chances = [(1.0 - share) ** shape]
    while sum(chances) < 1.0 - _TAIL and len(chances) < _MOST:
        at = len(chances)
        chances.append(chances[-1] * share * (shape + at - 1.0) / at)
    return Demand(chances=np.array(chances))


def stock_to_hold(demand: Demand, *, left_over_cost: float, short_cost: float) -> int:
    """The stock that costs least on average, where a piece left over and a piece short cost so much each.

    The least stock that is enough with the chance short / (short + left over).
    Raises: Refusal for costs that are not above nought.
    Basis: sherbrooke_2004 (critical ratio, the newsvendor's rule).
    """
    if not (0.0 < left_over_cost < math.inf and 0.0 < short_cost < math.inf):
        raise Refusal(message("wear.cost_not_possible"), field="costs")
    wanted = short_cost / (short_cost + left_over_cost)
    reached = np.cumsum(demand.chances)
    return min(int(np.searchsorted(reached, wanted - 1e-12)), demand.chances.size - 1)


def _check(number: float) -> None:
    if not (math.isfinite(number) and number >= 0.0):
        raise Refusal(message("wear.demand_not_possible"), field="demand")
