"""All heaters of the book with the lives of their parts, kept up to date with what is newly said."""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable, Iterable, Mapping, Sequence
from datetime import datetime
from importlib.metadata import version
from threading import Lock
from typing import Any, TypeVar

from lightoff.ground.errors import NotFound
from lightoff.judging.assessment import Verdict
from lightoff.judging.believed import ahead_count
from lightoff.judging.content import hash_of
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
        self._unkept: set[str] = set()
        self._verdicts = _verdicts_before(workshop, self.shelf, self.units)

    def refresh(self, workshop: Workshop, now: datetime) -> None:
        """Take in what was said since."""
        with self._lock:
            news = workshop.book.news(self._mark)
            if news.heaters is None:
                after = units(workshop, now)
            else:
                fresh = _those_known(workshop, news.heaters, now)
                kept = {**self.units, **fresh}  # each in its old place
                after = {
                    each: unit for each, unit in kept.items() if each in fresh or each not in news.heaters
                }
            changed = {
                kind
                for heater in {*self.units, *after}
                if self.units.get(heater) is not after.get(heater)
                for kind in _different(_lives(self.units, heater), _lives(after, heater))
            }
            self.units = after
            every = news.of_all or news.heaters is None
            gone: Collection[str] = self._verdicts if every else news.heaters or ()
            self._verdicts = {each: told for each, told in self._verdicts.items() if each not in gone}
            for kind in changed:
                self._lives.pop(kind, None)
            self._possible = {key: each for key, each in self._possible.items() if key[0] not in changed}
            self._mark = news.mark

    def remembered(self, known: Hashable, work_out: Callable[[], Answer]) -> Answer:
        """An answer that was worked out of this fleet before, while nothing new was said of any heater."""
        kept: LastFew[Answer] = self._answers
        return kept.of((self._mark, known), work_out)

    def knows_verdict(self, unit: Unit) -> bool:
        """Whether the last visit need not be judged anew; there may be none."""
        return not unit.visits or unit.heater.id in self._verdicts

    def last_verdict(self, workshop: Workshop, unit: Unit, now: datetime) -> Verdict | None:
        """The verdict of a heater's last visit, remembered while nothing is said that may change it."""
        if not unit.visits:
            return None
        told = self._verdicts.get(unit.heater.id)
        if told is None:
            cases = workshop.book.cases_of(unit.heater.id, latest=1)
            (outline,) = workshop.judged.outlines(cases, self.shelf, now)
            told = outline.verdict
            if not ahead_count(cases[-1].visit, now):  # no clock will change it
                self._verdicts[unit.heater.id] = told
                self._unkept.add(unit.heater.id)
        return told

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

    def keep_verdicts(self, workshop: Workshop) -> None:
        """Keep the verdicts for the next start of the program."""
        if self._unkept:
            states = workshop.book.states()
            kept = {
                each: told for each, told in self._verdicts.items() if each in self._unkept & states.keys()
            }
            self._unkept.clear()
            workshop.derived.keep(
                {_verdict_key(self.shelf, each, states[each]): told for each, told in kept.items()}
            )


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


def _those_known(workshop: Workshop, heaters: Iterable[str], now: datetime) -> dict[str, Unit]:
    """These heaters, without those that were withdrawn or are not known yet."""
    found = {}
    for each in sorted(heaters):
        try:
            found[each] = unit_of(workshop, each, now)
        except NotFound:
            continue
    return found


def _lives(every: Mapping[str, Unit], heater: str) -> Mapping[str, object]:
    return every[heater].lives if heater in every else {}


def _verdicts_before(workshop: Workshop, shelf: Shelf, every: Mapping[str, Unit]) -> dict[str, Verdict]:
    """Verdicts of last visits that an earlier run of the program kept, where nothing was said since."""
    keys = {_verdict_key(shelf, heater, state): heater for heater, state in workshop.book.states().items()}
    found = workshop.derived.find(list(keys))
    return {keys[key]: told for key, told in found.items() if keys[key] in every}


def _verdict_key(shelf: Shelf, heater: str, state: str) -> str:
    return f"last verdict:{hash_of(shelf.sha256, version('lightoff'), heater, state)}"


def _different(before: Mapping[str, object], after: Mapping[str, object]) -> set[str]:
    return {kind for kind in {*before, *after} if before.get(kind) != after.get(kind)}
