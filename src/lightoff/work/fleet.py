"""All heaters of the book with the lives of their parts, kept up to date with what is newly said."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from datetime import datetime
from threading import Lock
from typing import Any, TypeVar

from lightoff.shelf import Shelf
from lightoff.terms.shelf import PartType
from lightoff.wear.lives import Clock, Life
from lightoff.wear.many import Chances
from lightoff.wear.posterior import LifePosterior, LifePrior, possible_lives
from lightoff.work.last_few import LastFew
from lightoff.work.units import Unit, lives_of, unit_of, units
from lightoff.work.workshop import Workshop

_ANSWERS = 64
Answer = TypeVar("Answer")


class Fleet:
    """All heaters with their pieces, and the lives that are still possible. For many threads.

    What is newly said of a heater makes that heater anew and no other; the lives that are possible for a part
    type are worked out anew only where a life of it has changed.
    """

    def __init__(self, workshop: Workshop, now: datetime) -> None:
        self.shelf: Shelf = workshop.shelf
        self._lock = Lock()
        self._mark = workshop.book.news().mark  # before the rest, so that nothing said meanwhile is missed
        self.units: Mapping[str, Unit] = units(workshop, now)
        self._lives: dict[str, Mapping[str, tuple[Life, ...]]] = {}
        self._possible: dict[tuple[str, str], LifePosterior] = {}
        self._chances: dict[tuple[str, str], Chances] = {}
        self._answers: LastFew[Any] = LastFew(_ANSWERS)

    def refresh(self, workshop: Workshop, now: datetime) -> None:
        """Take in what was said since."""
        with self._lock:
            news = workshop.book.news(self._mark)
            if news.heaters is None:
                fresh = units(workshop, now)
            else:
                fresh = {each: unit_of(workshop, each, now) for each in sorted(news.heaters)}
            changed = {
                kind
                for heater, unit in fresh.items()
                for kind in _different(self.units[heater].lives if heater in self.units else {}, unit.lives)
            }
            if fresh:
                self.units = {**self.units, **fresh}
            for kind in changed:
                self._lives.pop(kind, None)
            self._possible = {key: each for key, each in self._possible.items() if key[0] not in changed}
            self._mark = news.mark

    def remembered(self, known: Hashable, work_out: Callable[[], Answer]) -> Answer:
        """An answer that was worked out of this fleet before, while nothing new was said of any heater."""
        kept: LastFew[Answer] = self._answers
        return kept.of((self._mark, known), work_out)

    def lives(self, kind: PartType) -> Mapping[str, tuple[Life, ...]]:
        """All lives of a part type on its own clock, by heater type."""
        found = self._lives.get(kind.key)
        if found is None:
            found = self._lives[kind.key] = lives_of(self.units.values(), kind)
        return found

    def possible(self, kind: PartType, sheet: str) -> LifePosterior:
        """The lives still possible for a part type in one heater type."""
        key = (kind.key, sheet)
        found = self._possible.get(key)
        if found is None:
            found = self._possible[key] = possible(kind, self.lives(kind), sheet)
        return found

    def chances(self, kind: PartType, sheet: str) -> Chances:
        """The chances of many pieces of a part type in one heater type."""
        key, lives = (kind.key, sheet), self.possible(kind, sheet)
        found = self._chances.get(key)
        if found is None or found.lives is not lives:
            found = self._chances[key] = Chances(lives)
        return found


def fleet(workshop: Workshop, now: datetime) -> Fleet:
    """All heaters of the book as of now; ages are those of the day."""
    known = (workshop.book.name, workshop.shelf.sha256, now.date())
    found = _fleets.of(known, lambda: Fleet(workshop, now))
    found.refresh(workshop, now)
    return found


def prior_of(kind: PartType) -> LifePrior:
    """What the shelf holds of a part type's life before any was seen."""
    return LifePrior(
        clock=Clock(kind.clock),
        life=kind.life,
        life_spread=kind.life_spread,
        shape=kind.shape,
        shape_spread=kind.shape_spread,
        basis=kind.source,
    )


def possible(kind: PartType, lives: Mapping[str, Sequence[Life]], sheet: str) -> LifePosterior:
    """The lives still possible for a part type in one heater type, from its own and those of the others."""
    others = {key: tuple(each) for key, each in sorted(lives.items()) if key != sheet}
    return possible_lives(tuple(lives.get(sheet, ())), prior_of(kind), others=others)


_fleets: LastFew[Fleet] = LastFew(2)


def _different(before: Mapping[str, object], after: Mapping[str, object]) -> set[str]:
    return {kind for kind in {*before, *after} if before.get(kind) != after.get(kind)}
