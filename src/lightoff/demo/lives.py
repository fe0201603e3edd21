"""The invented shop's parts: pieces that live by a known truth, and what visits find of it.

Drawn beside the visits from a seed of their own, so that no reading of a visit depends on them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal

import numpy as np

from lightoff.ground.ids import RANDOM_BYTES, time_ordered_id
from lightoff.ground.values import dataclass
from lightoff.terms.case import Case
from lightoff.terms.part import Bin, Move, MoveKind, Part
from lightoff.terms.people import Heater
from lightoff.terms.shelf import PartType
from lightoff.terms.visit import Reading, Stage, Visit

TRUTH: Mapping[str, tuple[float, float]] = {
    "nozzle_filter": (1300.0, 2.2),
    "nozzle_ring": (52.0, 2.4),
    "fuel_filter": (1150.0, 2.0),
    "fuel_filter_seal": (60.0, 2.0),
    "intake_filter": (1500.0, 2.0),
    "nozzle": (3000.0, 2.3),
    "igniter": (3200.0, 2.2),
    "flame_sensor": (5200.0, 1.5),
    "compressor": (3600.0, 2.2),
    "fuel_pump": (4200.0, 1.7),
    "circulation_pump": (6500.0, 2.0),
}
"""Characteristic life in the part type's own clock, and Weibull shape, of the invented pieces."""
STARTS_AN_HOUR = 1.6
"""Starts for each hour of running, of every invented heater."""
_OLDEST_MONTHS = 30.0
_RETIRES_A_GOOD_ONE = 0.12
"""Chance that a working piece of a kept type is renewed to be on the safe side, and becomes the spare."""
_NOBODY_SAYS = 0.1
"""Chance that the cause of a failure is not written down."""
_COUNTER = "starts_count"
_MONTH = timedelta(days=30.4375)
_WHY = {
    MoveKind.SCRAPPED: "renewed by plan",
    MoveKind.KEPT: "renewed to be on the safe side",
    MoveKind.FAILED: "found no longer doing its work",
}
_IN_BINS = (("van", 3, 1), ("shop", 8, 3))
_AS_MANY = {True: 3, False: 1}  # of annual parts and of the others


@dataclass(frozen=True, slots=True, kw_only=True)
class InventedParts:
    """The cases with their moves and start counters, the pieces, and the bins."""

    cases: tuple[Case, ...]
    parts: tuple[Part, ...]
    bins: tuple[Bin, ...]


def invent_parts(
    rng: np.random.Generator, cases: Sequence[Case], kinds: Mapping[str, PartType], now: datetime
) -> InventedParts:
    """Pieces for every heater of these cases, from its first visit on."""
    by_heater: dict[str, list[Case]] = {}
    for case in cases:
        by_heater.setdefault(case.heater.id, []).append(case)
    parts, moves, counters = list[Part](), dict[str, list[Move]](), dict[str, Reading]()
    for heater_id in sorted(by_heater):
        told = _Heater(rng, by_heater[heater_id], counters, kinds)
        for kind in TRUTH:
            for part, part_moves in told.pieces_of(kinds[kind]):
                parts.append(part)
                for visit_id, move in part_moves:
                    moves.setdefault(visit_id, []).append(move)
    return InventedParts(
        cases=tuple(_with_parts(case, moves, counters) for case in cases),
        parts=tuple(parts),
        bins=_bins(rng, kinds, now),
    )


def _with_parts(case: Case, moves: Mapping[str, list[Move]], counters: Mapping[str, Reading]) -> Case:
    visit = case.visit
    readings = (*visit.readings, counters[visit.id]) if visit.id in counters else visit.readings
    told = sorted(moves.get(visit.id, ()), key=lambda each: (each.at, each.id))
    return replace(case, visit=replace(visit, readings=readings, moves=tuple(told)))


class _Heater:
    """One heater's visits with the hours that its meter showed."""

    def __init__(
        self,
        rng: np.random.Generator,
        cases: Sequence[Case],
        counters: dict[str, Reading],
        kinds: Mapping[str, PartType],
    ) -> None:
        self.rng, self.heater, self.kinds = rng, cases[0].heater, kinds
        self.visits = sorted((case.visit for case in cases), key=lambda each: each.started_at)
        self.hours = [_hours(each) for each in self.visits]
        for visit, hours in zip(self.visits, self.hours, strict=True):
            counters[visit.id] = Reading(
                id=_id(rng, visit.started_at),
                heater=self.heater.id,
                key=_COUNTER,
                stage=Stage.AS_FOUND,
                taken_at=visit.started_at + timedelta(minutes=4),
                value=Decimal(round(hours * STARTS_AN_HOUR)),
                unit="count",
            )

    def pieces_of(self, kind: PartType) -> list[tuple[Part, list[tuple[str, Move]]]]:
        """The pieces of one type, one after the other, each with its moves by visit."""
        first = self.visits[0]
        began = _fitted(self.heater, first.started_at, self.rng)
        part = Part(
            id=_id(self.rng, first.started_at), kind=kind.key, heater=self.heater.id, stamped_on=began
        )
        age = self._since(kind, began)
        life = self._life(kind, older_than=age)
        told = [(part, [self._move(0, part, MoveKind.FOUND)])]
        for at in range(1, len(self.visits)):
            age += self._between(kind, at - 1, at)
            end = self._end(at, kind, failed=age >= life)
            if end is None:
                continue
            told[-1][1].append(self._move(at, part, end))
            at_work = self.visits[at].started_at
            part = Part(id=_id(self.rng, at_work), kind=kind.key, heater=self.heater.id)
            told.append((part, [self._move(at, part, MoveKind.FITTED, minute=60)]))
            age, life = 0.0, self._life(kind)
        return told

    def _end(self, at: int, kind: PartType, *, failed: bool) -> MoveKind | None:
        visit = self.visits[at]
        if failed and (visit.closed_at is not None):
            return MoveKind.FAILED
        if not visit.service_complete:
            return None
        if kind.annual:
            return MoveKind.SCRAPPED
        if kind.kept and kind.carried and self.rng.random() < _RETIRES_A_GOOD_ONE:
            return MoveKind.KEPT
        return None

    def _life(self, kind: PartType, *, older_than: float = 0.0) -> float:
        """A life drawn from the truth, of one that has come so far already."""
        scale, shape = TRUTH[kind.key]
        left = float(self.rng.exponential()) + (older_than / scale) ** shape
        return float(scale * left ** (1.0 / shape))

    def _since(self, kind: PartType, began: date) -> float:
        months = (self.visits[0].started_at - datetime.combine(began, time(12), UTC)) / _MONTH
        return self._on(kind, months, months * self._hours_a_month())

    def _between(self, kind: PartType, one: int, other: int) -> float:
        months = (self.visits[other].started_at - self.visits[one].started_at) / _MONTH
        return self._on(kind, months, self.hours[other] - self.hours[one])

    def _on(self, kind: PartType, months: float, hours: float) -> float:
        match kind.clock:
            case "months":
                return months
            case "starts":
                return hours * STARTS_AN_HOUR
            case _:
                return hours

    def _hours_a_month(self) -> float:
        """Its own pace over all its visits, as the book will reckon it; a usual one for a single visit."""
        months = (self.visits[-1].started_at - self.visits[0].started_at) / _MONTH
        return (self.hours[-1] - self.hours[0]) / months if months > 1.0 else 40.0

    def _move(self, at: int, part: Part, kind: MoveKind, *, minute: float = 55) -> tuple[str, Move]:
        visit = self.visits[at]
        moment = visit.started_at + timedelta(minutes=minute)
        return visit.id, Move(
            id=_id(self.rng, moment),
            heater=self.heater.id,
            part=part.id,
            kind=kind,
            at=moment,
            why=_WHY.get(kind, ""),
            cause=self._cause(part) if kind is MoveKind.FAILED else "",
        )

    def _cause(self, part: Part) -> str:
        """What ended a piece: most often the fault that the shelf names first; now and then nobody says.

        Drawn by the piece's own id, so that nothing else depends on it.
        """
        faults = self.kinds[part.kind].faults
        own = np.random.default_rng(list(part.id.encode()))
        if not faults or own.random() < _NOBODY_SAYS:
            return ""
        weights = 0.5 ** np.arange(len(faults))
        return str(faults[int(own.choice(len(faults), p=weights / weights.sum()))])


def _hours(visit: Visit) -> float:
    return next(float(each.value or 0) for each in visit.readings if each.key == "hour_meter")


def _fitted(heater: Heater, first: datetime, rng: np.random.Generator) -> date:
    """When the piece in the heater was fitted: no longer ago than the heater itself."""
    began = first - _MONTH * float(rng.uniform(3.0, _OLDEST_MONTHS))
    return max(began.date(), heater.fitted_on or began.date())


def _bins(rng: np.random.Generator, kinds: Mapping[str, PartType], now: datetime) -> tuple[Bin, ...]:
    counted = now - timedelta(days=6)
    return tuple(
        Bin(
            id=_id(rng, counted),
            kind=kind.key,
            place=place,
            counted=int(rng.integers(0, most * _AS_MANY[kind.annual] + 1)),
            counted_at=counted,
            minimum=least * _AS_MANY[kind.annual],
        )
        for kind in kinds.values()
        if kind.carried or kind.annual
        for place, most, least in _IN_BINS
    )


def _id(rng: np.random.Generator, at: datetime) -> str:
    return time_ordered_id(at, rng.bytes(RANDOM_BYTES))
