"""Who needs a visit, when and why: what is due by months and by wear, and what the last visit left open."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from lightoff.ground.estimate import Estimate
from lightoff.ground.message import Message, message
from lightoff.judging.assessment import Verdict
from lightoff.records import HeaterLine
from lightoff.shelf import Shelf
from lightoff.terms.visit import Visit
from lightoff.wear.saying import share
from lightoff.work.advise_parts import Fleet, Unit, fleet
from lightoff.work.pieces import Where
from lightoff.work.workshop import Workshop

YEARLY = timedelta(days=365)
"""How long after a complete service the next is due. Common practice, no source."""
AT_ONCE = {Verdict.STOP: "due.stop", Verdict.NOT_FIT: "due.not_fit"}
LEAST_CHANCE = 0.80
"""A part less likely than this to last till spring is a reason to come before. Judgement, no source."""
SOON = timedelta(days=30)


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """One heater with the day by which it should be visited and why, the most pressing reason first."""

    line: HeaterLine
    by: datetime
    reasons: tuple[Message, ...]
    parts: tuple[str, ...]  # part types to bring


def who_needs_visit(workshop: Workshop, now: datetime) -> tuple[Due, ...]:
    """Every heater with a reason, the most pressing first."""
    book, shelf = workshop.book, workshop.shelf
    every = fleet(workshop, now)
    found = []
    for unit in every.units.values():
        visits = book.visits_of(unit.heater.id)
        verdict = _last_verdict(workshop, unit, visits, now)
        told = _due(unit, visits, verdict, _weak(every, unit), shelf, now)
        if told is not None:
            by, reasons, parts = told
            found.append(Due(line=book.line(unit.heater.id), by=by, reasons=reasons, parts=parts))
    return tuple(sorted(found, key=lambda each: (each.by, each.line.heater.id)))


def _last_verdict(workshop: Workshop, unit: Unit, visits: tuple[Visit, ...], now: datetime) -> Verdict | None:
    if not visits:
        return None
    cases = workshop.book.cases_of(unit.heater.id, latest=1)
    (assessment,) = workshop.judged.assessments(cases, workshop.shelf, now)
    return assessment.verdict.verdict


def _weak(every: Fleet, unit: Unit) -> list[tuple[str, Estimate]]:
    """Fitted parts that may not last till spring, with the chance that they do."""
    found = []
    for piece in unit.pieces:
        kind = every.shelf.part_types.get(piece.part.kind)
        if piece.where is Where.FITTED and kind is not None:
            chance = every.chance_to_last(unit, piece, kind)
            if chance is not None and chance.value < LEAST_CHANCE:
                found.append((kind.key, chance))
    return found


def _due(
    unit: Unit,
    visits: tuple[Visit, ...],
    verdict: Verdict | None,
    weak: Sequence[tuple[str, Estimate]],
    shelf: Shelf,
    now: datetime,
) -> tuple[datetime, tuple[Message, ...], tuple[str, ...]] | None:
    """The day, the reasons and the parts; None where nothing calls."""
    told: list[tuple[datetime, Message]] = []
    open_visit = next((each for each in visits if each.closed_at is None), None)
    if open_visit is not None:
        told.append((open_visit.started_at, message("due.open", day=open_visit.started_at.date())))
    elif verdict in AT_ONCE:
        told.append((visits[-1].started_at, message(AT_ONCE[verdict])))
    serviced = [each.started_at for each in visits if each.service_complete]
    if not visits:
        told.append((now, message("due.never_visited")))
    elif not serviced:
        told.append((now, message("due.never_serviced")))
    else:
        told.append((serviced[-1] + YEARLY, message("due.yearly", day=serviced[-1].date())))
    for kind, chance in weak:
        told.append((now + SOON, message("due.part", part=f"@part.{kind}", share=share(chance))))
    told = [each for each in told if each[0] <= now + YEARLY / 4]
    if not told:
        return None
    told.sort(key=lambda each: each[0])
    yearly = {key for key, kind in shelf.part_types.items() if kind.annual}
    return told[0][0], tuple(said for _, said in told), tuple(sorted({kind for kind, _ in weak} | yearly))
