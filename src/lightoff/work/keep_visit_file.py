"""Take a case that came as a file into the book."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import replace
from typing import TypeAlias
from uuid import UUID, uuid5

from lightoff.ground.errors import NotFound
from lightoff.records import SHOP, Close, Kept, Noun, body_of, field_of, noun_of
from lightoff.terms.case import Case
from lightoff.terms.entry import Entry
from lightoff.terms.part import Move, StepDone
from lightoff.terms.visit import Event, Photo, Reading, Visit
from lightoff.work.workshop import Workshop

Spoken: TypeAlias = Reading | Event | Photo | Move | StepDone
_NAMESPACE = UUID("b0a8a4ce-6c0b-5d2f-8a5e-2f7b9f0c7d31")  # of entries that came by file, drawn once
_NOUNS = ("shop", "owner", "vehicle", "heater", "instrument", "visit")


def keep_visit_file(workshop: Workshop, case: Case) -> tuple[Kept, ...]:
    """Keep everything the case says; the same file twice is kept once.

    Where it says other things of a heater, an instrument or any noun else than the book does, both stand in
    conflict until a person chooses.

    Raises WouldOverwrite, keeping nothing, where the book holds another body under the same id.
    """
    known = _known(workshop, case)
    entries = (each for each in entries_of(case, known=known) if not _stands(workshop, each))
    return workshop.book.keep(tuple(entries))


def _stands(workshop: Workshop, said: Entry) -> bool:
    """Whether the book has heard these words of this noun already; if others stand, a person wrote those."""
    if said.field not in (*_NOUNS, "step") or not workshop.book.standing(said.field, said.subject):
        return False
    known = (each for each in workshop.book.entries(said.subject) if each.field == said.field)
    return any(_says(each) == _says(said) for each in known)


def _says(said: Entry) -> Noun | None:
    """What an entry says, whichever way its body is written."""
    return None if said.value is None else noun_of(said.field, said.subject, said.value)


def entries_of(case: Case, *, known: frozenset[str] = frozenset()) -> Iterable[Entry]:
    """The entries that say this case, without its history; parts whose id is `known` stand already.

    Ids of the entries follow from what they say. The shop is told only where it has a name.
    """
    visit = case.visit
    author = visit.technician or case.shop.technician
    nouns: list[tuple[str, str, Noun]] = [
        ("owner", case.owner.id, case.owner),
        ("vehicle", case.vehicle.id, case.vehicle),
        ("heater", case.heater.id, case.heater),
        *(("instrument", each.id, each) for each in case.instruments.values()),
        ("visit", visit.id, visit),
    ]
    if case.shop.name:
        nouns.insert(0, ("shop", SHOP, case.shop))
    for field, subject, noun in nouns:
        body = body_of(noun)
        told = json.dumps([subject, field, body, author, visit.started_at.isoformat()], sort_keys=True)
        yield Entry(
            id=str(uuid5(_NAMESPACE, told)),
            subject=subject,
            field=field,
            value=body,
            author=author,
            at=visit.started_at,
        )
    yield from _disputed(case, nouns)
    for part in _parts(visit):
        if part.id in known:
            continue
        at = part.at if isinstance(part, Move | StepDone) else visit.started_at
        if isinstance(part, Reading):
            at = part.entered_at or part.taken_at or at
            if part.entered_at is None and visit.closed_at is not None:
                at = min(at, visit.closed_at)
        corrects = part.corrects if isinstance(part, Reading) else None
        field = field_of(part)
        yield Entry(
            id=part.id,
            subject=visit.id,
            field=field,
            value=body_of(part),
            author=author,
            at=at,
            corrects=corrects,
        )
    if visit.closed_at is not None:
        close_id = str(uuid5(_NAMESPACE, f"close {visit.id} {visit.closed_at.isoformat()}"))
        close = Close(
            id=close_id,
            closed_at=visit.closed_at,
            verdict=visit.sealed_verdict,
            stops=visit.sealed_stops,
            content=visit.sealed_content,
        )
        body = body_of(close)
        yield Entry(
            id=close_id, subject=visit.id, field="close", value=body, author=author, at=visit.closed_at
        )


def _disputed(case: Case, nouns: Iterable[tuple[str, str, Noun]]) -> Iterable[Entry]:
    """What else the file's conflicts say of these nouns: the book is to find the same conflicts."""
    told = [(field, subject, body_of(noun)) for field, subject, noun in nouns]
    told += [("step", case.visit.id, body_of(each)) for each in case.visit.steps]
    for conflict in case.conflicts:
        for each in conflict.candidates if conflict.noun in (*_NOUNS, "step") else ():
            body = None if each.says is None else body_of(each.says)
            if body is None or (conflict.noun, conflict.subject, body) in told:
                continue
            told.append((conflict.noun, conflict.subject, body))
            yield Entry(
                id=each.entry,
                subject=conflict.subject,
                field=conflict.noun,
                value=body,
                author=each.author,
                at=each.at,
            )


def _known(workshop: Workshop, case: Case) -> frozenset[str]:
    """Ids of parts that the book holds already just as the case says them."""
    try:
        visit = workshop.book.visit(case.visit.id)
    except NotFound:
        return frozenset()
    mine = {_bare(each) for each in _parts(case.visit)}
    return frozenset(each.id for each in _parts(visit) if _bare(each) in mine)


def _parts(visit: Visit) -> list[Spoken]:
    return [*visit.readings, *visit.events, *visit.photos, *visit.moves, *visit.steps]


def _bare(part: Spoken) -> Spoken:
    """A part without what the book alone can tell."""
    if isinstance(part, Reading):
        return replace(part, entered_at=None, corrects=None, accepted_by=None)
    if isinstance(part, Photo):
        return replace(part, place="")  # which no file takes along
    return part
