"""Who needs a visit, when and why: what is due by months, by hours and by wear, and what was left open."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import field
from datetime import datetime, timedelta

from lightoff.ground.message import DayOf, Message, message
from lightoff.ground.values import dataclass
from lightoff.judging.assessment import Verdict
from lightoff.records import HeaterLine
from lightoff.wear.lives import Clock, word
from lightoff.wear.saying import share, whole
from lightoff.work.advise_parts import chance_to_last, lasting, part_name
from lightoff.work.fleet import Fleet, fleet
from lightoff.work.pieces import Piece
from lightoff.work.quietly import quietly
from lightoff.work.reckoning import Asked, Reckoning, reckoning
from lightoff.work.running import MONTH
from lightoff.work.units import Unit
from lightoff.work.workshop import Workshop

AHEAD = timedelta(days=91)
"""What is due later than this is not on the list yet. Judgement, no source."""
AT_ONCE = {Verdict.STOP: "due.stop", Verdict.NOT_FIT: "due.not_fit"}
_FIRST = tuple(AT_ONCE)
_UNSAID = ""
LEAST_CHANCE = 0.80
"""A part less likely than this to last till spring is a reason to come before. Judgement, no source."""
SOON = timedelta(days=30)
"""By when to come for such a part. Judgement, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """One heater with the day by which it should be visited and why, the most pressing reason first."""

    line: HeaterLine
    by: datetime
    reasons: tuple[Message, ...]
    parts: tuple[str, ...]  # part types to bring
    verdict: Verdict | None = None  # what the last visit ended with, where that calls


@dataclass(frozen=True, slots=True, kw_only=True)
class _Told:
    """One reason; that of a part gets its words when it is shown, since its interval takes long."""

    by: datetime
    said: Message | None = None
    piece: Piece | None = None
    kind: str = ""  # of a part that is renewed by use
    verdict: Verdict | None = None

    @property
    def pressing(self) -> tuple[int, datetime]:
        """What goes before what: a danger before all that is only due."""
        return (_FIRST.index(self.verdict) if self.verdict else len(_FIRST), self.by)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Called:
    unit: Unit
    told: tuple[_Told, ...] = field(default=())


def who_needs_visit(
    workshop: Workshop,
    now: datetime,
    *,
    first: int = 0,
    count: int | None = None,
    most_judged: int | None = None,
) -> tuple[Due, ...]:
    """Every heater with a reason, the most pressing first; `count` of them from the `first` on.

    No more than `most_judged` last visits are judged anew on the way, the gravest and the latest first, by
    what was sealed as they were closed; `to_be_judged` tells how many are left, which call by that.
    """
    every, reckoned = fleet(workshop, now), reckoning(workshop)
    judge_on(workshop, now, most=len(every.units) if most_judged is None else most_judged)
    known = (now.date(), reckoned.planning, every.judged)
    with quietly():
        found = every.remembered(("called", *known), lambda: _called(workshop, every, reckoned, now))
    chosen = found[first:] if count is None else found[first : first + count]
    return every.remembered(
        ("due", first, count, *known),
        lambda: tuple(_due(workshop, each, every, reckoned, now) for each in chosen),
    )


def _called(workshop: Workshop, every: Fleet, reckoned: Reckoning, now: datetime) -> tuple[_Called, ...]:
    """Every heater with a reason, the most pressing first."""
    by_time = every.of_each(
        ("by time", reckoned.planning, now.date()),
        lambda unit: (*_by_service(unit, reckoned, now), *_by_use(unit, workshop, reckoned, now)),
    )
    found = []
    for unit in _on_the_list(workshop, every):
        told = _reasons(workshop, every, unit, by_time[unit.heater.id], reckoned, now)
        if told:
            found.append(_Called(unit=unit, told=told))
    return tuple(sorted(found, key=lambda each: (each.told[0].pressing, each.unit.heater.id)))


def _on_the_list(workshop: Workshop, every: Fleet) -> Iterable[Unit]:
    """Heaters whose vehicle and owner are known: on a phone's way here a heater may come before them."""
    known = workshop.book.listed()
    return (unit for unit in every.units.values() if unit.heater.id in known)


def judge_on(workshop: Workshop, now: datetime, *, most: int) -> None:
    """Judge a few more of the last visits that were not judged yet, the gravest and the latest first."""
    every = fleet(workshop, now)
    for unit in _unjudged(every)[:most]:
        every.last_verdict(workshop, unit, now)


def to_be_judged(workshop: Workshop, now: datetime) -> int:
    """How many heaters are on the list without what their last visit ended with."""
    return len(_unjudged(fleet(workshop, now)))


def _unjudged(every: Fleet) -> list[Unit]:
    """Heaters whose last visit is closed and not judged yet: the gravest as closed, then the latest."""
    found = [
        unit
        for unit in every.units.values()
        if not every.knows_verdict(unit) and all(each.closed_at is not None for each in unit.visits)
    ]
    found.sort(key=lambda unit: unit.visits[-1].started_at, reverse=True)
    gravest = [*_FIRST, _UNSAID]  # of what nobody sealed nothing is known
    return sorted(found, key=lambda unit: _place(gravest, unit.visits[-1].closed_with))


def _place(order: Sequence[str], said: str) -> int:
    return order.index(said) if said in order else len(order)


def weak_parts(every: Fleet, reckoned: Reckoning, now: datetime) -> Mapping[str, Sequence[Piece]]:
    """Fitted parts that may not last till spring, by heater, those first that are least likely to."""
    known = ("weak", reckoned.planning, now.date())
    with quietly():
        return every.remembered(known, lambda: _weak_parts(every, reckoned, now))


def _weak_parts(every: Fleet, reckoned: Reckoning, now: datetime) -> Mapping[str, Sequence[Piece]]:
    weak: dict[str, list[tuple[float, Piece]]] = {}
    for each in lasting(every, reckoned, now):
        if each.chance < LEAST_CHANCE:
            weak.setdefault(each.unit.heater.id, []).append((each.chance, each.piece))
    return {
        heater: tuple(piece for _, piece in sorted(found, key=lambda each: (each[0], each[1].part.id)))
        for heater, found in weak.items()
    }


def _reasons(
    workshop: Workshop,
    every: Fleet,
    unit: Unit,
    by_time: Sequence[_Told],
    reckoned: Reckoning,
    now: datetime,
) -> tuple[_Told, ...]:
    """Why and by when, the most pressing first; none where nothing calls."""
    weak = weak_parts(every, reckoned, now).get(unit.heater.id, ())
    told = [*_left_open(workshop, every, unit, now), *by_time]
    told += [_Told(by=now + SOON, piece=piece) for piece in weak]
    return tuple(sorted((each for each in told if each.by <= now + AHEAD), key=lambda each: each.pressing))


def _left_open(workshop: Workshop, every: Fleet, unit: Unit, now: datetime) -> list[_Told]:
    """A visit that nobody closed; else what the last one ended with."""
    open_visit = next((each for each in unit.visits if each.closed_at is None), None)
    if open_visit is not None:
        began = open_visit.started_at
        return [_Told(by=began, said=message("due.open", day=DayOf(began)))]
    if every.knows_verdict(unit):
        verdict = every.last_verdict(workshop, unit, now)
        said = AT_ONCE.get(verdict) if verdict else None
    else:  # what it was closed with stands in for it till it is judged again
        verdict = next((each for each in AT_ONCE if each == unit.visits[-1].closed_with), None)
        said = f"{AT_ONCE[verdict]}_sealed" if verdict else None
    if said is None:
        return []
    return [_Told(by=unit.visits[-1].started_at, said=message(said), verdict=verdict)]


def service_due(unit: Unit, reckoned: Reckoning, now: datetime) -> datetime:
    """The day by which the next complete service is due."""
    return min(each.by for each in _by_service(unit, reckoned, now))


def _by_service(unit: Unit, reckoned: Reckoning, now: datetime) -> list[_Told]:
    """When the next complete service is due, by each clock that the maker or the shop counts on."""
    if not unit.visits:
        return [_Told(by=now, said=message("due.never_visited"))]
    serviced = [each.started_at for each in unit.visits if each.service_complete]
    if not serviced:
        return [_Told(by=now, said=message("due.never_serviced"))]
    last = serviced[-1]
    return [_again(unit, each, last, now) for each in reckoned.service(unit)]


def _again(unit: Unit, asked: Asked, last: datetime, now: datetime) -> _Told:
    """The next service by one clock, and whose word that is."""
    by_maker = "_maker" if asked.by_maker else ""
    if asked.clock is Clock.MONTHS:
        said = message(f"due.months{by_maker}", day=DayOf(last), months=whole(asked.every))
        return _Told(by=last + asked.every * MONTH, said=said)
    did = unit.runs.did(asked.clock, last, now)
    a_month, _ = unit.runs.ahead(asked.clock, 1.0)
    key = "hours" if asked.clock is Clock.RUN_HOURS else "starts"
    return _Told(
        by=_no_earlier(now + (asked.every - did) / max(a_month, 1e-6) * MONTH, last),
        said=message(f"due.{key}{by_maker}", day=DayOf(last), ran=whole(did), hours=whole(asked.every)),
    )


def _by_use(unit: Unit, workshop: Workshop, reckoned: Reckoning, now: datetime) -> list[_Told]:
    """Parts that are renewed after so much use, whatever their look."""
    told = []
    for piece in unit.fitted:
        kind = workshop.shelf.part_types.get(piece.part.kind)
        for asked in () if kind is None else reckoned.renewals(unit, kind):
            used = piece.age_on(asked.clock)
            if used is not None and kind is not None:
                a_month, _ = unit.runs.ahead(asked.clock, 1.0)
                by = now + (asked.every - used) / max(a_month, 1e-6) * MONTH
                said = message(
                    "due.part_by_maker" if asked.by_maker else "due.part_by_use",
                    part=part_name(kind),
                    used=whole(used),
                    every=whole(asked.every),
                    clock=word(asked.clock),
                )
                told.append(_Told(by=_no_earlier(by, piece.since), said=said, kind=kind.key))
    return told


def _no_earlier(by: datetime, than: datetime) -> datetime:
    return max(by, than)


def _due(workshop: Workshop, called: _Called, every: Fleet, reckoned: Reckoning, now: datetime) -> Due:
    said, weak = list[Message](), set[str]()
    for each in called.told:
        if each.said is not None:
            said.append(each.said)
            weak |= {each.kind} - {""}
        elif each.piece is not None:
            kind = workshop.shelf.part_types[each.piece.part.kind]
            chance = chance_to_last(every, called.unit, each.piece, reckoned, now)
            if chance is not None:
                said.append(message("due.part", part=part_name(kind), share=share(chance)))
                weak.add(kind.key)
    yearly = {key for key, kind in workshop.shelf.part_types.items() if kind.annual}
    return Due(
        line=workshop.book.line(called.unit.heater.id),
        by=called.told[0].by,
        verdict=called.told[0].verdict,
        reasons=tuple(said),
        parts=tuple(sorted(weak | yearly)),
    )
