"""A heater as wear sees it: its counters, its pieces with their lives, and when it was visited."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import field, replace
from datetime import UTC, datetime, time
from typing import TypeVar

from lightoff.ground.values import dataclass
from lightoff.records import VisitHead
from lightoff.terms.part import Move, Part
from lightoff.terms.people import Heater
from lightoff.terms.shelf import PartType
from lightoff.terms.trace import Trace
from lightoff.terms.visit import Reading
from lightoff.wear.lives import Clock, Life
from lightoff.work.last_few import LastFew
from lightoff.work.part_lines import in_one_line
from lightoff.work.pieces import Piece, Where, pieces
from lightoff.work.running import Running, running
from lightoff.work.workshop import Workshop

_known: LastFew[Unit] = LastFew(256)
Spoken = TypeVar("Spoken", Part, Move, Reading, Trace, VisitHead)


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """One heater with its counters, its visits, its pieces; their lives are worked out when asked for."""

    heater: Heater
    runs: Running
    pieces: tuple[Piece, ...]
    visits: tuple[VisitHead, ...]
    kinds: Mapping[str, PartType] = field(repr=False)

    @property
    def fitted(self) -> tuple[Piece, ...]:
        """The pieces that sit in the heater now."""
        return tuple(each for each in self.pieces if each.where is Where.FITTED)

    @property
    def lives(self) -> Mapping[str, tuple[Life, ...]]:
        """The lives of its pieces by part type, each on its own clock."""
        named = {each.part.kind for each in self.pieces}
        told = {
            kind.key: self.lives_on(Clock(kind.clock), kind)
            for kind in self.kinds.values()
            if kind.key in named
        }
        return {kind: lives for kind, lives in told.items() if lives}

    def as_of(self, now: datetime) -> Unit:
        """The same at another moment, when nothing more was said of it."""
        seen_on = [each.started_at for each in self.visits]
        return replace(self, pieces=tuple(each.as_of(now, seen_on=seen_on) for each in self.pieces))

    def lives_on(self, clock: Clock, kind: PartType) -> tuple[Life, ...]:
        """The lives of its pieces of one part type."""
        told = (
            each.life(clock, heater_type=self.heater.sheet)
            for each in self.pieces
            if each.part.kind == kind.key
        )
        return tuple(each for each in told if each is not None)


def units(workshop: Workshop, now: datetime, *, heater_id: str | None = None) -> Mapping[str, Unit]:
    """Heaters with their pieces, by id: one, or all of the book."""
    book = workshop.book
    heaters = book.heaters() if heater_id is None else (book.heater(heater_id),)
    parts = _by_heater(in_one_line(book.parts(heater_id), workshop.shelf.part_types))
    moves = _by_heater(book.moves(heater_id))
    counters = _by_heater(book.counters(heater_id))
    logs = _by_heater(book.traces(heater_id))
    visits = _by_heater(book.visit_heads(heater_id))
    made = {}
    for heater in heaters:
        runs = running(counters.get(heater.id, ()), logs.get(heater.id, ()))
        began = datetime.combine(heater.fitted_on, time(12), UTC) if heater.fitted_on else None
        seen = tuple(visits.get(heater.id, ()))
        found = pieces(
            parts.get(heater.id, ()),
            moves.get(heater.id, ()),
            runs,
            now=now,
            seen_on=[each.started_at for each in seen],
            fitted_on=began,
        )
        made[heater.id] = Unit(
            heater=heater,
            runs=runs,
            pieces=found,
            visits=seen,
            kinds=workshop.shelf.part_types,
        )
    return made


def unit_of(workshop: Workshop, heater_id: str, now: datetime) -> Unit:
    """One heater with its pieces, made anew only where something was said of it. Raises NotFound."""
    said = workshop.book.said_of(heater_id)
    known = (workshop.book.name, workshop.shelf.sha256, heater_id, said)
    made = _known.of(known, lambda: units(workshop, now, heater_id=heater_id)[heater_id])
    return made.as_of(now)


def lives_of(
    every: Iterable[Unit], kind: PartType, *, clock: Clock | None = None
) -> Mapping[str, tuple[Life, ...]]:
    """All lives of a part type by heater type, on its own clock or on another."""
    found = dict[str, list[Life]]()
    for unit in every:
        lives = unit.lives_on(clock or Clock(kind.clock), kind)
        if lives:
            found.setdefault(unit.heater.sheet, []).extend(lives)
    return {sheet: tuple(lives) for sheet, lives in found.items()}


def _by_heater(nouns: Iterable[Spoken]) -> dict[str, list[Spoken]]:
    found: dict[str, list[Spoken]] = {}
    for each in nouns:
        found.setdefault(each.heater, []).append(each)
    return found
