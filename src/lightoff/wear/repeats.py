"""What comes again: come-backs after a visit, repairs of a heater over time, and the troublemakers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import field
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from lightoff.ground.errors import Declined, Refusal
from lightoff.ground.estimate import Estimate
from lightoff.ground.message import Message, message
from lightoff.ground.values import dataclass
from lightoff.physics.uncertain import Array
from lightoff.wear.fleet import COVERAGE, product_limit
from lightoff.wear.saying import plain_share, share

COME_BACK_DAYS = 30.0
"""Within so many days a visit for the same heater is a come-back: common practice, no source."""
LEAST_GAP_DAYS = 0.5
"""A come-back on the same day counts as after half a day: common practice, no source."""
_AT_ONCE = 500  # heaters whose parts of the variance are summed together
BY_LUCK = 0.5
"""A heater is called a troublemaker where fewer than this many of the whole shop's heaters would have as many
repairs by luck. Basis: common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """Days from a visit to the next of the same heater, or to today where none has come yet."""

    days: float
    came_back: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ComeBacks:
    """The share of visits with another visit of the same heater within `within_days`."""

    rate: Estimate
    within_days: float
    visit_count: int
    come_back_count: int
    watched_count: int

    def says(self) -> tuple[Message, ...]:
        """The come-back rate in a sentence."""
        return (
            message(
                "wear.come_backs",
                days=round(self.within_days),
                share=share(self.rate),
                count=self.come_back_count,
                visits=self.visit_count,
                watched=self.watched_count,
            ),
        )


def come_back_rate(
    gaps: Sequence[Gap], *, within_days: float = COME_BACK_DAYS, coverage: float = COVERAGE
) -> ComeBacks:
    """The chance that a visit is followed by another within so many days.

    Recent visits have not had their days yet: they count as far as they were watched. `watched_count` are
    those whose days are over.
    Raises: Declined for no visits; Refusal for a gap below nought.
    Basis: kaplan_meier_1958 (on gaps).
    """
    if not gaps:
        raise Declined(message("wear.no_visits"))
    if not all(math.isfinite(each.days) and each.days >= 0.0 for each in gaps):
        raise Refusal(message("wear.gap_not_possible"), field="gaps")
    days = np.array([max(each.days, LEAST_GAP_DAYS) if each.came_back else each.days for each in gaps])
    back = np.array([each.came_back for each in gaps])
    curve = product_limit(
        entered=np.full(days.size, -1.0), end=days, failed=back, count=np.ones(days.size), coverage=coverage
    ).at(within_days)
    return ComeBacks(
        rate=Estimate(value=1.0 - curve.value, low=1.0 - curve.high, high=1.0 - curve.low, coverage=coverage),
        within_days=within_days,
        visit_count=days.size,
        come_back_count=int((back & (days <= within_days)).sum()),
        watched_count=int((back | (days >= within_days)).sum()),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """One heater's repairs: ages (in days, say) at each, between the ages at which it was watched."""

    heater: str
    repairs: tuple[float, ...]
    until: float
    entered: float = 0.0

    def __post_init__(self) -> None:
        """Refuses repairs outside of the time that was watched."""
        if not self.entered < self.until < math.inf:
            raise Refusal(message("wear.history_not_possible", heater=self.heater), field="until")
        if not all(self.entered < each <= self.until for each in self.repairs):
            raise Refusal(message("wear.repair_outside", heater=self.heater), field="repairs")


@dataclass(frozen=True, slots=True, kw_only=True)
class MeanCumulative:
    """Mean number of repairs a heater has had by an age, its robust standard deviation, and its band.

    Arrays of shape (ages,); the values hold from each age on.
    """

    ages: Array = field(compare=False)
    at_risk: Array = field(compare=False)
    mean: Array = field(compare=False)
    standard_deviation: Array = field(compare=False)
    coverage: float

    def at(self, age: float) -> Estimate:
        """Mean number of repairs by an age; the band is even on the logarithm, so it stays above nought."""
        place = int(np.searchsorted(self.ages, age, side="right")) - 1
        if place < 0:
            return Estimate(value=0.0, low=0.0, high=0.0, coverage=self.coverage)
        mean, deviation = float(self.mean[place]), float(self.standard_deviation[place])
        factor = math.exp(NormalDist().inv_cdf(0.5 + 0.5 * self.coverage) * deviation / mean)
        return Estimate(value=mean, low=mean / factor, high=mean * factor, coverage=self.coverage)


def mean_cumulative(histories: Sequence[History], *, coverage: float = COVERAGE) -> MeanCumulative:
    """The mean number of repairs by age, whatever makes some heaters worse than others.

    The variance is taken between heaters, so that repairs that come in bursts do not make it look too small.
    Raises: Declined for no histories.
    Basis: lawless_nadeau_1995 (robust variance).
    """
    if not histories:
        raise Declined(message("wear.no_histories"))
    ages, repairs, watched = _counted(histories)
    at_risk = watched.sum(axis=0).astype(np.float64)
    rate = repairs.sum(axis=0) / at_risk
    variance = np.zeros(ages.size)
    for start in range(0, len(histories), _AT_ONCE):
        some = slice(start, start + _AT_ONCE)
        apart = np.cumsum(watched[some] * (repairs[some] - rate) / at_risk, axis=1)
        variance += (apart**2).sum(axis=0)
    return MeanCumulative(
        ages=ages,
        at_risk=at_risk,
        mean=np.cumsum(rate),
        standard_deviation=np.sqrt(variance),
        coverage=coverage,
    )


def _counted(histories: Sequence[History]) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Ages with a repair, repairs at each (heaters, ages), and which heaters were watched then."""
    repaired = np.array([each for history in histories for each in history.repairs], dtype=np.float64)
    of_heater = np.repeat(np.arange(len(histories)), [len(history.repairs) for history in histories])
    ages, place = np.unique(repaired, return_inverse=True)
    repairs = np.zeros((len(histories), ages.size))
    np.add.at(repairs, (of_heater, place), 1.0)
    entered = np.array([each.entered for each in histories])[:, None]
    until = np.array([each.until for each in histories])[:, None]
    return ages, repairs, (entered < ages) & (until >= ages)


def laplace_trend(repairs: Sequence[float], *, until: float | None = None) -> float:
    """Laplace's U: above 2 the repairs come closer together, below -2 further apart; near nought no trend.

    Parameters: ages of the repairs counted from the start of watching; `until` the age at which watching
    ended, None where it ended with the last repair.
    Raises: Declined for fewer than three repairs, two where `until` is given.
    Basis: ascher_feingold_1984 (Laplace's test; U is about normal).
    """
    ages = sorted(repairs)
    end = ages.pop() if until is None and ages else until
    if len(ages) < 2 or not end:
        raise Declined(message("wear.too_few_repairs", count=len(repairs)))
    return (sum(ages) / len(ages) - 0.5 * end) / (end * math.sqrt(1.0 / (12.0 * len(ages))))


@dataclass(frozen=True, slots=True, kw_only=True)
class Troublemaker:
    """A heater with more repairs than the others had in as long a time.

    `expected_count` is what the shop's other heaters had between the same ages; `by_luck` the chance of so
    many repairs or more where it is like them; `trend` Laplace's U, None with too few repairs.
    """

    heater: str
    repair_count: int
    expected_count: float
    by_luck: float
    trend: float | None

    def says(self) -> tuple[Message, ...]:
        """What it stands out by, in sentences."""
        told = [
            message(
                "wear.troublemaker",
                heater=self.heater,
                count=self.repair_count,
                expected=f"{self.expected_count:.1f}",
                luck=plain_share(self.by_luck),
            )
        ]
        if self.trend is not None and abs(self.trend) > 2.0:
            told.append(message("wear.trend_worse" if self.trend > 0.0 else "wear.trend_better"))
        return tuple(told)


def troublemakers(histories: Sequence[History]) -> tuple[Troublemaker, ...]:
    """The heaters that stand out, worst first; each is compared with all the others.

    Raises: Declined for fewer than two histories.
    Valid for: repairs of the others come about evenly (Poisson) at the shop's rate for their age. A heater is
    named only where luck would name fewer than `BY_LUCK` in the whole shop.
    Basis: common practice, no source (Poisson's tail, shared out over the heaters).
    """
    if len(histories) < 2:
        raise Declined(message("wear.no_histories"))
    ages, repairs, watched = _counted(histories)
    every, at_risk = repairs.sum(axis=0), watched.sum(axis=0)
    found = []
    for each, own, seen in zip(histories, repairs, watched, strict=True):
        others = at_risk - seen  # heaters beside it that were watched
        rate = np.where(others > 0, (every - own) / np.maximum(others, 1), 0.0)
        expected = float(rate[(each.entered < ages) & (ages <= each.until)].sum())
        # The others' mean is itself known from a count only: half a repair more than were seen among them.
        expected += 0.5 / (len(histories) - 1)
        by_luck = _tail(len(each.repairs), expected)
        if by_luck * len(histories) < BY_LUCK:
            since = [age - each.entered for age in each.repairs]
            trend = laplace_trend(since, until=each.until - each.entered) if len(since) > 1 else None
            found.append(
                Troublemaker(
                    heater=each.heater,
                    repair_count=len(each.repairs),
                    expected_count=expected,
                    by_luck=by_luck,
                    trend=trend,
                )
            )
    return tuple(sorted(found, key=lambda each: (each.by_luck, each.heater)))


def _tail(count: int, mean: float) -> float:
    """Chance of `count` or more of a Poisson number; summed upwards from there, so that it stays exact."""
    term = math.exp(count * math.log(mean) - mean - math.lgamma(count + 1.0))
    total, at = 0.0, count
    while term > 1e-17 * total or at < mean:
        total += term
        at += 1
        term *= mean / at
    return min(total, 1.0)
