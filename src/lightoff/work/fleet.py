"""All heaters of the book with the lives of their parts, kept up to date with what is newly said."""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable, Iterable, Mapping
from datetime import datetime
from threading import Lock
from typing import Any, TypeVar

from lightoff.ground.errors import Declined, NotFound
from lightoff.judging.assessment import Verdict
from lightoff.judging.believed import ahead_count
from lightoff.shelf import Shelf
from lightoff.terms.shelf import PartType
from lightoff.wear.clocks import BestClock, compare_clocks
from lightoff.wear.lives import Clock, Life, LifeTable, tabled, together
from lightoff.wear.many import Chances
from lightoff.wear.posterior import LifePosterior, LifePrior, possible_lives
from lightoff.work import fleet_kept
from lightoff.work.last_few import LastFew
from lightoff.work.quietly import quietly
from lightoff.work.units import Unit, unit_of, units
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
        self._tables: dict[str, dict[str, LifeTable]] = {}  # by part type and heater type
        self._tabled: set[str] = set()  # part types of which every table stands
        self._answers: LastFew[Any] = LastFew(_ANSWERS)
        self._of_each: LastFew[Any] = LastFew(4)
        with quietly():
            kept = fleet_kept.find(workshop, now)
        self._before = kept.head if kept else None
        self._unkept: set[str] | None = set() if kept else None  # heaters; None for all of them
        self._is_kept = kept is not None
        # The lives of each heater by part type, and which clock wears that, made when they are asked for.
        self._lives: dict[str, dict[str, tuple[Life, ...]]] = {}
        self._clocks = dict(kept.head.clocks) if kept else {}
        self._possible = (
            {(each.kind, each.sheet): each.opened() for each in kept.head.possible} if kept else {}
        )
        self._chances: dict[tuple[str, str], Chances] = (
            {
                (each.kind, each.sheet): each.chances(self._possible[each.kind, each.sheet])
                for each in kept.head.possible
            }
            if kept
            else {}
        )
        self._verdicts = dict(kept.head.verdicts) if kept else {}
        self.units: Mapping[str, Unit] = kept.units if kept else {}
        # The mark before the rest, so that nothing said meanwhile is missed.
        self._mark = kept.head.mark if kept else workshop.book.news().mark
        if kept is None:
            with quietly():
                self.units = units(workshop, now)
        else:
            self.refresh(workshop, now)

    def refresh(self, workshop: Workshop, now: datetime) -> None:
        """Take in what was said since."""
        with self._lock:
            news = workshop.book.news(self._mark)
            if news.heaters is None:
                after = units(workshop, now)
            elif news.heaters:
                fresh = _those_known(workshop, news.heaters, now)
                kept = {**self.units, **fresh}  # each in its old place
                after = {
                    each: unit for each, unit in kept.items() if each in fresh or each not in news.heaters
                }
            else:
                after = dict(self.units)
            anew = {each for each in {*self.units, *after} if self.units.get(each) is not after.get(each)}
            before = {each: self.units[each].lives for each in anew & self.units.keys()}
            told = {each: after[each].lives for each in anew & after.keys()}
            changed = {
                (kind, sheet)
                for each in anew
                for kind in _different(before.get(each, {}), told.get(each, {}))
                for sheet in (every[each].heater.sheet for every in (self.units, after) if each in every)
            }
            self.units = after
            for kind, lives in self._lives.items():
                lives.update((each, some[kind]) for each, some in told.items() if kind in some)
                for each in anew:
                    if kind not in told.get(each, {}):
                        lives.pop(each, None)
            every = news.of_all or news.heaters is None
            gone: Collection[str] = self._verdicts if every else news.heaters or ()
            self._verdicts = {each: told for each, told in self._verdicts.items() if each not in gone}
            for kind, sheet in changed:
                self._tables.get(kind, {}).pop(sheet, None)
            kinds = {kind for kind, _ in changed}
            self._tabled -= kinds
            self._possible = {key: each for key, each in self._possible.items() if key[0] not in kinds}
            self._clocks = {kind: each for kind, each in self._clocks.items() if kind not in kinds}
            if self._mark != news.mark:
                self._is_kept = False
                self._unkept = None if self._unkept is None or news.heaters is None else self._unkept | anew
            self._mark = news.mark

    def remembered(self, known: Hashable, work_out: Callable[[], Answer]) -> Answer:
        """An answer that was worked out of this fleet before, while nothing new was said of any heater."""
        kept: LastFew[Answer] = self._answers
        return kept.of((self._mark, known), work_out)

    def of_each(self, known: Hashable, work_out: Callable[[Unit], Answer]) -> dict[str, Answer]:
        """What is worked out of each heater by itself, anew only for those of which something was said."""
        kept: dict[str, tuple[Unit, Answer]] = self._of_each.of(known, dict)
        found = {}
        for heater, unit in self.units.items():
            each = kept.get(heater)
            if each is None or each[0] is not unit:
                each = kept[heater] = (unit, work_out(unit))
            found[heater] = each[1]
        return found

    @property
    def judged(self) -> frozenset[tuple[str, Verdict]]:
        """The last verdicts that are known, by heater."""
        return frozenset(self._verdicts.items())

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
                self._is_kept = False
        return told

    def lives(self, kind: PartType) -> Mapping[str, tuple[Life, ...]]:
        """All lives of a part type on its own clock, by heater type."""
        with quietly():
            if kind.key not in self._lives:
                told = {each: unit.lives_on(Clock(kind.clock), kind) for each, unit in self.units.items()}
                self._lives[kind.key] = {each: lives for each, lives in told.items() if lives}
        found = dict[str, list[Life]]()
        for heater, lives in self._lives[kind.key].items():
            found.setdefault(self.units[heater].heater.sheet, []).extend(lives)
        return {sheet: tuple(lives) for sheet, lives in found.items()}

    def best_clock(self, kind: PartType) -> BestClock | None:
        """Which clock the failures of a part type follow best; None where too few failures tell."""
        if kind.key not in self._clocks:
            with quietly():
                self._clocks[kind.key] = best_clock(self.units.values(), kind)
            self._is_kept = False
        return self._clocks[kind.key]

    def possible(self, kind: PartType, sheet: str) -> LifePosterior:
        """The lives still possible for a part type in one heater type; "" for all types together."""
        key = (kind.key, sheet)
        found = self._possible.get(key)
        if found is None:
            with self._lock:
                mark, tables = self._mark, self._tables_of(kind)
            if sheet:
                found = possible(kind, tables, sheet)
            else:
                every = together(list(tables.values()), Clock(kind.clock))
                found = possible_lives(every, prior_of(kind))
            with self._lock:
                if self._mark == mark:  # else it is of the moment before
                    self._possible[key] = found
                    self._is_kept = False
        return found

    def _tables_of(self, kind: PartType) -> dict[str, LifeTable]:
        """The lives of a part type as columns, by heater type; only what has changed is made anew."""
        if kind.key not in self._tabled:
            told, known = self.lives(kind), self._tables.get(kind.key, {})
            self._tables[kind.key] = {each: known.get(each) or tabled(told[each]) for each in sorted(told)}
            self._tabled.add(kind.key)
        return dict(self._tables[kind.key])  # what is newly said takes tables out of it

    def chances(self, kind: PartType, sheet: str) -> Chances:
        """The chances of many pieces of a part type in one heater type."""
        key, lives = (kind.key, sheet), self.possible(kind, sheet)
        found = self._chances.get(key)
        if found is None or found.lives is not lives:
            found = self._chances[key] = Chances(lives)
        return found

    def _known_chances(self, key: tuple[str, str], lives: LifePosterior) -> Chances | None:
        found = self._chances.get(key)
        return found if found is not None and found.lives is lives else None

    def keep(self, workshop: Workshop) -> None:
        """Keep what was worked out for the next start of the program; nothing where all of it is kept."""
        with self._lock:
            if self._is_kept:
                return
            whole = self._unkept is None
            head = fleet_kept.Head(
                mark=self._mark,
                witness="",
                boxes=(),
                verdicts=dict(self._verdicts),
                clocks=dict(self._clocks),
                possible=tuple(
                    fleet_kept.KeptLives.of(key, each, self._known_chances(key, each))
                    for key, each in sorted(self._possible.items())
                ),
            )
            with quietly():
                self._before = fleet_kept.keep(
                    workshop,
                    fleet_kept.Kept(head=head, units=self.units),
                    before=None if whole else self._before,
                    changed=self._unkept or set(),
                )
            self._unkept, self._is_kept = set(), True


def fleet(workshop: Workshop, now: datetime) -> Fleet:
    """All heaters of the book as of now; ages are those of the day."""
    known = (workshop.book.name, workshop.shelf.sha256, now.date())
    found = _fleets.of(known, lambda: Fleet(workshop, now))
    found.refresh(workshop, now)
    return found


def keep_known(workshop: Workshop) -> None:
    """Keep for the next start what is known of the heaters of this book; nothing is worked out for it."""
    book, shelf = workshop.book.name, workshop.shelf.sha256
    known = _fleets.latest(lambda each: isinstance(each, tuple) and each[:2] == (book, shelf))
    if known is not None:
        known.keep(workshop)


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


def best_clock(every: Iterable[Unit], kind: PartType) -> BestClock | None:
    """Which clock the failures of a part type follow best; None where too few failures tell."""
    told: dict[Clock, list[Life]] = {clock: [] for clock in (Clock(kind.clock), *Clock)}
    for unit in every:
        for piece in unit.pieces:
            if piece.part.kind == kind.key:
                lives = {clock: piece.life(clock, heater_type=unit.heater.sheet) for clock in told}
                if all(each is not None for each in lives.values()):
                    for clock, life in lives.items():
                        if life is not None:
                            told[clock].append(life)
    try:
        return compare_clocks(told).chosen
    except Declined:
        return None


def possible(kind: PartType, lives: Mapping[str, LifeTable], sheet: str) -> LifePosterior:
    """The lives still possible for a part type in one heater type, from its own and those of the others."""
    others = {key: each for key, each in lives.items() if key != sheet}
    return possible_lives(lives.get(sheet, ()), prior_of(kind), others=others)


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


def _different(before: Mapping[str, object], after: Mapping[str, object]) -> set[str]:
    return {kind for kind in {*before, *after} if before.get(kind) != after.get(kind)}
