"""How many of a part may be asked for: chances of 0, 1, 2 ... pieces, and what a stock makes of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import field

import numpy as np

from lightoff.ground.errors import Refusal
from lightoff.ground.message import message
from lightoff.ground.values import dataclass
from lightoff.physics.uncertain import Array

_MOST = 10_000.0  # pieces or seasons beyond which a shop's numbers are a slip


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
        return float(self.shortages()[min(stock, self.chances.size)])

    def shortages(self) -> Array:
        """Pieces short on average with a stock of 0, 1, 2 ... pieces, (counts + 1,): the last is nought.

        Each further piece saves the chance that more are asked for than were there before it.
        """
        more = np.cumsum(self.chances[::-1])[::-1][1:]  # chance that 1, 2, ... or more are asked for
        return np.concatenate([np.cumsum(more[::-1])[::-1], [0.0, 0.0]])[: self.chances.size + 1]


def poisson_demand(mean: float) -> Demand:
    """Requests that come about evenly, so many on average. Raises Refusal outside of 0 to 10,000."""
    _check(mean)
    counts = _counts(mean, math.sqrt(mean))
    logs = counts * math.log(mean) - mean - _log_factorials(counts, 1.0) if mean else -1e3 * counts
    return Demand(chances=np.exp(logs))


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
    Raises: Refusal for numbers below nought or beyond ten thousand, or no exposure at all.
    Basis: gelman_2013 (Poisson counts with a gamma prior: the prediction is negative binomial).
    """
    for each in (request_count, exposure, coming, prior_count, prior_exposure):
        _check(each)
    shape, rate = prior_count + request_count, prior_exposure + exposure
    if rate <= 0.0 or shape <= 0.0:
        raise Refusal(message("wear.no_exposure"), field="exposure")
    mean = shape * coming / rate
    _check(mean)
    counts = _counts(mean, math.sqrt(mean * (1.0 + coming / rate)))
    share = coming / (rate + coming)
    logs = _log_factorials(counts, shape) - math.lgamma(shape) - _log_factorials(counts, 1.0)
    logs += counts * math.log(share) if share else -1e3 * counts
    return Demand(chances=np.exp(logs + shape * math.log(rate / (rate + coming))))


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
    if not 0.0 <= number <= _MOST:
        raise Refusal(message("wear.demand_not_possible", most=int(_MOST)), field="demand")


def _counts(mean: float, spread: float) -> Array:
    """0, 1, 2 ... as far as there is any chance worth a name."""
    return np.arange(math.ceil(mean + 30.0 * spread) + 40, dtype=np.float64)


def _log_factorials(counts: Array, shape: float) -> Array:
    """ln Gamma(count + shape) of each count."""
    return np.array([math.lgamma(each + shape) for each in counts])
