"""The shop's view of a part type: how many are still good by age, and what ended the others."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import field
from statistics import NormalDist

import numpy as np

from lightoff.ground.errors import Refusal
from lightoff.ground.estimate import Estimate
from lightoff.ground.message import Message, message
from lightoff.ground.values import dataclass
from lightoff.physics.uncertain import Array
from lightoff.wear.lives import Clock, Life, tabled, word
from lightoff.wear.saying import share, whole

COVERAGE = 0.95
FEW_AT_RISK = 5
"""Below so many at risk a curve is drawn thin: common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProductLimit:
    """Steps of a survival curve: at each age with a failure, how many were at risk, how many failed.

    `survival`, `low` and `high` hold from that age on; before the first all are good. Arrays of shape
    (ages,). Where none has failed the arrays are empty.
    """

    ages: Array = field(compare=False)
    at_risk: Array = field(compare=False)
    failures: Array = field(compare=False)
    survival: Array = field(compare=False)
    low: Array = field(compare=False)
    high: Array = field(compare=False)
    cumulative_hazard: Array = field(compare=False)
    coverage: float

    def at(self, age: float) -> Estimate:
        """Share still good at an age."""
        place = int(np.searchsorted(self.ages, age, side="right")) - 1
        if place < 0:
            return Estimate(value=1.0, low=1.0, high=1.0, coverage=self.coverage)
        return Estimate(
            value=float(self.survival[place]),
            low=float(self.low[place]),
            high=float(self.high[place]),
            coverage=self.coverage,
        )


def product_limit(
    *, entered: Array, end: Array, failed: Array, count: Array, coverage: float = COVERAGE
) -> ProductLimit:
    """The curve of Kaplan and Meier with late entry, and the cumulative hazard after Nelson and Aalen.

    Parameters: arrays of shape (rows,): ages at entry and end, whether it failed, how many such. At risk
    at an age is who entered before it and had not ended before it; who ends good at an age with a failure was
    at risk then. Bands are Greenwood's on the log-log scale, so that they stay between 0 and 1.
    Basis: kaplan_meier_1958 (product limit, Greenwood's variance), nelson_1972 (cumulative hazard).
    """
    ages, place = np.unique(end[failed], return_inverse=True)
    at_risk = _beyond(end, count, ages) - _beyond(entered, count, ages)
    failures: Array = np.bincount(place, weights=count[failed], minlength=ages.size).astype(np.float64)
    survival = np.asarray(np.cumprod(1.0 - failures / at_risk), dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        variance = np.cumsum(failures / (at_risk * (at_risk - failures)))
        factor = NormalDist().inv_cdf(0.5 + 0.5 * coverage) * np.sqrt(variance) / np.abs(np.log(survival))
        low, high = survival ** np.exp(factor), survival ** np.exp(-factor)
    # Where all that were at risk failed the log-log scale ends: nothing is known of the share but its top.
    gone = survival <= 0.0
    before = np.concatenate([[1.0], high[:-1]])
    return ProductLimit(
        ages=ages,
        at_risk=at_risk,
        failures=failures,
        survival=survival,
        low=np.where(gone, 0.0, low),
        high=np.where(gone, np.fmin.accumulate(np.where(gone, before, high)), high),
        cumulative_hazard=np.cumsum(failures / at_risk),
        coverage=coverage,
    )


def _beyond(moments: Array, count: Array, ages: Array) -> Array:
    """How many of the moments lie at each age or beyond it, (ages,): sorted once for all ages."""
    order = np.argsort(moments)
    left = np.concatenate([np.cumsum(count[order][::-1])[::-1], [0.0]])
    return np.asarray(left[np.searchsorted(moments[order], ages, side="left")])


@dataclass(frozen=True, slots=True, kw_only=True)
class SurvivalCurve:
    """The share of a part type still good by age, with counts at risk.

    `placed_count` failures were found at an inspection and stand in the middle between it and the one before.
    """

    clock: Clock
    steps: ProductLimit
    life_count: int
    failure_count: int
    placed_count: int
    ran_empty: bool

    def at_risk(self, age: float) -> int:
        """How many were under observation at the first failure from this age on; nought beyond the last."""
        place = int(np.searchsorted(self.steps.ages, age, side="left"))
        return int(self.steps.at_risk[place]) if place < self.steps.ages.size else 0

    def says(self, age: float) -> tuple[Message, ...]:
        """The share still good at an age, in sentences."""
        told = [
            message(
                "wear.still_good",
                age=whole(age),
                clock=word(self.clock),
                share=share(self.steps.at(age)),
                failures=self.failure_count,
                lives=self.life_count,
            )
        ]
        if self.at_risk(age) < FEW_AT_RISK:
            told.append(message("wear.few_at_risk", count=self.at_risk(age)))
        if self.placed_count:
            told.append(message("wear.placed", count=self.placed_count))
        if self.ran_empty:
            told.append(message("wear.ran_empty"))
        return tuple(told)


def survival_curve(lives: Sequence[Life], *, coverage: float = COVERAGE) -> SurvivalCurve:
    """The share of a part type still good by age.

    A failure that was found at an inspection is put in the middle of its interval, and counted as such;
    `fit_lives` takes the interval as it is.
    Raises: Refusal for no lives or mixed clocks.
    Basis: kaplan_meier_1958.
    """
    table = tabled(lives)
    failed = np.isfinite(table.right)
    end = np.where(failed, 0.5 * (table.left + np.where(failed, table.right, 0.0)), table.left)
    steps = product_limit(entered=table.entered, end=end, failed=failed, count=table.count, coverage=coverage)
    empty = np.flatnonzero(steps.survival <= 0.0)
    return SurvivalCurve(
        clock=table.clock,
        steps=steps,
        life_count=table.life_count,
        failure_count=table.failure_count,
        placed_count=int(table.count[failed & (table.right > table.left)].sum()),
        ran_empty=bool(empty.size and (end > steps.ages[empty[0]]).any()),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class CumulativeIncidence:
    """Share that has failed of each cause by age: arrays of shape (ages,), which add to the share failed.

    `variances` are those of the shares; `at_risk` who was under observation at each age.
    """

    ages: Array = field(compare=False)
    at_risk: Array = field(compare=False)
    by_cause: Mapping[str, Array] = field(compare=False)
    variances: Mapping[str, Array] = field(compare=False)
    failures: Mapping[str, int]

    def at(self, age: float) -> dict[str, float]:
        """The share failed of each cause by an age."""
        place = int(np.searchsorted(self.ages, age, side="right")) - 1
        return {cause: float(each[place]) if place >= 0 else 0.0 for cause, each in self.by_cause.items()}

    def share(self, cause: str, age: float, *, coverage: float = COVERAGE) -> Estimate:
        """The share failed of one cause by an age, with its interval on the log-log scale."""
        place = int(np.searchsorted(self.ages, age, side="right")) - 1
        value = float(self.by_cause[cause][place]) if place >= 0 else 0.0
        if not 0.0 < value < 1.0:
            return Estimate(value=value, low=value, high=value, coverage=coverage)
        spread = NormalDist().inv_cdf(0.5 + 0.5 * coverage) * math.sqrt(self.variances[cause][place])
        factor = spread / (value * abs(math.log(value)))
        return Estimate(
            value=value, low=value ** math.exp(factor), high=value ** math.exp(-factor), coverage=coverage
        )


def cumulative_incidence(lives: Sequence[Life]) -> CumulativeIncidence:
    """How many fail of what by age, where one cause takes away what another would have ended.

    One less the survival curve of a cause alone says too much; these shares add up.
    Raises: Refusal for no lives, mixed clocks, or a failure without its cause.
    Basis: aalen_johansen_1978; marubini_valsecchi_1995 (variance by the delta method).
    """
    if any(each.failed and not each.cause for each in lives):
        raise Refusal(message("wear.cause_missing"), field="cause")
    steps = survival_curve(lives).steps
    before = np.concatenate([[1.0], steps.survival[:-1]])
    causes = sorted({each.cause for each in lives if each.failed})
    failures = {cause: np.zeros(steps.ages.size) for cause in causes}
    for each in lives:
        if each.right is not None:
            place = int(np.searchsorted(steps.ages, 0.5 * (each.left + each.right)))
            failures[each.cause][place] += each.count
    shares = {cause: np.cumsum(before * each / steps.at_risk) for cause, each in failures.items()}
    return CumulativeIncidence(
        ages=steps.ages,
        at_risk=steps.at_risk,
        by_cause=shares,
        variances={cause: _variance(shares[cause], each, steps, before) for cause, each in failures.items()},
        failures={cause: int(each.sum()) for cause, each in failures.items()},
    )


def _variance(share: Array, failures: Array, steps: ProductLimit, before: Array) -> Array:
    """Of one cause's share at each age, (ages,). Basis: marubini_valsecchi_1995.

    With n at risk, d failed of all causes and f of this one at each earlier age, S the share good just before
    and I the share of this cause: the sum of (I(t) - I)^2 d / (n (n - d)) + S^2 f (n - f) / n^3
    - 2 (I(t) - I) S f / n^2. Where all that were at risk failed, the first term is left out: nothing comes
    after.
    """
    n, d = steps.at_risk, steps.failures
    with np.errstate(divide="ignore"):
        of_all = np.where(n > d, d / (n * (n - d)), 0.0)
    own, both = before**2 * failures * (n - failures) / n**3, before * failures / n**2
    # sum over earlier ages of (I(t) - I)^2 a = I(t)^2 sum a - 2 I(t) sum I a + sum I^2 a, and so on.
    squares = share**2 * np.cumsum(of_all) - 2.0 * share * np.cumsum(share * of_all)
    squares += np.cumsum(share**2 * of_all)
    crossed = share * np.cumsum(both) - np.cumsum(share * both)
    return np.asarray(np.maximum(squares + np.cumsum(own) - 2.0 * crossed, 0.0))
