"""How long one heater ran and how often it started, and what tells it: meter, logs, estimate."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, time
from itertools import pairwise

from lightoff.ground.estimate import Estimate
from lightoff.ground.message import Message, message
from lightoff.ground.values import dataclass
from lightoff.terms.people import Heater
from lightoff.terms.trace import Trace
from lightoff.work.running import Counter, Evidence, Running, running
from lightoff.work.workshop import Workshop

_KEYS = {
    Evidence.METER: "running.by_meter",
    Evidence.TRACE: "running.by_trace",
    Evidence.ESTIMATE: "running.by_estimate",
}
_PACES = {
    Evidence.METER: "running.pace_of_meter",
    Evidence.TRACE: "running.pace_of_trace",
    Evidence.ESTIMATE: "running.pace_usual",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A piece of a heater's life, told by one evidence: the run hours till its two ends, with their doubt."""

    start: datetime
    end: datetime
    evidence: Evidence
    till_start: Estimate
    till_end: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class Ran:
    """What a heater has run since it was fitted, or since it was first seen where nobody said.

    `since` is None where neither is known; nothing can be said then.
    """

    heater: Heater
    runs: Running
    traces: tuple[Trace, ...]
    since: datetime | None
    now: datetime

    @property
    def run_hours(self) -> Estimate:
        """Run hours so far."""
        return self._so_far(self.runs.run_hours)

    @property
    def starts(self) -> Estimate:
        """Starts so far."""
        return self._so_far(self.runs.starts)

    def stretches(self) -> tuple[Stretch, ...]:
        """Its life from reading to reading, for a picture."""
        if self.since is None:
            return ()
        counter, since, now = self.runs.run_hours, self.since, self.now
        marks = sorted({since, now, *(each for each in counter.moments if since < each < now)})
        told = [counter.between(since, each) for each in marks]
        return tuple(
            Stretch(
                start=one,
                end=other,
                evidence=next(iter(counter.told_by(one, other)), Evidence.ESTIMATE),
                till_start=told[at],
                till_end=told[at + 1],
            )
            for at, (one, other) in enumerate(pairwise(marks))
        )

    def says(self) -> tuple[Message, ...]:
        """How far it ran, what tells which part of that time, and at what pace the rest is reckoned."""
        if self.since is None:
            return (message("running.unknown"),)
        shares = self.runs.run_hours.told_by(self.since, self.now)
        counter = self.runs.run_hours
        parts = tuple(
            message(_KEYS[each], share=_percent(shares)[each]) for each in Evidence if each in shares
        )
        return (
            _said("running.hours", self.run_hours, since=self.since),
            _said("running.starts", self.starts, since=self.since),
            message("running.told_by", parts=parts),
            message(_PACES[counter.pace_by], hours=f"{counter.pace:.0f}"),
        )

    def _so_far(self, counter: Counter) -> Estimate:
        return counter.between(self.since or self.now, self.now)


def how_long_it_ran(workshop: Workshop, heater_id: str, now: datetime) -> Ran:
    """The running of one heater. Raises NotFound."""
    book = workshop.book
    heater = book.heater(heater_id)
    traces = book.traces(heater_id)
    runs = running(book.counters(heater_id), traces)
    if heater.fitted_on:
        since: datetime | None = datetime.combine(heater.fitted_on, time(12), UTC)
    else:
        since = min((*runs.run_hours.moments[:1], *runs.starts.moments[:1]), default=None)
    if since is not None and since >= now:
        since = None
    return Ran(heater=heater, runs=runs, traces=traces, since=since, now=now)


def rounded(value: float) -> str:
    """Run hours or starts as far as they are known: two figures, three from a hundred on."""
    if value >= 100.0:
        return f"{float(f'{value:.3g}'):,.0f}"
    return f"{value:.0f}"


def _percent(shares: Mapping[Evidence, float]) -> dict[Evidence, int]:
    """Whole per cent that add up to a hundred; what is there at all is at least one."""
    told = {each: max(round(100.0 * share), 1) for each, share in shares.items()}
    largest = max(told, key=lambda each: told[each])
    told[largest] += 100 - sum(told.values())
    return told


def _said(key: str, found: Estimate, *, since: datetime) -> Message:
    # What rounding alone would part is as good as known.
    sure = rounded(found.low) == rounded(found.high)
    return message(
        key if sure else f"{key}_about",
        value=rounded(found.value),
        low=rounded(found.low),
        high=rounded(found.high),
        since=since.date(),
    )
