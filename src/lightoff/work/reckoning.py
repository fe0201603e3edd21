"""What the shop reckons with: its planning, what each part costs, and how long the season still lasts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field
from datetime import UTC, datetime
from enum import StrEnum

from lightoff.ground.values import dataclass
from lightoff.terms.part import Bin
from lightoff.terms.people import Planning
from lightoff.terms.shelf import Interval, PartType, Sheet
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
class Asked:
    """So much of one clock from one service or renewal to the next, and whether the maker says so."""

    clock: Clock
    every: float
    by_maker: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Reckoning:
    """The shop's planning with the price of each part type, and what makers ask for."""

    planning: Planning
    prices: Mapping[str, Price]
    sheets: Mapping[str, Sheet] = field(default_factory=dict)

    def service(self, unit: Unit) -> tuple[Asked, ...]:
        """When a complete service of a heater is due again: the maker's word where there is one.

        The shop's own count beside it where somebody set them; its default months only where the maker says
        none.
        """
        sheet = self.sheets.get(unit.heater.sheet)
        maker = {} if sheet is None else sheet.service.told()
        asked = [Asked(clock=Clock(clock), every=every, by_maker=True) for clock, every in maker.items()]
        months, hours = float(self.planning.service_months), float(self.planning.service_hours)
        if "months" not in maker or months < min(maker["months"], Planning().service_months):
            asked.append(Asked(clock=Clock.MONTHS, every=months, by_maker=False))
        if hours:
            asked.append(Asked(clock=Clock.RUN_HOURS, every=hours, by_maker=False))
        return tuple(asked)

    def renewals(self, unit: Unit, kind: PartType) -> tuple[Asked, ...]:
        """When a part is renewed whatever its look: the maker's word, else the shelf's; none for most."""
        sheet = self.sheets.get(unit.heater.sheet)
        maker = {} if sheet is None else sheet.renewals.get(kind.key, Interval()).told()
        if maker:
            return tuple(
                Asked(clock=Clock(clock), every=every, by_maker=True) for clock, every in maker.items()
            )
        if kind.renew_every is None:
            return ()
        return (Asked(clock=Clock(kind.clock), every=kind.renew_every, by_maker=False),)

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
        sheets=workshop.shelf.sheets,
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
