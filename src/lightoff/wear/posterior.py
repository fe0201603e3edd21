"""Few failures: every life that is still possible, weighed by what is known and a stated prior.

A best fit from few failures picks one life and forgets the others that could as well have given them; the
posterior keeps them all. Decisions are taken on it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import field
from statistics import NormalDist

import numpy as np

from lightoff.ground.errors import Declined, Refusal
from lightoff.ground.estimate import Estimate
from lightoff.ground.message import Message, message
from lightoff.ground.values import dataclass
from lightoff.physics.uncertain import Array
from lightoff.wear.grid import log_likelihood_on_grid
from lightoff.wear.lives import Clock, Life, LifeTable, tabled, word
from lightoff.wear.saying import whole

COVERAGE = 0.90
HEATER_SPREAD = 0.35
"""How far heater types differ in a part's life: standard deviation of its logarithm (half of them within a
quarter of the middle). Basis: common practice, no source: a judgement."""
SURPRISE = 2.0
"""Prior standard deviations from which data and prior disagree. Basis: common practice, no source."""

_SHAPES, _LIVES = 51, 151  # places where the weight is looked for
_FINE_SHAPES, _FINE_LIVES = 33, 121  # over where it is found, a third of a standard deviation apart at most
_PRIOR_WIDTHS = 8.0
_LEAST = math.log(1e-4)  # what is left out weighs less than one in ten thousand together
_USE_POINTS = 9
_PLACES = 241  # of further use, looked at from a ten-thousandth of a life to a hundred lives
_BINS = 4001  # of chances from nought to one
_ABSURD = -1e6  # a log-likelihood that no shop's lives have under any law worth a name


@dataclass(frozen=True, slots=True, kw_only=True)
class LifePrior:
    """What is held of a part type's Weibull life before any of it was seen, wide where it is judgement.

    `life` and `shape` are medians; `life_spread` and `shape_spread` are standard deviations of their
    logarithms (0.7: a factor of 4 either way in 19 of 20). `heater_spread` is the part of `life_spread` that
    sets heater types apart. `basis` says where it comes from.
    Raises: Refusal for what is not above nought, or a `heater_spread` not below `life_spread`.
    """

    clock: Clock
    life: float
    life_spread: float
    shape: float
    shape_spread: float
    heater_spread: float = HEATER_SPREAD
    basis: str

    def __post_init__(self) -> None:
        """Refuses a prior that cannot be."""
        numbers = (self.life, self.life_spread, self.shape, self.shape_spread, self.heater_spread)
        if not all(math.isfinite(each) and each > 0.0 for each in numbers):
            raise Refusal(message("wear.prior_not_possible"))
        if self.heater_spread >= self.life_spread:
            raise Refusal(message("wear.prior_too_narrow"), field="heater_spread")

    def judged_life(self, *, coverage: float = COVERAGE) -> Estimate:
        """The characteristic life as it is judged, before any was seen: its median and interval."""
        factor = math.exp(NormalDist().inv_cdf(0.5 + 0.5 * coverage) * self.life_spread)
        return Estimate(value=self.life, low=self.life / factor, high=self.life * factor, coverage=coverage)


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """What a part will go through: `expected` of its clock, the median, and the spread of its logarithm."""

    clock: Clock
    expected: float
    spread: float = 0.0

    def points(self) -> Array:
        """Equally likely amounts of use, shape (points,)."""
        if self.spread == 0.0:
            return np.array([self.expected])
        places = [NormalDist().inv_cdf((at + 0.5) / _USE_POINTS) for at in range(_USE_POINTS)]
        return np.asarray(self.expected * np.exp(self.spread * np.array(places)))


@dataclass(frozen=True, slots=True, kw_only=True)
class LifePosterior:
    """Possible lives with their weights, which sum to one. Arrays of shape (points,)."""

    clock: Clock
    lives: Array = field(compare=False, repr=False)
    shapes: Array = field(compare=False, repr=False)
    weights: Array = field(compare=False, repr=False)
    failure_count: int
    life_count: int
    other_failure_count: int = 0
    basis: str = ""
    surprise: float = 0.0

    def life(self, *, coverage: float = COVERAGE) -> Estimate:
        """The characteristic life: its median and interval."""
        return _median(self.lives, self.weights, coverage)

    def shape(self, *, coverage: float = COVERAGE) -> Estimate:
        """The shape: its median and interval."""
        return _median(self.shapes, self.weights, coverage)

    def log_survival(self, ages: Array) -> Array:
        """Logarithm of each possible life's chance to reach ages of shape (ages,): shape (points, ages)."""
        return self.log_survival_at(ages[None, :])

    def log_survival_at(self, ages: Array) -> Array:
        """The same, for ages that may differ from one life to the other: of shape (points or 1, ages)."""
        with np.errstate(divide="ignore"):
            z = self.shapes[:, None] * (np.log(ages) - np.log(self.lives)[:, None])
        np.minimum(z, 700.0, out=z)
        np.exp(z, out=z)
        return np.asarray(np.negative(z, out=z))

    def survival(self, ages: Sequence[float], *, coverage: float = COVERAGE) -> tuple[Estimate, ...]:
        """Chance of a new piece to reach each age, with its interval."""
        chances = np.exp(self.log_survival(np.asarray(ages, dtype=np.float64)))
        return tuple(mean_of(column, self.weights, coverage) for column in chances.T)

    def chance_to_last(self, *, age: float | Estimate, use: Use, coverage: float = COVERAGE) -> Estimate:
        """Chance of a piece of this age to last a further use: the mean over all lives that are possible.

        The piece itself belongs among the lives that made the posterior, as still good at `age`: that it
        has come so far is evidence. An `age` that is estimated widens the interval, as an uncertain use does.
        Raises: Refusal where the use is of another clock, or an age or a use cannot be.
        Basis: gelman_2013 (posterior predictive).
        """
        self.check(likeliest(age), use)
        further = use.points()
        chances, weights = [], []
        for each, part in _age_points(age):
            at = self.log_survival(np.concatenate([[each], each + further]))
            chances.append(np.exp(at[:, 1:] - at[:, :1]))
            weights.append(np.repeat(part * self.weights[:, None] / further.size, further.size, axis=1))
        return mean_of(np.concatenate(chances, axis=None), np.concatenate(weights, axis=None), coverage)

    def months_left(self, *, age: float, pace: Use, chances: Sequence[float]) -> tuple[float, ...]:
        """The months that a piece of this age outlasts with each of these chances.

        `pace` is what it goes through in a month, whose spread counts as that of its whole time to come.
        Raises: Refusal where the pace is of another clock, or an age or a pace cannot be.
        Basis: gelman_2013 (posterior predictive).
        """
        self.check(age, pace)
        middle = self.life().value
        use = np.geomspace(middle * 1e-4, middle * 1e2, _PLACES)
        gone = self.log_survival(np.array([age])) if age > 0.0 else 0.0
        lasts = self.weights @ np.exp(self.log_survival(age + use) - gone)
        months = use / pace.expected
        further = np.log(np.outer(months, pace.points()))
        reached = np.interp(further, np.log(use), lasts, left=1.0, right=0.0).mean(axis=1)
        falling = np.minimum.accumulate(reached)
        return tuple(float(each) for each in np.interp(chances, falling[::-1], months[::-1]))

    def check(self, age: float, use: Use) -> None:
        """Raises Refusal where an age or a use cannot be asked of this posterior."""
        if use.clock is not self.clock:
            clocks = (Message(f"wear_clock.{self.clock.value}"), Message(f"wear_clock.{use.clock.value}"))
            raise Refusal(message("wear.clocks_mixed", clocks=clocks), field="use")
        if not (math.isfinite(age) and age >= 0.0):
            raise Refusal(message("wear.age_not_possible", clock=word(self.clock)), field="age")
        if not (math.isfinite(use.expected) and use.expected > 0.0 and 0.0 <= use.spread < math.inf):
            raise Refusal(message("wear.use_not_possible", clock=word(self.clock)), field="use")

    def says(self) -> tuple[Message, ...]:
        """What the lives tell and what they rest on, in sentences."""
        life = self.life()
        told = [
            message(
                "wear.possible_lives",
                life=whole(life.value),
                low=whole(life.low),
                high=whole(life.high),
                clock=word(self.clock),
            )
        ]
        if self.failure_count + self.other_failure_count == 0:
            told.append(message("wear.rests_on_judgement", lives=self.life_count, basis=self.basis))
        elif self.other_failure_count:
            told.append(
                message(
                    "wear.rests_on_others",
                    failures=self.failure_count,
                    lives=self.life_count,
                    others=self.other_failure_count,
                    basis=self.basis,
                )
            )
        else:
            told.append(
                message("wear.rests_on", failures=self.failure_count, lives=self.life_count, basis=self.basis)
            )
        if abs(self.surprise) > SURPRISE:
            told.append(message("wear.surprise_longer" if self.surprise > 0 else "wear.surprise_shorter"))
        return tuple(told)


def likeliest(age: float | Estimate) -> float:
    """An age, or the value of one that is estimated."""
    return age.value if isinstance(age, Estimate) else age


def _age_points(age: float | Estimate) -> tuple[tuple[float, float], ...]:
    """Ages with their weights: three for an estimated one, as a normal law has them, none below nought."""
    if not isinstance(age, Estimate) or age.half_width == 0.0:
        return ((likeliest(age), 1.0),)
    aside = math.sqrt(3.0) / NormalDist().inv_cdf(0.5 + 0.5 * min(age.coverage, 0.9999))
    low = max(age.value - aside * (age.value - age.low), 0.0)
    high = age.value + aside * (age.high - age.value)
    return (low, 1.0 / 6.0), (age.value, 2.0 / 3.0), (high, 1.0 / 6.0)


def known_life(*, clock: Clock, life: float, shape: float) -> LifePosterior:
    """A life without doubt, as a posterior of one point: for worked examples."""
    return LifePosterior(
        clock=clock,
        lives=np.array([life]),
        shapes=np.array([shape]),
        weights=np.ones(1),
        failure_count=0,
        life_count=0,
    )


def possible_lives(
    lives: Sequence[Life] | LifeTable,
    prior: LifePrior,
    *,
    others: Mapping[str, Sequence[Life] | LifeTable] | None = None,
) -> LifePosterior:
    """All Weibull lives that are still possible for a part type in one heater type.

    Parameters: `lives` those of this heater type, none or more, the piece in question among them; `others`
    the lives of the same part type in other heater types, by type; either may come as a table. They share
    the shape; their characteristic lives scatter by `heater_spread` about a common one, which all of them
    teach, so that a heater type with few failures leans on the others and one with many stands by itself.
    Raises: Refusal where clocks are mixed; Declined where no life that the prior allows could have given
    these.
    Basis: gelman_2013 (chapter 5, a hierarchy with a stated spread), worked out on a grid.
    """
    own = _table(lives, prior.clock)
    every = [_table(each, prior.clock) for each in (others or {}).values()]
    rest = [each for each in every if each.life_count]
    log_shape = _axis(math.log(prior.shape), _PRIOR_WIDTHS * prior.shape_spread, _SHAPES)
    log_life = _axis(math.log(prior.life), _PRIOR_WIDTHS * prior.life_spread, _LIVES)
    for _ in range(2):  # find where the shapes lie, then look closer
        before = _own_prior(prior, rest, log_shape, log_life)
        after = before + log_likelihood_on_grid(own, log_shape, log_life)
        if not after.max() > _ABSURD:
            raise Declined(message("wear.prior_contradicted", basis=prior.basis))
        log_shape, held = _focus(log_shape, after.max(axis=1), _FINE_SHAPES), log_shape
    fine = _focus(log_life, after.max(axis=0), _FINE_LIVES)
    log_shape = held
    before = np.array([np.interp(fine, log_life, row) for row in before])
    after = before + log_likelihood_on_grid(own, log_shape, fine)
    after -= after.max()
    shape, life = np.meshgrid(np.exp(log_shape), np.exp(fine), indexing="ij")
    kept = after > _LEAST
    weights = np.exp(after[kept])
    weights /= weights.sum()
    middle = float(np.log(life[kept]) @ weights)
    return LifePosterior(
        clock=prior.clock,
        lives=life[kept],
        shapes=shape[kept],
        weights=weights,
        failure_count=own.failure_count,
        life_count=own.life_count,
        other_failure_count=sum(each.failure_count for each in rest),
        basis=prior.basis,
        surprise=(middle - math.log(prior.life)) / prior.life_spread,
    )


def _table(lives: Sequence[Life] | LifeTable, clock: Clock) -> LifeTable:
    """Lives as columns, which may have been made before."""
    return lives if isinstance(lives, LifeTable) else tabled(lives, clock=clock)


def mean_of(values: Array, weights: Array, coverage: float) -> Estimate:
    """The mean of weighted chances with the interval between their quantiles."""
    held, places = weights, values
    if values.size > _BINS:  # sorting them all would take far longer, and tell no more
        at = (values * (_BINS - 1)).round().astype(np.intp)
        held = np.bincount(at, weights, minlength=_BINS).astype(np.float64)
        places = np.linspace(0.0, 1.0, _BINS)
    low, high = _quantiles(places, held, (0.5 - 0.5 * coverage, 0.5 + 0.5 * coverage))
    mean = float(values @ weights)
    return Estimate(value=mean, low=min(low, mean), high=max(high, mean), coverage=coverage)


def _median(values: Array, weights: Array, coverage: float) -> Estimate:
    # On a grid many points share a value: their weight stands there as one.
    each, place = np.unique(values, return_inverse=True)
    held: Array = np.bincount(place, weights=weights).astype(np.float64)
    low, middle, high = _quantiles(each, held, (0.5 - 0.5 * coverage, 0.5, 0.5 + 0.5 * coverage))
    return Estimate(value=middle, low=low, high=high, coverage=coverage)


def _quantiles(values: Array, weights: Array, shares: Sequence[float]) -> list[float]:
    order = np.argsort(values)
    held = weights[order]
    return [float(at) for at in np.interp(shares, np.cumsum(held) - 0.5 * held, values[order])]


def _axis(middle: float, reach: float, count: int) -> Array:
    return np.linspace(middle - reach, middle + reach, count)


def _focus(axis: Array, heights: Array, count: int) -> Array:
    """So many places over what carries weight, and a step beyond on either side."""
    high = np.flatnonzero(heights > heights.max() + _LEAST)
    return np.linspace(axis[max(high[0] - 1, 0)], axis[min(high[-1] + 1, axis.size - 1)], count)


def _bell(distance: Array, spread: float) -> Array:
    return np.asarray(-0.5 * (distance / spread) ** 2)


def _own_prior(prior: LifePrior, others: Sequence[LifeTable], log_shape: Array, log_life: Array) -> Array:
    """What the prior and the other heater types hold of this one, as logarithms of shape (shapes, lives)."""
    of_shape = _bell(log_shape - math.log(prior.shape), prior.shape_spread)[:, None]
    from_middle = log_life - math.log(prior.life)
    if not others:
        return np.asarray(of_shape + _bell(from_middle, prior.life_spread)[None, :])
    scatter = np.exp(_bell(log_life[:, None] - log_life[None, :], prior.heater_spread))
    scatter /= scatter.sum(axis=1, keepdims=True)
    shared_spread = math.sqrt(prior.life_spread**2 - prior.heater_spread**2)
    shared = of_shape + _bell(from_middle, shared_spread)[None, :]
    for each in others:
        shared = shared + _scattered(log_likelihood_on_grid(each, log_shape, log_life), scatter)
    return _scattered(shared, scatter)


def _scattered(heights: Array, scatter: Array) -> Array:
    """Logarithm of weights after the scatter between heater types, row by row, without underflow."""
    tops = heights.max(axis=1, keepdims=True)
    tops = np.where(np.isfinite(tops), tops, 0.0)
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(np.exp(heights - tops) @ scatter.T) + tops)
