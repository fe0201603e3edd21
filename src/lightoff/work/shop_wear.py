"""What the shop sees of its parts and heaters: lives by part type, come-backs, repairs, troublemakers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np

from lightoff.ground.errors import NotFound
from lightoff.ground.estimate import Estimate
from lightoff.ground.message import message
from lightoff.ground.values import dataclass
from lightoff.records import VisitHead
from lightoff.terms.shelf import PartType
from lightoff.wear.clocks import BestClock
from lightoff.wear.fleet import CumulativeIncidence, SurvivalCurve, cumulative_incidence, survival_curve
from lightoff.wear.lives import Clock, Life
from lightoff.wear.posterior import LifePosterior, LifePrior, possible_lives
from lightoff.wear.repeats import (
    COME_BACK_DAYS,
    ComeBacks,
    Gap,
    History,
    MeanCumulative,
    Troublemaker,
    come_back_rate,
    mean_cumulative,
    troublemakers,
)
from lightoff.work.fleet import Fleet, fleet, prior_of
from lightoff.work.pieces import Piece
from lightoff.work.units import Unit
from lightoff.work.workshop import Workshop

_DAY = timedelta(days=1)
_ENDS = 40  # places of a smooth curve
UNSAID = "unsaid"
"""The cause of a failure of which nobody said what ended the piece."""
_SPENT = 0.02  # below this share still good a curve is drawn no further


@dataclass(frozen=True, slots=True, kw_only=True)
class PartLives:
    """A part type with all its lives, whatever the heater type, and what they and the judgement allow."""

    kind: PartType
    life_count: int
    failure_count: int
    possible: LifePosterior
    prior: LifePrior


@dataclass(frozen=True, slots=True, kw_only=True)
class FailedPiece:
    """A piece that was found failed: its heater, when, and its life."""

    heater: str
    on: datetime
    life: Life


@dataclass(frozen=True, slots=True, kw_only=True)
class PartCourse:
    """One part type in full: its curve, the possible lives over it, by heater type, its best clock.

    `causes` are the shares by what ended the pieces, None where nobody said.
    `smooth` are points of the possible share still good, `judged` of what was held before any was seen.
    """

    lives: PartLives
    curve: SurvivalCurve
    oldest: float
    smooth: tuple[tuple[float, Estimate], ...]
    judged: tuple[tuple[float, float], ...]
    by_type: tuple[tuple[str, LifePosterior], ...]
    clock: BestClock | None
    causes: CumulativeIncidence | None
    failed: tuple[FailedPiece, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopWear:
    """The shop's view. What no data tells yet is None."""

    parts: tuple[PartLives, ...]
    come_backs: ComeBacks | None
    came_back: tuple[tuple[VisitHead, VisitHead], ...]
    repairs: MeanCumulative | None
    heater_count: int
    repair_count: int
    longest_days: float
    trouble: tuple[tuple[Unit, Troublemaker], ...]


def shop_wear(workshop: Workshop, now: datetime) -> ShopWear:
    """Part types with lives, those with most failures first; come-backs, repairs and who stands out."""
    every = fleet(workshop, now)
    return every.remembered(("shop wear", now.date()), lambda: _shop_wear(every, now))


def part_course(workshop: Workshop, key: str, now: datetime) -> PartCourse:
    """One part type in full. Raises NotFound for one that the shelf has not, or without a life."""
    every = fleet(workshop, now)
    return every.remembered(("course", key, now.date()), lambda: _part_course(every, key))


def _shop_wear(every: Fleet, now: datetime) -> ShopWear:
    units = list(every.units.values())
    gaps, came_back = _gaps(units, now)
    histories = {unit.heater.id: history for unit in units if (history := _history(unit, now)) is not None}
    found = [lives for kind in every.shelf.part_types.values() if (lives := _lives(every, kind)) is not None]
    trouble = troublemakers(list(histories.values())) if len(histories) > 1 else ()
    return ShopWear(
        parts=tuple(sorted(found, key=lambda each: (-each.failure_count, -each.life_count, each.kind.key))),
        come_backs=come_back_rate(gaps) if gaps else None,
        came_back=tuple(sorted(came_back, key=lambda each: each[1].started_at, reverse=True)),
        repairs=mean_cumulative(list(histories.values())) if histories else None,
        heater_count=len(histories),
        repair_count=sum(len(each.repairs) for each in histories.values()),
        longest_days=max((each.until for each in histories.values()), default=0.0),
        trouble=tuple((every.units[each.heater], each) for each in trouble),
    )


def _lives(every: Fleet, kind: PartType) -> PartLives | None:
    """All heater types together, None where no life is known."""
    found = every.possible(kind, "")
    if not found.life_count:
        return None
    return PartLives(
        kind=kind,
        life_count=found.life_count,
        failure_count=found.failure_count,
        possible=found,
        prior=prior_of(kind),
    )


def _part_course(every: Fleet, key: str) -> PartCourse:
    kind = every.shelf.part_types.get(key)
    found = None if kind is None else _lives(every, kind)
    if kind is None or found is None:
        raise NotFound(message("shop_wear.no_life", part=key[:60]))
    by_type = every.lives(kind)
    lives = [each for some in by_type.values() for each in some]
    curve = survival_curve(lives)
    oldest = _oldest(lives, found.possible)
    ages = np.linspace(0.0, oldest, _ENDS)
    held = possible_lives((), found.prior)
    return PartCourse(
        lives=found,
        curve=curve,
        oldest=oldest,
        smooth=tuple(zip(ages.tolist(), found.possible.survival(ages.tolist()), strict=True)),
        judged=tuple(
            (at, each.value) for at, each in zip(ages.tolist(), held.survival(ages.tolist()), strict=True)
        ),
        by_type=tuple((sheet, every.possible(kind, sheet)) for sheet in sorted(by_type)),
        clock=every.best_clock(kind),
        causes=_causes(lives),
        failed=_failed(every.units.values(), kind),
    )


def _oldest(lives: Iterable[Life], possible: LifePosterior) -> float:
    """Where the drawing ends: a little beyond the oldest piece, sooner where hardly any is left."""
    seen = max(each.left if each.right is None else each.right for each in lives)
    ages = np.linspace(0.0, 1.1 * seen, 200)
    left = possible.weights @ np.exp(possible.log_survival(ages))
    spent = np.flatnonzero(left < _SPENT)
    return float(ages[spent[0]] if spent.size else ages[-1])


def _causes(lives: Sequence[Life]) -> CumulativeIncidence | None:
    """What ended how many by age; None where nobody said of any failure what ended it."""
    if not any(each.cause for each in lives):
        return None
    return cumulative_incidence(
        [replace(each, cause=UNSAID) if each.failed and not each.cause else each for each in lives]
    )


def _failed(units: Iterable[Unit], kind: PartType) -> tuple[FailedPiece, ...]:
    found = []
    for unit in units:
        for piece in unit.pieces:
            life = piece.life(Clock(kind.clock), heater_type=unit.heater.sheet) if piece.failed else None
            if life is not None and piece.part.kind == kind.key:
                found.append(FailedPiece(heater=unit.heater.id, on=piece.since, life=life))
    return tuple(sorted(found, key=lambda each: each.on, reverse=True))


def _gaps(units: Iterable[Unit], now: datetime) -> tuple[list[Gap], list[tuple[VisitHead, VisitHead]]]:
    """Days from each visit to the next of its heater, and the pairs that lie close together."""
    gaps, close = list[Gap](), list[tuple[VisitHead, VisitHead]]()
    for unit in units:
        for one, other in pairwise(unit.visits):
            days = (other.started_at - one.started_at) / _DAY
            gaps.append(Gap(days=days, came_back=True))
            if days <= COME_BACK_DAYS:
                close.append((one, other))
        for last in unit.visits[-1:]:
            gaps.append(Gap(days=max((now - last.started_at) / _DAY, 0.0), came_back=False))
    return gaps, close


def _history(unit: Unit, now: datetime) -> History | None:
    """Visits after the first on which a part was found failed, in days since the first; None without one."""
    if not unit.visits or (now - unit.visits[0].started_at) <= _DAY:
        return None
    first = unit.visits[0].started_at
    days = sorted({round((each.since - first) / _DAY) for each in _failures(unit.pieces)})
    until = (now - first) / _DAY
    repairs = tuple(float(each) for each in days if 0.0 < each <= until)
    return History(heater=unit.heater.id, repairs=repairs, until=until)


def _failures(pieces: Sequence[Piece]) -> list[Piece]:
    return [each for each in pieces if each.failed]
