"""Best fit of a law to lives, by the library surpyval, each held against our own likelihood."""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import field
from typing import TYPE_CHECKING

import numpy as np

from lightoff.ground.errors import Declined
from lightoff.ground.estimate import Estimate
from lightoff.ground.message import Message, message
from lightoff.ground.values import dataclass
from lightoff.physics.uncertain import Array
from lightoff.wear.laws import Law, log_likelihood, log_survival
from lightoff.wear.lives import Clock, Life, LifeTable, tabled, word
from lightoff.wear.saying import whole

if TYPE_CHECKING:
    from surpyval import Parametric

COVERAGE = 0.95
_SHAPES = (0.2, 100.0)  # beyond, a fit is no longer one of wear
_LONGEST = 690.0  # exp of more overflows
_FLAT = 1e-4  # a peak that falls less than this to a side is none
_ALIKE = 1e-6  # two likelihoods of one law and the same lives differ by rounding alone
_NEAR = 1e-3  # as far as this beside a peak, in both logarithms, nothing may be likelier
_MANY = 20  # kinds of failure from which no likelihood was met that ran away
_FEW = 5
"""Fewer failures than this and the best fit misleads: common practice, no source (five to ten are asked)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LifeFit:
    """The law that makes the lives likeliest. Life and shape are explained in `lightoff.wear.laws`.

    With few failures it leans to the hopeful or the gloomy side by much; decide on the posterior.
    `model` is the library's own fit, of which the intervals are asked.
    """

    law: Law
    clock: Clock
    best_life: float
    best_shape: float
    log_likelihood: float
    failure_count: int
    life_count: int
    model: Parametric = field(compare=False, repr=False)

    @property
    def akaike(self) -> float:
        """Akaike's measure, the smaller the better: 2 x 2 numbers - 2 log-likelihood. Basis: meeker_1998."""
        return 4.0 - 2.0 * self.log_likelihood

    def survival(self, age: float) -> float:
        """Chance of a new piece to reach this age."""
        z = self.best_shape * (math.log(age / self.best_life) if age > 0.0 else -math.inf)
        return float(np.exp(log_survival(self.law, np.array(z))))

    def chance_to_last(self, age: float, use: float) -> float:
        """Chance of a piece of this age to last a further `use`, at the best fit."""
        so_far = self.survival(age)
        return self.survival(age + use) / so_far if so_far > 0.0 else 0.0

    def life(self, *, coverage: float = COVERAGE) -> Estimate:
        """The characteristic or median life with its likelihood-ratio interval, which may be open to a side.

        Raises: Declined where an end cannot be found.
        Basis: meeker_1998 (chapter 8, likelihood-based intervals).
        """
        if self.law is Law.WEIBULL:
            return _within(self.best_life, self._ends_of("alpha", coverage), coverage)
        with np.errstate(over="ignore"):
            return _within(self.best_life, np.exp(self._ends_of("mu", coverage)), coverage)

    def shape(self, *, coverage: float = COVERAGE) -> Estimate:
        """The shape with its likelihood-ratio interval. Errors and basis as `life`."""
        if self.law is Law.WEIBULL:
            return _within(self.best_shape, self._ends_of("beta", coverage), coverage)
        with np.errstate(divide="ignore"):
            return _within(self.best_shape, 1.0 / self._ends_of("sigma", coverage)[::-1], coverage)

    def age_by_which(self, failed_fraction: float, *, coverage: float = COVERAGE) -> Estimate:
        """The age by which a share has failed, with its likelihood-ratio interval. Errors as `life`.

        Basis: meeker_1998 (likelihood-ratio intervals of quantiles).
        """
        with _unheard():
            age = float(self.model.qf(failed_fraction))
            ends = self.model.quantile_cb(failed_fraction, alpha_ci=1.0 - coverage, method="lr")
        return _within(age, ends, coverage)

    def _ends_of(self, parameter: str, coverage: float) -> Array:
        with _unheard():
            return np.asarray(self.model.param_cb(parameter, alpha_ci=1.0 - coverage, method="lr"))

    def says(self) -> tuple[Message, ...]:
        """What the fit tells, in sentences. Errors as `life`."""
        life = self.life()
        told = [
            message(
                "wear.fit",
                share=63 if self.law is Law.WEIBULL else 50,
                failures=self.failure_count,
                lives=self.life_count,
                life=whole(life.value),
                low=whole(life.low),
                high=whole(life.high),
                clock=word(self.clock),
            ),
        ]
        if self.law is Law.WEIBULL:  # the other law's shape says nothing of this
            shape = self.shape()
            kind = "wears" if shape.low > 1.0 else "by_chance" if shape.high < 1.0 else "unknown"
            told.append(message(f"wear.fit_{kind}"))
        if self.failure_count < _FEW:
            told.append(message("wear.fit_few", failures=self.failure_count))
        return tuple(told)


def fit_lives(lives: Sequence[Life], *, law: Law = Law.WEIBULL) -> LifeFit:
    """The law's best fit to lives on one clock; its intervals are worked out when they are asked for.

    Parameters: `lives` any number and any mixture of exact, still good, found failed and late entered.
    Raises: Refusal for no lives or mixed clocks; Declined where no failure is known, where all failures are
    of one age, or where the lives have no likeliest law: ask the posterior then.
    Basis: meeker_1998 (chapter 8, likelihood-based intervals).
    """
    table = tabled(lives)
    model = _fitted(law, table)
    with _unheard():
        logs, theirs = np.log(model.params), -float(model.neg_ll())
    peak = logs if law is Law.WEIBULL else np.array([model.params[0], -logs[1]])
    height = _confirmed(law, table, peak, theirs=theirs)
    return LifeFit(
        law=law,
        clock=table.clock,
        best_life=math.exp(peak[0]),
        best_shape=math.exp(peak[1]),
        log_likelihood=height,
        failure_count=table.failure_count,
        life_count=table.life_count,
        model=model,
    )


def best_law(lives: Sequence[Life]) -> LifeFit:
    """The better of the two laws by likelihood; both have two numbers, so nothing else is to be weighed."""
    return max((fit_lives(lives, law=law) for law in Law), key=lambda each: each.log_likelihood)


def _fitted(law: Law, table: LifeTable) -> Parametric:
    failed = np.isfinite(table.right)
    if not failed.any():
        raise Declined(message("wear.fit_no_failure", lives=table.life_count))
    if len(set(zip(table.left[failed].tolist(), table.right[failed].tolist(), strict=True))) == 1:
        raise Declined(message("wear.fit_one_age", failures=table.failure_count))
    if failed.sum() < _MANY:
        _refuse_a_runaway(law, table)
    from surpyval import LogNormal, Weibull  # takes longer to load than any page to show

    family = Weibull if law is Law.WEIBULL else LogNormal
    tell = failed | (table.left > table.entered)  # a good piece that was only just met tells nothing yet
    with _unheard():
        try:
            return family.fit(
                xl=table.left[tell], xr=table.right[tell], n=table.count[tell], tl=table.entered[tell]
            )
        except (ValueError, ArithmeticError):
            raise Declined(message("wear.fit_no_maximum", failures=table.failure_count)) from None


def _refuse_a_runaway(law: Law, table: LifeTable) -> None:
    """Declines few failures that are likeliest at a border: the library looks many seconds for such a top.

    A net of shapes, each with the likeliest share failed by the failures' middle age. It makes no fit.
    """
    failed = np.isfinite(table.right)
    middle = np.average(np.log(0.5 * (table.left + table.right)[failed]), weights=table.count[failed])
    log_shape = np.log(np.geomspace(*_SHAPES, 31))[:, None]
    at = np.full(log_shape.shape, -5.0)
    for reach, places in ((13.0, 27), (1.0, 21), (0.1, 21)):
        standard = at + np.linspace(-reach, reach, places)
        log_life = middle - standard * np.exp(-log_shape)
        shapes = np.broadcast_to(log_shape, log_life.shape)
        heights = log_likelihood(law, table, log_life=log_life, log_shape=shapes)
        at = np.take_along_axis(standard, heights.argmax(axis=1)[:, None], axis=1)
    low, *within, high = heights.max(axis=1)
    if not max(within) > max(low, high) + _FLAT:
        raise Declined(message("wear.fit_no_maximum", failures=table.failure_count))


def _confirmed(law: Law, table: LifeTable, peak: Array, *, theirs: float) -> float:
    """The log-likelihood at a peak by our own formula.

    Raises: Declined where that is not the library's, where a neighbour is likelier, at a border, and where
    the peak hardly stands out.
    """
    by = np.array([(i, j) for i in (-1.0, 0.0, 1.0) for j in (-1.0, 0.0, 1.0)])
    far = np.array([[-1.0, 0.0], [1.0, 0.0], [0.0, -math.log(1.5)], [0.0, math.log(1.5)]])
    points = peak + np.concatenate([[[0.0, 0.0]], _NEAR * by, far])
    heights = log_likelihood(law, table, log_life=points[:, 0], log_shape=points[:, 1])
    height, near, aside = float(heights[0]), heights[1:10], heights[10:]
    rounding = _ALIKE * (1.0 + abs(height))
    if not (
        abs(peak[0]) < _LONGEST
        and abs(theirs - height) < rounding
        and np.all(near <= height + 1e-3 * rounding)
        and np.all(aside < height - _FLAT)
        and math.log(_SHAPES[0]) < peak[1] < math.log(_SHAPES[1])
    ):
        raise Declined(message("wear.fit_no_maximum", failures=table.failure_count))
    return height


def _within(value: float, ends: Array, coverage: float) -> Estimate:
    low, high = (float(each) for each in ends)
    if math.isnan(low) or math.isnan(high):
        raise Declined(message("wear.fit_no_interval"))
    return Estimate(value=value, low=low, high=high, coverage=coverage)


@contextmanager
def _unheard() -> Iterator[None]:
    """What the library warns of is judged here, by our own likelihood and by ends that are missing."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield
