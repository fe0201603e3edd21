"""A number shown with its doubt: value, low, high, and how much of the truth lies between."""

from __future__ import annotations

import math

from lightoff.ground.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A value with the interval that holds the truth with the probability `coverage` (0 to 1).

    Basis: jcgm_100_2008 (3.1: a result is complete only with its uncertainty).
    """

    value: float
    low: float
    high: float
    coverage: float

    def __post_init__(self) -> None:
        if not self.low <= self.value <= self.high:
            raise ValueError(f"an estimate of {self.value} cannot lie outside {self.low} to {self.high}")
        if not 0.0 < self.coverage <= 1.0:
            raise ValueError(
                f"a coverage of {self.coverage} is no probability; it must lie above 0 and up to 1"
            )

    @property
    def half_width(self) -> float:
        """Half the width of the interval: the expanded uncertainty where the interval is symmetric."""
        return (self.high - self.low) / 2.0

    @classmethod
    def exact(cls, value: float) -> Estimate:
        """A number without doubt, such as a count."""
        return cls(value=value, low=value, high=value, coverage=1.0)

    @classmethod
    def from_half_width(cls, value: float, half_width: float, *, coverage_factor: float = 2.0) -> Estimate:
        """From an expanded uncertainty U = k u; `coverage_factor` is k, for a normal distribution.

        Basis: jcgm_100_2008 (6.2.1; table G.1: k = 2 holds 95.45 %).
        """
        coverage = math.erf(coverage_factor / math.sqrt(2.0))
        return cls(value=value, low=value - half_width, high=value + half_width, coverage=coverage)

    @classmethod
    def from_standard(
        cls, value: float, standard_uncertainty: float, *, coverage_factor: float = 2.0
    ) -> Estimate:
        """From a standard uncertainty u, widened by the coverage factor k."""
        return cls.from_half_width(
            value, coverage_factor * standard_uncertainty, coverage_factor=coverage_factor
        )

    def holds(self, value: float) -> bool:
        """Whether a number lies within the interval, its ends included."""
        return self.low <= value <= self.high

    def overlaps(self, other: Estimate) -> bool:
        """Whether the two intervals share at least one number."""
        return self.low <= other.high and other.low <= self.high

    def scaled(self, factor: float) -> Estimate:
        """The same estimate in another unit: every number times `factor`."""
        low, high = sorted((self.low * factor, self.high * factor))
        return Estimate(value=self.value * factor, low=low, high=high, coverage=self.coverage)

    def shifted(self, by: float) -> Estimate:
        """The same estimate moved by an exact amount."""
        return Estimate(value=self.value + by, low=self.low + by, high=self.high + by, coverage=self.coverage)
