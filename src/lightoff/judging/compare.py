"""How a number stands to its limit, exactly and unrounded."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from decimal import Decimal
from fractions import Fraction

from lightoff.ground.estimate import Estimate
from lightoff.ground.message import Amount
from lightoff.ground.units import exact_si
from lightoff.ground.values import dataclass
from lightoff.judging.assessment import WORST_FIRST, Judgement
from lightoff.judging.believed import exact_width
from lightoff.terms.shelf import Comparison, Limit


@dataclass(frozen=True, slots=True)
class Doubted:
    """An exact number with the square of its expanded uncertainty: a root sum of squares stays exact."""

    x: Fraction
    u_squared: Fraction

    def amount(self, dimension: str) -> Amount:
        """For a sentence."""
        return Amount(value=float(self.x), dimension=dimension, half_width=math.sqrt(self.u_squared))

    def estimate(self) -> Estimate:
        """For a figure: the very number of the sentence."""
        return Estimate.from_half_width(float(self.x), math.sqrt(self.u_squared))


def against(row: Limit, number: Doubted) -> Judgement:
    """Within if reading and uncertainty are within, outside if neither can be, else not proven."""
    limit, x, u_squared = threshold(row), number.x, number.u_squared
    room = limit - x if row.comparison in (Comparison.AT_MOST, Comparison.BELOW) else x - limit
    match row.comparison:
        case Comparison.AT_MOST | Comparison.AT_LEAST:
            if room >= 0:
                return Judgement.WITHIN if u_squared <= room**2 else Judgement.NOT_PROVEN
            return Judgement.OUTSIDE if u_squared < room**2 else Judgement.NOT_PROVEN
        case Comparison.BELOW:
            if room > 0:
                return Judgement.WITHIN if u_squared < room**2 else Judgement.NOT_PROVEN
            return Judgement.OUTSIDE if u_squared <= room**2 else Judgement.NOT_PROVEN
        case _:
            raise ValueError(f"limit {row.key} does not bound one side")


def crosses(row: Limit, x: Fraction) -> bool:
    """Whether the bare number crosses the row; how every stop is read."""
    limit = threshold(row)
    match row.comparison:
        case Comparison.AT_MOST:
            return x > limit
        case Comparison.BELOW:
            return x >= limit
        case Comparison.AT_LEAST:
            return x < limit
        case Comparison.EQUALS_WITHIN:
            return abs(x - limit) > exact_width(row.tolerance or Decimal(0), row.unit)
        case _:
            raise ValueError(f"limit {row.key} is not a number")


def threshold(row: Limit) -> Fraction:
    """The row's value, exact SI."""
    if row.value is None:
        raise ValueError(f"limit {row.key} has no value")
    return exact_si(row.value, row.unit)


def worst(judgements: Iterable[Judgement]) -> Judgement:
    """The worst of some; nothing at all is not proven."""
    return min(judgements, key=WORST_FIRST.index, default=Judgement.NOT_PROVEN)


def settle(candidates: Sequence[Judgement], *, conflict: bool) -> Judgement:
    """One judgement for one slot: in conflict the mildest candidate counts, and never as within."""
    if not conflict:
        return worst(candidates)
    mildest = max(candidates, key=WORST_FIRST.index)
    return worst((mildest, Judgement.NOT_PROVEN))
