"""Which clock wears a part: hours, starts or months, or two of them together."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from statistics import NormalDist

import numpy as np

from lightoff.ground.errors import Refusal
from lightoff.ground.estimate import Estimate
from lightoff.ground.message import Message, message
from lightoff.ground.values import dataclass
from lightoff.wear.crossing import crossing
from lightoff.wear.fitting import COVERAGE, LifeFit, fit_lives
from lightoff.wear.laws import Law
from lightoff.wear.lives import Clock, Life

CLEAR_LEAD = 2.0
"""Lead in log-likelihood (a likelihood of 7 to 1) from which one clock is told to fit better.
Basis: common practice, no source (8 to 1 is often called fairly strong)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BestClock:
    """The clock that fits best, and its lead in log-likelihood over the next."""

    best: Clock
    lead: float

    @property
    def is_clear(self) -> bool:
        """Whether the best leads the next by enough to be called the better."""
        return self.lead >= CLEAR_LEAD

    def says(self) -> tuple[Message, ...]:
        """Which clock to count by, in a sentence."""
        key = "wear.clock_clear" if self.is_clear else "wear.clock_unclear"
        return (message(key, clock=f"@wear_clock_name.{self.best.value}"),)


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockComparison:
    """The clocks by likelihood, best first, all in units of the first clock given, so that they compare."""

    fits: Mapping[Clock, LifeFit]
    log_likelihoods: Mapping[Clock, float]
    chosen: BestClock


def compare_clocks(lives: Mapping[Clock, Sequence[Life]], *, law: Law = Law.WEIBULL) -> ClockComparison:
    """Which clock the failures follow best.

    Parameters: `lives` the same pieces in the same order on each clock. The density of a failure per start
    is turned into one per hour along the piece's own path, at its mean pace (the Jacobian: starts over
    hours), without which the clock with the longer unit would always look better.
    Raises: Refusal where the clocks do not hold the same pieces; Declined as `fit_lives`.
    Basis: duchesne_2000 (time scales compared by likelihood along the path of use).
    """
    reference, *_ = lives
    for clock, each in lives.items():
        _same_pieces(lives[reference], each, clock)
    fits = {clock: fit_lives(each, law=law) for clock, each in lives.items()}
    ranked = {
        clock: fits[clock].log_likelihood + _jacobian(lives[reference], lives[clock]) for clock in lives
    }
    order = sorted(ranked, key=lambda each: -ranked[each])
    lead = ranked[order[0]] - ranked[order[1]] if len(order) > 1 else math.inf
    return ClockComparison(
        fits={each: fits[each] for each in order},
        log_likelihoods={each: ranked[each] for each in order},
        chosen=BestClock(best=order[0], lead=lead),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoClocks:
    """One start counts as `per_unit` hours (of the first clock's unit for one of the second's)."""

    per_unit: Estimate
    fit: LifeFit
    log_likelihood: float


def weigh_two_clocks(
    first: Sequence[Life], second: Sequence[Life], *, law: Law = Law.WEIBULL, coverage: float = COVERAGE
) -> TwoClocks:
    """How much of the first clock one unit of the second is worth: age = first + per_unit x second.

    Parameters: the same pieces in the same order. The interval is that of the profile likelihood; its low
    end is nought where the second clock may not matter, its high end infinite where the first may not.
    Raises: Refusal where the pieces differ; Declined as `fit_lives`, at every weight.
    Basis: duchesne_2000 (linear combination of two time scales).
    """
    _same_pieces(first, second, second[0].clock)
    pace = sum(each.left for each in first) / max(sum(each.left for each in second), 1e-12)

    def profile(log_weight: float) -> float:
        joined = _joined(first, second, math.exp(log_weight))
        return fit_lives(joined, law=law).log_likelihood + _jacobian(first, joined)

    net = math.log(pace) + np.linspace(-6.0, 6.0, 25)
    heights = [profile(float(each)) for each in net]
    at = int(np.argmax(heights))
    best = _golden(profile, float(net[max(at - 1, 0)]), float(net[min(at + 1, net.size - 1)]))
    highest = profile(best)
    # As far as the log-likelihood may fall within an interval: half the chi-square quantile of one number.
    fall = 0.5 * NormalDist().inv_cdf(0.5 + 0.5 * coverage) ** 2

    def above(log_weight: float) -> float:
        return profile(log_weight) - highest + fall

    low = crossing(above, start=best, step=-0.1, reach=8.0)
    high = crossing(above, start=best, step=0.1, reach=8.0)
    weight = math.exp(best)
    return TwoClocks(
        per_unit=Estimate(
            value=weight,
            low=0.0 if low is None else math.exp(low),
            high=math.inf if high is None else math.exp(high),
            coverage=coverage,
        ),
        fit=fit_lives(_joined(first, second, weight), law=law),
        log_likelihood=highest,
    )


def _joined(first: Sequence[Life], second: Sequence[Life], weight: float) -> list[Life]:
    return [
        replace(
            one,
            left=one.left + weight * other.left,
            right=None if one.right is None or other.right is None else one.right + weight * other.right,
            entered=one.entered + weight * other.entered,
        )
        for one, other in zip(first, second, strict=True)
    ]


def _jacobian(reference: Sequence[Life], other: Sequence[Life]) -> float:
    return sum(
        one.count * math.log(two.left / one.left)
        for one, two in zip(reference, other, strict=True)
        if one.is_exact
    )


def _same_pieces(one: Sequence[Life], other: Sequence[Life], clock: Clock) -> None:
    alike = len(one) == len(other) and all(
        (a.failed, a.is_exact, a.piece, a.count) == (b.failed, b.is_exact, b.piece, b.count)
        for a, b in zip(one, other, strict=True)
    )
    if not alike:
        raise Refusal(message("wear.pieces_differ", clock=f"@wear_clock_name.{clock.value}"))


def _golden(height: Callable[[float], float], low: float, high: float) -> float:
    """Where a function of one number is largest between two ends, to 1e-4."""
    ratio = 0.5 * (math.sqrt(5.0) - 1.0)
    left, right = high - ratio * (high - low), low + ratio * (high - low)
    at_left, at_right = height(left), height(right)
    while high - low > 1e-4:
        if at_left > at_right:
            high, right, at_right = right, left, at_left
            left = high - ratio * (high - low)
            at_left = height(left)
        else:
            low, left, at_left = left, right, at_right
            right = low + ratio * (high - low)
            at_right = height(right)
    return 0.5 * (low + high)
