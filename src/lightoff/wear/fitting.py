"""Best fit of a law to lives, with profile-likelihood intervals."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from statistics import NormalDist

import numpy as np

from lightoff.ground.errors import Declined
from lightoff.ground.estimate import Estimate
from lightoff.ground.message import Message, message
from lightoff.physics.uncertain import Array
from lightoff.wear.climbing import crossing, top
from lightoff.wear.grid import log_likelihood_on_grid
from lightoff.wear.laws import Law, log_likelihood, log_survival, standard_quantile
from lightoff.wear.lives import Clock, Life, LifeTable, tabled, word
from lightoff.wear.saying import whole

COVERAGE = 0.95
_SHAPES = (0.02, 100.0)  # beyond, a fit is no longer one of wear
_REACH = math.log(1e6)
_FLAT = 1e-4  # a peak that falls less than this to a side is none
_FEW = 5
"""Fewer failures than this and the best fit misleads: common practice, no source (five to ten are asked)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LifeFit:
    """The law that makes the lives likeliest. `life` and `shape` are explained in `lightoff.wear.laws`.

    With few failures it leans to the hopeful or the gloomy side by much; decide on the posterior.
    """

    law: Law
    clock: Clock
    life: Estimate
    shape: Estimate
    log_likelihood: float
    failure_count: int
    life_count: int
    table: LifeTable = field(compare=False, repr=False)

    @property
    def akaike(self) -> float:
        """Akaike's measure, the smaller the better: 2 x 2 numbers - 2 log-likelihood. Basis: meeker_1998."""
        return 4.0 - 2.0 * self.log_likelihood

    def survival(self, age: float) -> float:
        """Chance of a new piece to reach this age."""
        z = self.shape.value * (math.log(age / self.life.value) if age > 0.0 else -math.inf)
        return float(np.exp(log_survival(self.law, np.array(z))))

    def chance_to_last(self, age: float, use: float) -> float:
        """Chance of a piece of this age to last a further `use`, at the best fit."""
        so_far = self.survival(age)
        return self.survival(age + use) / so_far if so_far > 0.0 else 0.0

    def age_by_which(self, failed_fraction: float, *, coverage: float = COVERAGE) -> Estimate:
        """The age by which a share has failed, with its profile-likelihood interval.

        Basis: meeker_1998 (likelihood-ratio intervals of quantiles).
        """
        offset = standard_quantile(self.law, failed_fraction)
        return _interval(self.law, self.table, _peak_of(self), offset=offset, coverage=coverage)

    def says(self) -> tuple[Message, ...]:
        """What the fit tells, in sentences."""
        kind = "wears" if self.shape.low > 1.0 else "by_chance" if self.shape.high < 1.0 else "unknown"
        told = [
            message(
                "wear.fit",
                failures=self.failure_count,
                lives=self.life_count,
                life=whole(self.life.value),
                low=whole(self.life.low),
                high=whole(self.life.high),
                clock=word(self.clock),
            ),
            message(f"wear.fit_{kind}"),
        ]
        if self.failure_count < _FEW:
            told.append(message("wear.fit_few", failures=self.failure_count))
        return tuple(told)


def fit_lives(lives: Sequence[Life], *, law: Law = Law.WEIBULL, coverage: float = COVERAGE) -> LifeFit:
    """The law's best fit to lives on one clock, with intervals that hold the truth with `coverage`.

    The intervals come from the profile of the likelihood: lopsided where the doubt is, and infinite where
    the lives do not bound them.
    Parameters: `lives` any number and any mixture of exact, still good, found failed and late entered.
    Raises: Refusal for no lives or mixed clocks; Declined where no failure is known, or where the lives
    have no likeliest law (one failure that outlived all others, for one): ask the posterior then.
    Basis: meeker_1998 (chapter 8, likelihood-based intervals).
    """
    table = tabled(lives)
    peak = _checked_peak(law, table)
    return LifeFit(
        law=law,
        clock=table.clock,
        life=_interval(law, table, peak, offset=0.0, coverage=coverage),
        shape=_shape(law, table, peak, coverage=coverage),
        log_likelihood=peak[1],
        failure_count=table.failure_count,
        life_count=table.life_count,
        table=table,
    )


def best_law(lives: Sequence[Life], *, coverage: float = COVERAGE) -> LifeFit:
    """The better of the two laws by likelihood; both have two numbers, so nothing else is to be weighed."""
    return max(
        (fit_lives(lives, law=law, coverage=coverage) for law in Law), key=lambda each: each.log_likelihood
    )


Peak = tuple[Array, float]


def highest_log_likelihood(lives: Sequence[Life], *, law: Law = Law.WEIBULL) -> float:
    """The log-likelihood of lives at their best fit, without the intervals. Errors as `fit_lives`."""
    return _checked_peak(law, tabled(lives))[1]


def _checked_peak(law: Law, table: LifeTable) -> Peak:
    if table.failure_count == 0:
        raise Declined(message("wear.fit_no_failure", lives=table.life_count))
    peak = _peak(law, table)
    (log_life, log_shape), height = peak
    aside = np.array([[-1.0, 0.0], [1.0, 0.0], [0.0, -1.0], [0.0, 1.0]])
    beside = log_likelihood(
        law, table, log_life=log_life + aside[:, 0], log_shape=log_shape + np.log(1.5) * aside[:, 1]
    )
    within = math.log(_SHAPES[0]) + 0.1 < log_shape < math.log(_SHAPES[1]) - 0.1
    if not within or not np.all(beside < height - _FLAT):
        raise Declined(message("wear.fit_no_maximum", failures=table.failure_count))
    return peak


def _peak_of(fit: LifeFit) -> Peak:
    return np.log([fit.life.value, fit.shape.value]), fit.log_likelihood


def _peak(law: Law, table: LifeTable) -> Peak:
    """The likeliest logarithms of life and shape: the best point of a coarse net, then climbing."""
    ages = np.concatenate([table.left, table.right[np.isfinite(table.right)]])
    ages = np.log(ages[ages > 0.0])
    lives, shapes = np.linspace(ages.min() - 1.0, ages.max() + 5.0, 48), np.log(np.geomspace(0.2, 20.0, 24))
    life, shape = np.meshgrid(lives, shapes)
    net = np.column_stack([life.ravel(), shape.ravel()])

    def value(points: Array) -> Array:
        held = np.clip(points[:, 1], *np.log(_SHAPES))
        return log_likelihood(law, table, log_life=points[:, 0], log_shape=held)

    heights = log_likelihood_on_grid(table, shapes, lives).ravel() if law is Law.WEIBULL else value(net)
    return top(value, net[int(np.argmax(heights))])


def drop(coverage: float) -> float:
    """How far the log-likelihood may fall within an interval: half the chi-square quantile of one number."""
    return 0.5 * NormalDist().inv_cdf(0.5 + 0.5 * coverage) ** 2


def _interval(law: Law, table: LifeTable, peak: Peak, *, offset: float, coverage: float) -> Estimate:
    """Of the age whose standardised logarithm is `offset`: ln age = ln life + offset / shape."""
    (log_life, log_shape), highest = peak
    floor = highest - drop(coverage)

    first = [log_shape]
    begin = list(first)

    def profile(log_age: float) -> float:
        def value(points: Array) -> Array:
            held = np.clip(points[:, 0], *np.log(_SHAPES))
            return log_likelihood(law, table, log_life=log_age - offset * np.exp(-held), log_shape=held)

        starts = np.array([begin, first])
        begin[:], height = top(value, starts[int(np.argmax(value(starts)))])
        return height - floor

    return _both_ends(profile, log_life + offset * math.exp(-log_shape), coverage)


def _shape(law: Law, table: LifeTable, peak: Peak, *, coverage: float) -> Estimate:
    (log_life, log_shape), highest = peak
    floor = highest - drop(coverage)

    first = [log_life]
    begin = list(first)

    def profile(log_held: float) -> float:
        def value(points: Array) -> Array:
            return log_likelihood(law, table, log_life=points[:, 0], log_shape=np.full(len(points), log_held))

        starts = np.array([begin, first])
        begin[:], height = top(value, starts[int(np.argmax(value(starts)))])
        return height - floor

    return _both_ends(profile, log_shape, coverage)


def _both_ends(profile: Callable[[float], float], middle: float, coverage: float) -> Estimate:
    low = crossing(profile, start=middle, step=-0.1, reach=_REACH)
    high = crossing(profile, start=middle, step=0.1, reach=_REACH)
    return Estimate(
        value=math.exp(middle),
        low=0.0 if low is None else math.exp(low),
        high=math.inf if high is None else math.exp(high),
        coverage=coverage,
    )
