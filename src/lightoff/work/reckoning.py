"""What the shop reckons with: its planning, what each part costs, and how long the season still lasts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum

from lightoff.terms.part import Bin
from lightoff.terms.people import Planning
from lightoff.terms.shelf import PartType
from lightoff.wear.advice import Costs
from lightoff.wear.lives import Clock
from lightoff.wear.posterior import Use
from lightoff.work.running import MONTH
from lightoff.work.units import Unit
from lightoff.work.workshop import Workshop

LEAST_MONTHS = 1.0
"""A season shorter than this is none to plan for. Common practice, no source."""
_MINUTES_AN_HOUR = 60.0


class Whence(StrEnum):
    """Where a price is from."""

    BIN = "bin"
    SHELF = "shelf"
    USUAL = "usual"


@dataclass(frozen=True, slots=True, kw_only=True)
class Price:
    """What a part costs in the shop's money, and where that is from."""

    amount: float
    whence: Whence


@dataclass(frozen=True, slots=True, kw_only=True)
class Reckoning:
    """The shop's planning with the price of each part type."""

    planning: Planning
    prices: Mapping[str, Price]

    def costs(self, kind: PartType) -> Costs:
        """What renewing and failing cost: the work by the minutes that the shelf gives the part type."""
        rate, planning = float(self.planning.hour_rate) / _MINUTES_AN_HOUR, self.planning
        return Costs(
            part=max(self.prices[kind.key].amount, 0.01),
            fitting=rate * kind.minutes_when_open,
            opening=rate * (kind.minutes - kind.minutes_when_open),
            trip=float(planning.trip),
            failure=float(planning.failure),
            second_trip=float(planning.second_trip),
            spare_share=float(planning.spare_share),
        )

    def months_to_spring(self, now: datetime) -> float:
        """How long the season still lasts, in months; a whole one from spring to autumn."""
        end = datetime(now.year, self.planning.spring_month, self.planning.spring_day, tzinfo=UTC)
        if end <= now:
            end = end.replace(year=now.year + 1)
        return max((end - now) / MONTH, LEAST_MONTHS)

    def season(self, unit: Unit, clock: Clock, now: datetime) -> Use:
        """What a part of a heater goes through till spring."""
        expected, spread = unit.runs.ahead(clock, self.months_to_spring(now))
        return Use(clock=clock, expected=max(expected, 1e-6), spread=spread)


def reckoning(workshop: Workshop) -> Reckoning:
    """What the shop reckons with now."""
    planning = workshop.book.planning()
    bins = workshop.book.bins()
    return Reckoning(
        planning=planning,
        prices={key: price_of(kind, bins, planning) for key, kind in workshop.shelf.part_types.items()},
    )


def price_of(kind: PartType, bins: Sequence[Bin], planning: Planning) -> Price:
    """The price of the bin that was counted last, else the shelf's, else the usual one."""
    priced = [(each.counted_at, each.id, each.price) for each in bins if each.kind == kind.key and each.price]
    if priced:
        return Price(amount=float(max(priced)[2] or 0), whence=Whence.BIN)
    if kind.price:
        return Price(amount=float(kind.price), whence=Whence.SHELF)
    return Price(amount=float(planning.usual_price), whence=Whence.USUAL)
