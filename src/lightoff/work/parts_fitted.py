"""The pieces that sat in a heater as a visit began, and how old each was."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, time
from decimal import Decimal
from typing import TYPE_CHECKING

from lightoff.terms.case import Case
from lightoff.terms.part import FittedPart, Move, MoveKind
from lightoff.wear.lives import Clock
from lightoff.work.part_lines import in_one_line
from lightoff.work.pieces import Where, pieces
from lightoff.work.running import SAME_VISIT, running

if TYPE_CHECKING:
    from lightoff.work.workshop import Workshop  # the book is slow to load, and a file alone needs none

_PLACES = {Clock.MONTHS: 1, Clock.RUN_HOURS: 0, Clock.STARTS: 0}
"""Decimals of an age: a few days, an hour, a start."""


def with_parts(case: Case, workshop: Workshop) -> Case:
    """The case with the pieces that the book holds of its heater, by what was known at the visit.

    Nothing later than the visit moves it: no later move, reading or log.
    """
    book, heater, began = workshop.book, case.heater, case.visit.started_at
    until = began + SAME_VISIT
    found = pieces(
        in_one_line(book.parts(heater.id), workshop.shelf.part_types),
        _before_the_work(case),
        running(
            [each for each in book.counters(heater.id) if each.taken_at and each.taken_at <= until],
            [each for each in book.traces(heater.id) if each.ended_at <= until],
        ),
        now=began,
        fitted_on=datetime.combine(heater.fitted_on, time(12), UTC) if heater.fitted_on else None,
    )
    fitted = (each for each in found if each.where is Where.FITTED)
    known = (
        FittedPart(
            kind=each.part.kind,
            **{clock.value: _rounded(each.age_on(clock), _PLACES[clock]) for clock in Clock},
        )
        for each in fitted
    )
    return replace(case, fitted=tuple(sorted(known, key=repr)))


def _before_the_work(case: Case) -> Iterator[Move]:
    """Moves of earlier visits, and what this one found in place: readings as found are of those pieces."""
    for visit in case.history:
        yield from (each for each in visit.moves if each.heater == case.heater.id)
    yield from (
        each for each in case.visit.moves if each.heater == case.heater.id and each.kind is MoveKind.FOUND
    )


def _rounded(age: float | None, places: int) -> Decimal | None:
    return None if age is None else Decimal(f"{max(age, 0.0):.{places}f}")
