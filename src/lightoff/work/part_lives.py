"""The lives of a heater's parts on its calendar: what sat in it when, and till when each may last."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime, timedelta
from functools import partial

from lightoff.ground.values import dataclass
from lightoff.terms.shelf import PartType
from lightoff.wear.lives import Clock
from lightoff.wear.posterior import Use
from lightoff.work.advise_parts import Fitted, advise_parts
from lightoff.work.fleet import Fleet, fleet
from lightoff.work.pieces import Piece
from lightoff.work.running import MONTH
from lightoff.work.units import Unit
from lightoff.work.workshop import Workshop

CHANCES = (0.9, 0.5, 0.1)
"""It lasts to the first of three days with nine chances in ten, to the last with one."""
_LONGEST = timedelta(days=36_500)  # later than that is no date that anybody waits for


@dataclass(frozen=True, slots=True, kw_only=True)
class PartLife:
    """One part of a heater: the pieces that sat in it, oldest first, and the one that does.

    `ends` are the days to which the fitted piece lasts with each of `CHANCES`, and `left` what it may still
    go through on its clock till the middle one; neither where nobody can say how old it is.
    """

    fitted: Fitted
    earlier: tuple[tuple[datetime, datetime], ...]
    since: datetime
    left: float | None = None
    ends: tuple[datetime, datetime, datetime] | None = None

    @property
    def kind(self) -> PartType:
        """Its part type."""
        return self.fitted.kind


def part_lives(workshop: Workshop, heater_id: str, now: datetime) -> tuple[PartLife, ...]:
    """Every part that is fitted, the most pressing first. Raises NotFound."""
    advice = advise_parts(workshop, heater_id, now)
    every = fleet(workshop, now)
    unit = every.units[heater_id]
    return every.remembered(("lives", heater_id, now.date()), lambda: _lives(every, unit, advice, now))


def lives_ahead(workshop: Workshop, now: datetime) -> Iterator[Callable[[], object]]:
    """What works out the possible lives of each part type in each heater type, one after the other.

    The first report of a heater type waits for its own.
    """
    every = fleet(workshop, now)
    for sheet in sorted({unit.heater.sheet for unit in every.units.values()}):
        for kind in workshop.shelf.part_types.values():
            yield partial(every.possible, kind, sheet)


def _lives(every: Fleet, unit: Unit, advice: Sequence[Fitted], now: datetime) -> tuple[PartLife, ...]:
    found = []
    for each in advice:
        left, ends = _ahead(every, unit, each, now) or (None, None)
        since = each.piece.spans[-1][0] if each.piece.spans else each.piece.since
        earlier = _earlier(unit, each.piece)
        found.append(PartLife(fitted=each, earlier=earlier, since=since, left=left, ends=ends))
    return tuple(found)


def _earlier(unit: Unit, fitted: Piece) -> tuple[tuple[datetime, datetime], ...]:
    """When other pieces of this part sat in the heater, and this one before it came back."""
    spans = [
        span
        for each in unit.pieces
        if each.part.kind == fitted.part.kind
        for span in (each.spans[:-1] if each.part.id == fitted.part.id else each.spans)
    ]
    return tuple(sorted(spans))


def _ahead(
    every: Fleet, unit: Unit, fitted: Fitted, now: datetime
) -> tuple[float, tuple[datetime, datetime, datetime]] | None:
    """What is left on its clock, and the days; None where nobody can say how old it is."""
    clock = Clock(fitted.kind.clock)
    age = fitted.piece.age_on(clock)
    if age is None:
        return None
    expected, spread = unit.runs.ahead(clock, 1.0)
    pace = Use(clock=clock, expected=max(expected, 1e-6), spread=spread)
    lives = every.possible(fitted.kind, unit.heater.sheet)
    months = lives.months_left(age=age, pace=pace, chances=CHANCES)
    first, middle, last = (now + min(each * MONTH, _LONGEST) for each in months)
    return months[1] * pace.expected, (first, middle, last)
