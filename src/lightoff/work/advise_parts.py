"""What to do with each fitted part of a heater: renew, carry or leave, by all lives the shop has seen."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, time
from typing import TypeVar

from lightoff.ground.estimate import Estimate
from lightoff.shelf import Shelf
from lightoff.terms.part import Move, Part
from lightoff.terms.people import Heater
from lightoff.terms.shelf import PartType
from lightoff.terms.visit import Reading
from lightoff.wear.advice import Action, Advice, Costs, advise
from lightoff.wear.lives import Clock, Life
from lightoff.wear.posterior import LifePosterior, LifePrior, Use, possible_lives
from lightoff.work.last_few import LastFew
from lightoff.work.pieces import Piece, Where, pieces
from lightoff.work.running import MONTH, Running, running
from lightoff.work.workshop import Workshop

SEASON_ENDS = (5, 1)
"""Month and day by which it is spring. Common practice, no source."""
LEAST_MONTHS = 1.0
NO_PRICE = 50.0
"""What a part is taken to cost where the shop names no price. Judgement, no source."""
Spoken = TypeVar("Spoken", Part, Move, Reading)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """One heater with its counters and its pieces."""

    heater: Heater
    runs: Running
    pieces: tuple[Piece, ...]
    visited: tuple[datetime, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """One fitted piece: its type, and what to do with it; no advice where nobody can say how old it is.

    `spares` are the pieces of this type that the vehicle carries, the least used first.
    """

    piece: Piece
    kind: PartType
    advice: Advice | None
    spares: tuple[Piece, ...] = ()


def units(workshop: Workshop, now: datetime, *, heater_id: str | None = None) -> Mapping[str, Unit]:
    """Heaters with their pieces, by id: one, or all of the book."""
    book = workshop.book
    heaters = book.heaters() if heater_id is None else (book.heater(heater_id),)
    parts, moves = _by_heater(book.parts(heater_id)), _by_heater(book.moves(heater_id))
    counters = _by_heater(book.counters(heater_id))
    visited = book.visited(heater_id)
    made = {}
    for heater in heaters:
        runs = running(counters.get(heater.id, ()))
        began = datetime.combine(heater.fitted_on, time(12), UTC) if heater.fitted_on else None
        seen = visited.get(heater.id, ())
        made[heater.id] = Unit(
            heater=heater,
            runs=runs,
            pieces=pieces(
                parts.get(heater.id, ()),
                moves.get(heater.id, ()),
                runs,
                now=now,
                seen_on=seen,
                fitted_on=began,
            ),
            visited=seen,
        )
    return made


def unit_of(workshop: Workshop, heater_id: str, now: datetime) -> Unit:
    """One heater with its pieces. Raises NotFound."""
    return units(workshop, now, heater_id=heater_id)[heater_id]


class Fleet:
    """All heaters with their pieces, and the lives that are still possible, worked out once for each type."""

    def __init__(self, every: Mapping[str, Unit], shelf: Shelf, now: datetime) -> None:
        self.units, self.shelf, self.now = every, shelf, now
        self._lives: dict[str, Mapping[str, tuple[Life, ...]]] = {}
        self._possible: dict[tuple[str, str], LifePosterior] = {}

    def lives(self, kind: PartType) -> Mapping[str, tuple[Life, ...]]:
        """All lives of a part type on its own clock, by heater type."""
        if kind.key not in self._lives:
            self._lives[kind.key] = lives_of(self.units.values(), kind)
        return self._lives[kind.key]

    def possible(self, kind: PartType, sheet: str) -> LifePosterior:
        """The lives still possible for a part type in one heater type."""
        key = (kind.key, sheet)
        if key not in self._possible:
            self._possible[key] = possible(kind, self.lives(kind), sheet)
        return self._possible[key]

    def advised(self, unit: Unit, *, is_open: bool = False) -> tuple[Fitted, ...]:
        """Every fitted piece of a heater with its advice, the most pressing first."""
        kinds = self.shelf.part_types
        spares = sorted(
            (each for each in unit.pieces if each.where is Where.SPARE),
            key=lambda each: _used(each, self.shelf),
        )
        found = []
        for piece in unit.pieces:
            kind = kinds.get(piece.part.kind)
            if piece.where is not Where.FITTED or kind is None:
                continue
            alike = tuple(each for each in spares if each.part.kind == kind.key)
            told = self._advice(unit, piece, kind, is_open=is_open, has_spare=bool(alike))
            found.append(Fitted(piece=piece, kind=kind, advice=told, spares=alike))
        return tuple(sorted(found, key=_pressing))

    def chance_to_last(self, unit: Unit, piece: Piece, kind: PartType) -> Estimate | None:
        """Chance that a fitted piece lasts till spring; None where nobody can say how old it is."""
        clock = Clock(kind.clock)
        if clock not in piece.used:
            return None
        use = season_of(unit, clock, self.now)
        lives = self.possible(kind, unit.heater.sheet)
        return lives.chance_to_last(age=piece.used[clock].value, use=use)

    def _advice(
        self, unit: Unit, piece: Piece, kind: PartType, *, is_open: bool, has_spare: bool
    ) -> Advice | None:
        clock = Clock(kind.clock)
        if clock not in piece.used:
            return None
        return advise(
            self.possible(kind, unit.heater.sheet),
            part=f"@part.{kind.key}" if not kind.label else kind.label,
            age=piece.used[clock].value,
            season=season_of(unit, clock, self.now),
            costs=costs_of(kind),
            is_open=is_open,
            has_spare=has_spare,
        )


def fleet(workshop: Workshop, now: datetime) -> Fleet:
    """All heaters of the book; the last is remembered while nothing new was written."""
    known = (workshop.book.name, workshop.book.entry_count(), id(workshop.shelf), now.date())
    return _fleets.of(known, lambda: Fleet(units(workshop, now), workshop.shelf, now))


def advise_parts(
    workshop: Workshop, heater_id: str, now: datetime, *, is_open: bool = False
) -> tuple[Fitted, ...]:
    """Every fitted piece of a heater with its advice, the most pressing first. Raises NotFound."""
    workshop.book.heater(heater_id)
    every = fleet(workshop, now)
    return every.advised(every.units[heater_id], is_open=is_open)


def lives_of(every: Iterable[Unit], kind: PartType) -> Mapping[str, tuple[Life, ...]]:
    """All lives of a part type on its own clock, by heater type."""
    clock, found = Clock(kind.clock), dict[str, list[Life]]()
    for unit in every:
        for piece in unit.pieces:
            if piece.part.kind == kind.key:
                life = piece.life(clock, heater_type=unit.heater.sheet)
                if life is not None:
                    found.setdefault(unit.heater.sheet, []).append(life)
    return {sheet: tuple(lives) for sheet, lives in found.items()}


def possible(kind: PartType, lives: Mapping[str, Sequence[Life]], sheet: str) -> LifePosterior:
    """The lives still possible for a part type in one heater type, from its own and those of the others."""
    prior = LifePrior(
        clock=Clock(kind.clock),
        life=kind.life,
        life_spread=kind.life_spread,
        shape=kind.shape,
        shape_spread=kind.shape_spread,
        basis=kind.source,
    )
    others = {key: tuple(each) for key, each in sorted(lives.items()) if key != sheet}
    return possible_lives(tuple(lives.get(sheet, ())), prior, others=others)


def months_to_spring(now: datetime) -> float:
    """How long the season still lasts, in months; a whole one from spring to autumn."""
    month, day = SEASON_ENDS
    end = datetime(now.year, month, day, tzinfo=UTC)
    if end <= now:
        end = end.replace(year=now.year + 1)
    return max((end - now) / MONTH, LEAST_MONTHS)


def season_of(unit: Unit, clock: Clock, now: datetime) -> Use:
    """What a part goes through till spring."""
    expected, spread = unit.runs.ahead(clock, months_to_spring(now))
    return Use(clock=clock, expected=max(expected, 1e-6), spread=spread)


def costs_of(kind: PartType) -> Costs:
    """What renewing a part costs: the shop's price, else a guess."""
    return Costs(part=float(kind.price) if kind.price else NO_PRICE)


_ORDER = list(Action)


_fleets: LastFew[Fleet] = LastFew(2)


def _pressing(fitted: Fitted) -> tuple[int, float, str]:
    if fitted.advice is None:
        return (len(_ORDER), 0.0, fitted.kind.key)
    return (_ORDER.index(fitted.advice.action), fitted.advice.chance_to_last.value, fitted.kind.key)


def _used(piece: Piece, shelf: Shelf) -> float:
    kind = shelf.part_types.get(piece.part.kind)
    used = piece.used.get(Clock(kind.clock)) if kind else None
    return used.value if used else float("inf")


def _by_heater(nouns: Iterable[Spoken]) -> dict[str, list[Spoken]]:
    found: dict[str, list[Spoken]] = {}
    for each in nouns:
        found.setdefault(each.heater, []).append(each)
    return found
