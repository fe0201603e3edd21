"""A weighted straight line through readings, its band, and where the band reaches a limit."""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np

from lightoff.ground.estimate import Estimate
from lightoff.ground.values import dataclass
from lightoff.physics.uncertain import Array
from lightoff.wear.crossing import crossing

_NODES, _SHARES = np.polynomial.legendre.leggauss(64)
_MANY = 200  # degrees of freedom from which Student's law is taken for the normal one (within 0.4 %)


def student_quantile(share: float, freedom: int | None) -> float:
    """The value below which a share (0.5 up to below 1) of Student's law lies; None is the normal law.

    Within 1e-8. Basis: abramowitz_stegun_1964 (26.7, by the angle whose tangent is t over the root of the
    degrees of freedom).
    """
    if freedom is None or freedom >= _MANY:
        return NormalDist().inv_cdf(share)

    def within(angle: float) -> float:
        return float(0.5 * angle * _SHARES @ np.cos(0.5 * angle * (_NODES + 1.0)) ** (freedom - 1))

    whole = 2.0 * within(0.5 * math.pi)
    angle = crossing(
        lambda each: share - 0.5 - within(each) / whole, start=0.0, step=0.05, reach=0.5 * math.pi
    )
    return math.sqrt(freedom) * math.tan(angle) if angle else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """value = mean + slope (day - middle); variances as the readings' uncertainties and scatter give them.

    `factor` is the coverage factor of its intervals; `misfit` the weighted sum of squares left over.
    """

    middle: float
    mean: float
    slope: float
    mean_variance: float
    slope_variance: float
    factor: float
    misfit: float
    is_scattered: bool
    coverage: float

    @classmethod
    def through(cls, days: Array, values: Array, uncertainties: Array, *, coverage: float) -> Line:
        """The likeliest line. Arrays of shape (readings,), one or more of them.

        Where the readings scatter more than their standard uncertainties say, the variances are widened to
        the scatter and the factor is Student's; they are never narrowed. Readings of a single day give a
        level and a slope of infinite variance.
        Basis: jcgm_100_2008 (H.3, a line by least squares); widening is common practice, no source.
        """
        weights = uncertainties**-2.0
        total = float(weights.sum())
        middle, mean = float(weights @ days) / total, float(weights @ values) / total
        spread = float(weights @ (days - middle) ** 2)
        slope = float(weights @ ((days - middle) * (values - mean))) / spread if spread else 0.0
        misfit = float(weights @ (values - mean - slope * (days - middle)) ** 2)
        freedom = days.size - (2 if spread else 1)
        scatter = misfit / freedom if freedom > 0 else 0.0
        widened = scatter > 1.0
        return cls(
            middle=middle,
            mean=mean,
            slope=slope,
            mean_variance=max(scatter, 1.0) / total,
            slope_variance=max(scatter, 1.0) / spread if spread else math.inf,
            factor=student_quantile(0.5 + 0.5 * coverage, freedom if widened else None),
            misfit=misfit,
            is_scattered=widened,
            coverage=coverage,
        )

    def per_day(self) -> Estimate:
        """The slope."""
        half = self.factor * math.sqrt(self.slope_variance)
        return Estimate(
            value=self.slope, low=self.slope - half, high=self.slope + half, coverage=self.coverage
        )

    def at(self, day: float) -> Estimate:
        """The line on a day, with the interval that holds the true level."""
        away = day - self.middle
        variance = self.mean_variance + (away * away * self.slope_variance if away else 0.0)
        value, half = self.mean + self.slope * away, self.factor * math.sqrt(variance)
        return Estimate(value=value, low=value - half, high=value + half, coverage=self.coverage)

    def reaches(self, limit: float, *, after: float) -> tuple[float | None, float | None, float | None]:
        """Days from `after` on at which the band's far side, the line, and its near side rise to a limit.

        (earliest, line, latest), each None where it never does. A slope of infinite variance may be any:
        earliest is `after`.
        Basis: fieller_1954 (the days at which the band holds the limit).
        """
        now = self.at(after)
        if math.isinf(self.slope_variance):
            return after, after if now.value >= limit else None, after if now.low >= limit else None
        gap = limit - self.mean
        earliest = after if now.high >= limit else None
        line = after if now.value >= limit else self.middle + gap / self.slope if self.slope > 0.0 else None
        latest = after if now.low >= limit else None
        # (gap - slope d)^2 = factor^2 (mean variance + slope variance d^2)
        square = self.factor**2
        roots = np.roots(
            [
                self.slope**2 - square * self.slope_variance,
                -2.0 * gap * self.slope,
                gap**2 - square * self.mean_variance,
            ]
        )
        for away in sorted(float(each.real) for each in roots if abs(each.imag) < 1e-12 * (1 + abs(each))):
            if self.middle + away <= after:
                continue
            if self.slope * away < gap:  # the line is below: the far side is there
                earliest = self.middle + away if earliest is None else earliest
            elif latest is None:
                latest = self.middle + away
        return earliest, line, latest
