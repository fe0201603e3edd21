"""How long a heater ran and how often it started between two moments: from its counters, else estimated."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise

from lightoff.ground.estimate import Estimate
from lightoff.ground.units import to_si
from lightoff.terms.visit import Reading
from lightoff.wear.lives import Clock

MONTH = timedelta(days=30.4375)
HOUR_S = 3600.0
USUAL_A_MONTH = {Clock.RUN_HOURS: 45.0, Clock.STARTS: 70.0}
"""What a heater runs and starts in a month where no counter tells. Judgement, no source: a heated season of
half a year at some three hours a day, spread over the year."""
USUAL_SPREAD, OWN_SPREAD = 0.7, 0.3
"""Spread of the logarithm: of that guess, and of a time beyond the counter's readings at the heater's own
pace. Judgement, no source."""
LEAST_PACE_MONTHS = 2.0
"""Counter readings closer together than this tell no pace."""
SAME_VISIT = timedelta(hours=18)
COVERAGE = 0.95
_LONG_AGO = datetime(2000, 1, 1, tzinfo=UTC)  # only differences from it are ever used
_READS = {Clock.RUN_HOURS: "hour_meter", Clock.STARTS: "starts_count"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Counter:
    """What one counter has shown, oldest first, as a sum that never falls: a new meter goes on from the old.

    `pace` is what the heater does in a month, None where the readings tell none.
    """

    clock: Clock
    moments: tuple[datetime, ...] = ()
    sums: tuple[float, ...] = ()

    @property
    def pace(self) -> float | None:
        """Per month, over all that was read."""
        if len(self.moments) < 2:
            return None
        months = (self.moments[-1] - self.moments[0]) / MONTH
        return (self.sums[-1] - self.sums[0]) / months if months >= LEAST_PACE_MONTHS else None

    @property
    def spread(self) -> float:
        """Spread of the logarithm of what is not read but estimated."""
        return USUAL_SPREAD if self.pace is None else OWN_SPREAD

    def a_month(self) -> float:
        """What it does in a month: its own pace, else the usual one."""
        return USUAL_A_MONTH[self.clock] if self.pace is None else self.pace

    def between(self, start: datetime, end: datetime) -> Estimate:
        """What it did between two moments; nought where `end` is not after `start`."""
        if end <= start:
            return Estimate(value=0.0, low=0.0, high=0.0, coverage=COVERAGE)
        start, end = self._nearest(start), self._nearest(end)
        read = guessed = 0.0
        marks = sorted({start, end, *(each for each in self.moments if start < each < end)})
        for one, other in pairwise(marks):
            at = bisect_right(self.moments, one)
            share = (other - one) / MONTH
            if 0 < at < len(self.moments):
                whole = (self.moments[at] - self.moments[at - 1]) / MONTH
                did = (self.sums[at] - self.sums[at - 1]) * share / whole
                # Within a gap between two readings nobody saw when in it the heater ran.
                seen = other == self.moments[at] and one == self.moments[at - 1]
                read, guessed = (read + did, guessed) if seen else (read, guessed + did)
            else:
                guessed += self.a_month() * share
        factor = math.exp(2.0 * self.spread)
        return Estimate(
            value=read + guessed, low=read + guessed / factor, high=read + guessed * factor, coverage=COVERAGE
        )

    def did(self, start: datetime, end: datetime) -> float:
        """The same without its doubt, which takes far longer to work out."""
        return max(self._sum_at(end) - self._sum_at(start), 0.0) if end > start else 0.0

    def _sum_at(self, moment: datetime) -> float:
        """The sum at a moment: along the readings, and at the heater's pace before and after them."""
        moment, moments, sums = self._nearest(moment), self.moments, self.sums
        if not moments:
            return self.a_month() * ((moment - _LONG_AGO) / MONTH)
        at = bisect_right(moments, moment)
        if at == 0:
            return sums[0] - self.a_month() * ((moments[0] - moment) / MONTH)
        if at == len(moments):
            return sums[-1] + self.a_month() * ((moment - moments[-1]) / MONTH)
        share = (moment - moments[at - 1]) / (moments[at] - moments[at - 1])
        return sums[at - 1] + (sums[at] - sums[at - 1]) * share

    def _nearest(self, moment: datetime) -> datetime:
        """The reading of the same visit, where there is one: the heater hardly ran between the two."""
        at = bisect_right(self.moments, moment)
        near = min(self.moments[max(at - 1, 0) : at + 1], key=lambda each: abs(each - moment), default=moment)
        return near if abs(near - moment) < SAME_VISIT else moment


@dataclass(frozen=True, slots=True, kw_only=True)
class Running:
    """The counters of one heater; months are told by the calendar."""

    run_hours: Counter
    starts: Counter

    def between(self, clock: Clock, start: datetime, end: datetime) -> Estimate:
        """What a part that sat in this heater between two moments went through, on one clock."""
        if clock is Clock.MONTHS:
            months = max((end - start) / MONTH, 0.0)
            return Estimate(value=months, low=months, high=months, coverage=1.0)
        return (self.run_hours if clock is Clock.RUN_HOURS else self.starts).between(start, end)

    def did(self, clock: Clock, start: datetime, end: datetime) -> float:
        """The same without its doubt."""
        if clock is Clock.MONTHS:
            return max((end - start) / MONTH, 0.0)
        return (self.run_hours if clock is Clock.RUN_HOURS else self.starts).did(start, end)

    def ahead(self, clock: Clock, months: float) -> tuple[float, float]:
        """What is expected in so many months to come, and the spread of its logarithm."""
        if clock is Clock.MONTHS:
            return months, 0.0
        counter = self.run_hours if clock is Clock.RUN_HOURS else self.starts
        return months * counter.a_month(), counter.spread


def running(counters: Iterable[Reading]) -> Running:
    """The counters of one heater from all that was read of them, in any order."""
    read: dict[str, list[tuple[datetime, float]]] = {key: [] for key in _READS.values()}
    for each in counters:
        if each.key in read and each.value is not None and each.taken_at is not None:
            per = HOUR_S if each.key == "hour_meter" else 1.0
            read[each.key].append((each.taken_at, to_si(float(each.value), each.unit) / per))
    told = {clock: _counter(clock, sorted(read[key])) for clock, key in _READS.items()}
    return Running(run_hours=told[Clock.RUN_HOURS], starts=told[Clock.STARTS])


def _counter(clock: Clock, read: list[tuple[datetime, float]]) -> Counter:
    moments, sums, last = list[datetime](), list[float](), 0.0
    for at, shown in read:
        if moments and at == moments[-1]:
            continue
        # A number below the last is a new meter, which began at nought.
        went = shown if not moments or shown < last else shown - last
        sums.append(went if not sums else sums[-1] + went)
        moments.append(at)
        last = shown
    return Counter(clock=clock, moments=tuple(moments), sums=tuple(sums))
