"""How long a heater ran and how often it started: by its meter, by logs of it, else estimated."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from itertools import pairwise

from lightoff.ground.estimate import Estimate
from lightoff.ground.units import to_si
from lightoff.ground.values import dataclass
from lightoff.terms.trace import Trace
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
SEASON_SPREAD = 0.9
"""Spread of the logarithm by which one week's pace may differ from the year's: a heater may run day and night
in January and not at all in July. Judgement, no source."""
LEAST_OF_USUAL = 0.05
"""A log without a burn says little, but not that the heater never runs. Judgement, no source."""
MONTHS_A_YEAR = 12.0
SAME_VISIT = timedelta(hours=18)
COVERAGE = 0.95
_LONG_AGO = datetime(2000, 1, 1, tzinfo=UTC)  # only differences from it are ever used
_READS = {Clock.RUN_HOURS: "hour_meter", Clock.STARTS: "starts_count"}


class Evidence(StrEnum):
    """What tells how far a heater ran, the best first."""

    METER = "meter"
    TRACE = "trace"
    ESTIMATE = "estimate"


@dataclass(frozen=True, slots=True, kw_only=True)
class Between:
    """What a heater did between two neighbouring moments, by the best that tells it; ends with coverage."""

    evidence: Evidence
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Counter:
    """What is known of one counter, oldest first, as a sum that never falls: a new meter goes on.

    `between` stands for each two neighbouring moments. `pace` is what the heater does in a month and `spread`
    that of its logarithm: by its meter, else by its traces, else the usual, as `pace_by` says.
    """

    clock: Clock
    moments: tuple[datetime, ...] = ()
    sums: tuple[float, ...] = ()
    gaps: tuple[Between, ...] = ()
    pace: float
    spread: float
    pace_by: Evidence

    def between(self, start: datetime, end: datetime) -> Estimate:
        """What it did between two moments; nought where `end` is not after `start`."""
        value = low = high = 0.0
        for one, other, gap in self._stretches(start, end):
            did = self._sum_at(other) - self._sum_at(one)
            at = bisect_right(self.moments, one)
            if gap is None:
                factor = math.exp(2.0 * self.spread)
                ends = did / factor, did * factor
            elif other == self.moments[at] and one == self.moments[at - 1]:
                ends = gap.low, gap.high
            else:
                # Within a gap between two readings nobody saw when in it the heater ran.
                share = (other - one) / (self.moments[at] - self.moments[at - 1])
                factor = math.exp(2.0 * max(self.spread, OWN_SPREAD))
                ends = share * gap.low / factor, share * gap.high * factor
            value, low, high = value + did, low + min(ends[0], did), high + max(ends[1], did)
        return Estimate(value=value, low=low, high=high, coverage=COVERAGE)

    def told_by(self, start: datetime, end: datetime) -> Mapping[Evidence, float]:
        """Which share of the time between two moments each evidence tells; empty where there is none."""
        whole = (end - start) / MONTH
        shares = dict.fromkeys(Evidence, 0.0)
        if whole <= 0.0:
            return {}
        for one, other, gap in self._stretches(start, end):
            shares[Evidence.ESTIMATE if gap is None else gap.evidence] += (other - one) / MONTH / whole
        return {each: share for each, share in shares.items() if share > 0.0}

    def did(self, start: datetime, end: datetime) -> float:
        """The same as `between` without its doubt, which takes far longer to work out."""
        return max(self._sum_at(end) - self._sum_at(start), 0.0) if end > start else 0.0

    def _stretches(
        self, start: datetime, end: datetime
    ) -> Iterator[tuple[datetime, datetime, Between | None]]:
        """The time between two moments, cut where something was read; None where nothing was on one side."""
        if end <= start:
            return
        start, end = self._nearest(start), self._nearest(end)
        marks = sorted({start, end, *(each for each in self.moments if start < each < end)})
        for one, other in pairwise(marks):
            at = bisect_right(self.moments, one)
            yield one, other, self.gaps[at - 1] if 0 < at < len(self.moments) else None

    def _sum_at(self, moment: datetime) -> float:
        """The sum at a moment: along the readings, and at the heater's pace before and after them."""
        moment, moments, sums = self._nearest(moment), self.moments, self.sums
        if not moments:
            return self.pace * ((moment - _LONG_AGO) / MONTH)
        at = bisect_right(moments, moment)
        if at == 0:
            return sums[0] - self.pace * ((moments[0] - moment) / MONTH)
        if at == len(moments):
            return sums[-1] + self.pace * ((moment - moments[-1]) / MONTH)
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
        return months * counter.pace, counter.spread


def running(counters: Iterable[Reading], traces: Iterable[Trace] = ()) -> Running:
    """The counters of one heater from all that was read of them and found in its logs, in any order.

    Where a meter was read before and after, the meter tells; where a log lies outside that, the log; the
    rest is estimated at the pace of the meter, else of the logs, else at the usual one.
    """
    read: dict[str, list[tuple[datetime, float]]] = {key: [] for key in _READS.values()}
    for each in counters:
        if each.key in read and each.value is not None and each.taken_at is not None:
            per = HOUR_S if each.key == "hour_meter" else 1.0
            read[each.key].append((each.taken_at, to_si(float(each.value), each.unit) / per))
    logs = sorted(traces, key=lambda each: (each.began_at, each.id))
    told = {
        clock: _counter(clock, sorted(read[key]), [_told(clock, each) for each in logs])
        for clock, key in _READS.items()
    }
    return Running(run_hours=told[Clock.RUN_HOURS], starts=told[Clock.STARTS])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Log:
    """What one log tells on one clock; `months` are those that it recorded."""

    began_at: datetime
    ended_at: datetime
    months: float
    value: float
    low: float
    high: float


def _told(clock: Clock, trace: Trace) -> _Log:
    if clock is Clock.RUN_HOURS:
        seconds = trace.burned_s, trace.burned_low_s, trace.burned_high_s
        value, low, high = (float(each) / HOUR_S for each in seconds)
    else:
        value, unsure = float(trace.starts), trace.starts_unsure
        low, high = max(value - unsure, 0.0), value + unsure
    return _Log(
        began_at=trace.began_at,
        ended_at=trace.ended_at,
        months=float(trace.logged_s) / MONTH.total_seconds(),
        value=value,
        low=low,
        high=high,
    )


def _counter(clock: Clock, read: list[tuple[datetime, float]], logs: list[_Log]) -> Counter:
    moments, sums, last = list[datetime](), list[float](), 0.0
    for at, shown in read:
        if moments and at == moments[-1]:
            continue
        # A number below the last is a new meter, which began at nought.
        went = shown if not moments or shown < last else shown - last
        sums.append(went if not sums else sums[-1] + went)
        moments.append(at)
        last = shown
    pace, spread, pace_by = _pace(clock, moments, sums, logs)
    gaps = [
        Between(evidence=Evidence.METER, low=other - one, high=other - one) for one, other in pairwise(sums)
    ]
    before = [log for log in logs if moments and log.ended_at <= moments[0]]
    after = [log for log in logs if not moments or log.ended_at > moments[-1]]
    made = Counter(
        clock=clock,
        moments=tuple(moments),
        sums=tuple(sums),
        gaps=tuple(gaps),
        pace=pace,
        spread=spread,
        pace_by=pace_by,
    )
    for log in after:
        made = _longer(made, log)
    return _earlier(made, before) if before else made


def _pace(
    clock: Clock, moments: Sequence[datetime], sums: Sequence[float], logs: Sequence[_Log]
) -> tuple[float, float, Evidence]:
    """What it does in a month, the spread of its logarithm, and by what."""
    months = (moments[-1] - moments[0]) / MONTH if moments else 0.0
    if months >= LEAST_PACE_MONTHS:
        return (sums[-1] - sums[0]) / months, OWN_SPREAD, Evidence.METER
    usual, logged = USUAL_A_MONTH[clock], sum(each.months for each in logs)
    if logged <= 0.0:
        return usual, USUAL_SPREAD, Evidence.ESTIMATE
    # A week in January says little of the year: the less of a year was recorded, the nearer to the usual.
    seen = max(sum(each.value for each in logs) / logged, usual * LEAST_OF_USUAL)
    unseen = max(1.0 - logged / MONTHS_A_YEAR, 0.0)
    variance = OWN_SPREAD**2 + unseen * SEASON_SPREAD**2
    weight = USUAL_SPREAD**2 / (USUAL_SPREAD**2 + variance)
    pace = math.exp(weight * math.log(seen) + (1.0 - weight) * math.log(usual))
    return pace, math.sqrt(weight * variance), Evidence.TRACE


def _longer(counter: Counter, log: _Log) -> Counter:
    """The counter with what a log tells behind its last moment; what overlaps is not counted twice."""
    moments, sums, gaps = list(counter.moments), list(counter.sums), list(counter.gaps)
    start = log.began_at
    if moments and start > moments[-1]:
        guessed = counter.pace * ((start - moments[-1]) / MONTH)
        gaps.append(_guessed(guessed, counter.spread))
        moments.append(start)
        sums.append(sums[-1] + guessed)
    elif not moments:
        moments, sums = [start], [0.0]
    start = moments[-1]
    if log.ended_at <= start:
        return counter
    value, between = _within(log, (log.ended_at - start) / (log.ended_at - log.began_at), counter)
    moments.append(log.ended_at)
    sums.append(sums[-1] + value)
    return replace(counter, moments=tuple(moments), sums=tuple(sums), gaps=(*gaps, between))


def _earlier(counter: Counter, logs: Sequence[_Log]) -> Counter:
    """The counter with logs from before its first moment: their own course, put in front of it."""
    front = replace(counter, moments=(), sums=(), gaps=())
    for log in logs:
        front = _longer(front, log)
    guessed = counter.pace * ((counter.moments[0] - front.moments[-1]) / MONTH)
    back = counter.sums[0] - guessed - front.sums[-1]
    return replace(
        counter,
        moments=(*front.moments, *counter.moments),
        sums=(*(each + back for each in front.sums), *counter.sums),
        gaps=(*front.gaps, _guessed(guessed, counter.spread), *counter.gaps),
    )


def _within(log: _Log, share: float, counter: Counter) -> tuple[float, Between]:
    """What it did in the span of a log, or in the last share of it: as recorded, and at its pace in gaps."""
    months = max((log.ended_at - log.began_at) / MONTH - log.months, 0.0)
    factor = math.exp(2.0 * counter.spread)
    missed = counter.pace * months
    low, high = log.low + missed / factor, log.high + missed * factor
    return share * (log.value + missed), Between(evidence=Evidence.TRACE, low=share * low, high=share * high)


def _guessed(value: float, spread: float) -> Between:
    factor = math.exp(2.0 * spread)
    return Between(evidence=Evidence.ESTIMATE, low=value / factor, high=value * factor)
