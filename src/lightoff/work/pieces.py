"""Each piece of a heater: where it is, since when, and the life it has used on each clock."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import field, replace
from datetime import UTC, datetime, time
from enum import StrEnum

from lightoff.ground.estimate import Estimate
from lightoff.ground.values import dataclass
from lightoff.terms.part import Move, MoveKind, Part
from lightoff.wear.lives import Clock, Life
from lightoff.work.running import COVERAGE, SAME_VISIT, Running


class Where(StrEnum):
    """Where a piece is now."""

    FITTED = "fitted"
    SPARE = "spare"
    GONE = "gone"


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One piece with its life so far; what it has used of it is worked out when it is asked for.

    `cause` is the fault that ended a failed one, "" where nobody said.
    `began` is when its life began, None where nobody can say; `seen` when it was first seen, `spans` when it
    sat in the heater, `good_till` when somebody last saw it at work: what has become of it since, nobody
    knows.
    """

    part: Part
    where: Where
    since: datetime
    failed: bool
    cause: str
    began: datetime | None
    seen: datetime
    spans: tuple[tuple[datetime, datetime], ...]
    good_till: datetime
    runs: Running = field(repr=False)

    @property
    def used(self) -> Mapping[Clock, Estimate]:
        """The life used on each clock; none where nobody can say."""
        told = {clock: self.used_on(clock) for clock in Clock}
        return {clock: used for clock, used in told.items() if used is not None}

    @property
    def entered(self) -> Mapping[Clock, float]:
        """The life that it had used when it was first seen, nought for a new one."""
        return {} if self.began is None else {clock: self._entered(clock) for clock in Clock}

    def used_on(self, clock: Clock) -> Estimate | None:
        """The life used on one clock; None where nobody can say."""
        return None if self.began is None else _sum(self.runs, clock, self.spans, self._entered(clock))

    def age_on(self, clock: Clock) -> float | None:
        """The same without its doubt, which takes far longer to work out."""
        return None if self.began is None else self._entered(clock) + self._did(clock, None)

    def as_of(self, now: datetime, *, seen_on: Sequence[datetime]) -> Piece:
        """The same piece at another moment: one that sits in the heater has sat there till then."""
        if self.where is not Where.FITTED:
            return self
        since = self.spans[-1][0]
        good_till = _last_seen(since, seen_on, now)
        return replace(self, spans=(*self.spans[:-1], (since, now)), good_till=good_till)

    @property
    def entered_late(self) -> bool:
        """Whether it was first seen already at work, or nobody can say since when it has been."""
        return self.began is None or self.began < self.seen

    def life(self, clock: Clock, *, heater_type: str) -> Life | None:
        """Its life as wear counts it; None where nobody can say how much of it is used."""
        if self.began is None:
            return None
        entered = self._entered(clock)
        used = entered + self._did(clock, None)
        good = min(max(entered + self._did(clock, self.good_till), entered), used)
        if used <= entered or (good <= entered and not self.failed):
            return None
        return Life(
            clock=clock,
            left=good,
            right=used if self.failed else None,
            entered=entered,
            cause=self.cause,
            piece=self.part.id,
            heater_type=heater_type,
        )

    def _entered(self, clock: Clock) -> float:
        return 0.0 if self.began is None else self.runs.did(clock, self.began, self.seen)

    def _did(self, clock: Clock, till: datetime | None) -> float:
        """What it went through in the heater, up to a moment."""
        return sum(
            self.runs.did(clock, start, end if till is None else min(end, till)) for start, end in self.spans
        )


def pieces(
    parts: Iterable[Part],
    moves: Iterable[Move],
    runs: Running,
    *,
    now: datetime,
    seen_on: Sequence[datetime] = (),
    fitted_on: datetime | None = None,
) -> tuple[Piece, ...]:
    """The pieces of one heater as they are now; one of which nothing is told but its name is left out.

    `seen_on` are the moments of the heater's visits, oldest first: what failed between two was good at the
    first.
    `fitted_on` is when the heater itself was fitted, which bounds the age of what was found in it.
    """
    told: dict[str, list[Move]] = {}
    for move in sorted(moves, key=lambda each: (each.at, each.id)):
        told.setdefault(move.part, []).append(move)
    return tuple(
        _piece(part, told[part.id], runs, now=now, seen_on=seen_on, fitted_on=fitted_on)
        for part in parts
        if part.id in told
    )


def _piece(
    part: Part,
    moves: Sequence[Move],
    runs: Running,
    *,
    now: datetime,
    seen_on: Sequence[datetime],
    fitted_on: datetime | None,
) -> Piece:
    start = _before(part, moves[0], fitted_on)
    spans, at_work = list[tuple[datetime, datetime]](), moves[0].at
    fitted = False
    for move in moves:
        if move.kind in (MoveKind.FOUND, MoveKind.FITTED):
            if not fitted:
                at_work = move.at
            fitted = True
        elif fitted:
            spans.append((at_work, move.at))
            fitted = False
    if fitted:
        spans.append((at_work, now))
    last = moves[-1]
    failed = last.kind is MoveKind.FAILED
    # Taken out working it was good to the end; else to the last visit that came by, or to when it was fitted.
    whole = not fitted and not failed
    good_till = last.at if whole else _last_seen(at_work, seen_on, last.at - SAME_VISIT if failed else now)
    return Piece(
        part=part,
        where=Where.FITTED if fitted else Where.SPARE if last.kind is MoveKind.KEPT else Where.GONE,
        since=last.at,
        failed=failed,
        cause=last.cause if failed else "",
        began=start,
        seen=moves[0].at,
        spans=tuple(spans),
        good_till=good_till,
        runs=runs,
    )


def _last_seen(at_work: datetime, seen_on: Sequence[datetime], before: datetime) -> datetime:
    """When somebody last saw it at work: as it went in, or on the last visit before then."""
    seen = [each for each in seen_on if each < before]
    return max([at_work, *seen[-1:]])


def _before(part: Part, first: Move, fitted_on: datetime | None) -> datetime | None:
    """When its life began: as it was fitted; by its stamp or the heater's age where it was found."""
    if first.kind is not MoveKind.FOUND:
        return first.at
    stamped = datetime.combine(part.stamped_on, time(12), UTC) if part.stamped_on else None
    began = stamped or fitted_on
    return began if began is not None and began <= first.at else None


def _sum(runs: Running, clock: Clock, spans: Sequence[tuple[datetime, datetime]], before: float) -> Estimate:
    each = [runs.between(clock, start, end) for start, end in spans]
    return Estimate(
        value=before + sum(one.value for one in each),
        low=before + sum(one.low for one in each),
        high=before + sum(one.high for one in each),
        coverage=COVERAGE,
    )
