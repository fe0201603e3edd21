"""What to do with each fitted part of a heater: renew, carry or leave, by all lives the shop has seen."""

from __future__ import annotations

from datetime import datetime
from typing import NamedTuple

import numpy as np

from lightoff.ground.estimate import Estimate
from lightoff.ground.values import dataclass
from lightoff.shelf import Shelf
from lightoff.terms.shelf import PartType
from lightoff.wear.advice import Action, Advice, advise
from lightoff.wear.lives import Clock
from lightoff.work.fleet import Fleet, fleet
from lightoff.work.pieces import Piece, Where
from lightoff.work.quietly import quietly
from lightoff.work.reckoning import Reckoning, reckoning
from lightoff.work.units import Unit
from lightoff.work.workshop import Workshop


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """One fitted piece: its type, and what to do with it; no advice where nobody can say how old it is.

    `spares` are the pieces of this type that the vehicle carries, the least used first.
    """

    piece: Piece
    kind: PartType
    advice: Advice | None
    spares: tuple[Piece, ...] = ()


def advise_parts(
    workshop: Workshop, heater_id: str, now: datetime, *, is_open: bool = False
) -> tuple[Fitted, ...]:
    """Every fitted piece of a heater with its advice, the most pressing first. Raises NotFound."""
    workshop.book.heater(heater_id)
    every = fleet(workshop, now)
    reckoned = reckoning(workshop)
    known = ("advised", heater_id, is_open, now.date(), reckoned.planning, tuple(reckoned.prices.items()))
    return every.remembered(
        known, lambda: advised(every, every.units[heater_id], reckoned, now, is_open=is_open)
    )


def advised(
    every: Fleet, unit: Unit, reckoned: Reckoning, now: datetime, *, is_open: bool = False
) -> tuple[Fitted, ...]:
    """The same of a unit of the fleet."""
    kinds = every.shelf.part_types
    spares = sorted(
        (each for each in unit.pieces if each.where is Where.SPARE), key=lambda each: _used(each, every.shelf)
    )
    found = []
    for piece in unit.fitted:
        kind = kinds.get(piece.part.kind)
        if kind is None:
            continue
        alike = tuple(each for each in spares if each.part.kind == kind.key)
        clock, advice = Clock(kind.clock), None
        used = piece.used_on(clock)
        if used is not None:
            advice = advise(
                every.possible(kind, unit.heater.sheet),
                part=part_name(kind),
                age=used,
                season=reckoned.season(unit, clock, now),
                costs=reckoned.costs(kind),
                is_open=is_open,
                has_spare=bool(alike),
            )
        found.append(Fitted(piece=piece, kind=kind, advice=advice, spares=alike))
    return tuple(sorted(found, key=_pressing))


def chance_to_last(
    every: Fleet, unit: Unit, piece: Piece, reckoned: Reckoning, now: datetime
) -> Estimate | None:
    """Chance that a fitted piece lasts till spring; None where nobody can say how old it is."""
    kind = every.shelf.part_types[piece.part.kind]
    clock = Clock(kind.clock)
    used = piece.used_on(clock)
    if used is None:
        return None
    lives = every.possible(kind, unit.heater.sheet)
    return lives.chance_to_last(age=used, use=reckoned.season(unit, clock, now))


class Lasting(NamedTuple):
    """A fitted piece with its chance to last till spring; a tuple, for a large shop has very many."""

    unit: Unit
    piece: Piece
    chance: float


def lasting(every: Fleet, reckoned: Reckoning, now: datetime) -> tuple[Lasting, ...]:
    """Every fitted piece of every heater whose age is known, with its chance, without intervals."""
    known = ("lasting", reckoned.planning, now.date())
    with quietly():
        return every.remembered(known, lambda: _lasting(every, reckoned, now))


def _lasting(every: Fleet, reckoned: Reckoning, now: datetime) -> tuple[Lasting, ...]:
    clocks = {key: Clock(kind.clock) for key, kind in every.shelf.part_types.items()}

    def ages(unit: Unit) -> list[tuple[tuple[str, str, float], tuple[Unit, Piece, float, float]]]:
        uses = {clock: reckoned.season(unit, clock, now) for clock in Clock}
        rows = []
        for piece in unit.fitted:
            clock = clocks.get(piece.part.kind)
            age = None if clock is None else piece.age_on(clock)
            if clock is not None and age is not None:
                key = (piece.part.kind, unit.heater.sheet, uses[clock].spread)
                rows.append((key, (unit, piece, age, uses[clock].expected)))
        return rows

    alike: dict[tuple[str, str, float], list[tuple[Unit, Piece, float, float]]] = {}
    for told in every.of_each(("ages", reckoned.planning, now.date()), ages).values():
        for key, row in told:
            alike.setdefault(key, []).append(row)
    found = []
    for (kind_key, sheet, spread), rows in alike.items():
        chances = every.chances(every.shelf.part_types[kind_key], sheet).to_last(
            ages=np.array([age for _, _, age, _ in rows]),
            expected=np.array([expected for *_, expected in rows]),
            spread=spread,
        )
        found += [
            Lasting(unit=unit, piece=piece, chance=float(chance))
            for (unit, piece, *_), chance in zip(rows, chances, strict=True)
        ]
    return tuple(found)


def part_name(kind: PartType) -> str:
    """A part type as a sentence names it: a key of the texts, or what the shop calls its own."""
    return kind.label or f"@part.{kind.key}"


_ORDER = list(Action)


def _pressing(fitted: Fitted) -> tuple[int, float, str]:
    if fitted.advice is None:
        return (len(_ORDER), 0.0, fitted.kind.key)
    return (_ORDER.index(fitted.advice.action), fitted.advice.chance_to_last.value, fitted.kind.key)


def _used(piece: Piece, shelf: Shelf) -> float:
    kind = shelf.part_types.get(piece.part.kind)
    used = piece.used_on(Clock(kind.clock)) if kind else None
    return used.value if used else float("inf")
