"""Judge a visit with what is typed but not kept yet; nothing is stored."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime

from lightoff.ground.errors import NotFound
from lightoff.judging.assessment import Assessment
from lightoff.records import Acceptance, Close, noun_of
from lightoff.terms.case import Case
from lightoff.terms.conflict import Candidate, Conflict
from lightoff.terms.entry import Entry
from lightoff.terms.part import StepDone
from lightoff.terms.visit import Event, Photo, Reading, Visit
from lightoff.work.assess_case import assess_case
from lightoff.work.assess_visit import assess_visit
from lightoff.work.workshop import Workshop


def preview_visit(
    workshop: Workshop, visit_id: str, drafts: Sequence[Entry], now: datetime
) -> tuple[Case, Assessment]:
    """The case of a visit with the drafts on top, and its judgement.

    Drafts are entries that nobody kept; later ones come on top of earlier ones, and one that stands in
    the book already changes nothing. Raises NotFound, and Refusal for a draft that is no entry.
    """
    if not drafts:
        return assess_visit(workshop, visit_id, now)
    case = drafted_case(workshop, visit_id, drafts)
    return case, assess_case(case, workshop.shelf, now)


def drafted_case(workshop: Workshop, visit_id: str, drafts: Sequence[Entry]) -> Case:
    """The case of a visit with the drafts on top. Raises NotFound and Refusal."""
    case = workshop.book.case(visit_id)
    visit = case.visit
    for draft in drafts:
        if draft.subject == visit_id:
            visit = _with_draft(visit, draft)
    unseen = (*_unseen(workshop, visit_id, drafts), *_answered_otherwise(workshop, case.visit, drafts))
    conflicts = (*case.conflicts, *unseen)
    return replace(case, visit=visit, conflicts=conflicts)


def _unseen(workshop: Workshop, visit_id: str, drafts: Sequence[Entry]) -> tuple[Conflict, ...]:
    """What a draft about the visit will contradict once it is kept: an entry its writer had not seen."""
    about = [each for each in drafts if (each.field, each.subject) == ("visit", visit_id) and each.value]
    if not about or _is_kept(workshop, about[-1].id):
        return ()
    seen = {each.corrects for each in about}
    standing = [each for each in workshop.book.standing("visit", visit_id) if each.id not in seen]
    candidates = tuple(
        Candidate(entry=each.id, author=each.author, at=each.at, says=noun_of("visit", visit_id, each.value))
        for each in (*standing[:1], about[-1])
    )
    conflict = Conflict(noun="visit", subject=visit_id, candidates=candidates)
    return (conflict,) if conflict.parts else ()


def _answered_otherwise(workshop: Workshop, visit: Visit, drafts: Sequence[Entry]) -> Iterator[Conflict]:
    """Steps that a draft answers otherwise than an entry which its writer had not seen."""
    replaced = {each.corrects for each in drafts}
    standing = [each for each in visit.steps if each.id not in replaced]
    for draft in drafts:
        if (draft.field, draft.subject) != ("step", visit.id) or draft.value is None or draft.id in replaced:
            continue
        said = noun_of("step", draft.id, draft.value)
        for each in standing:
            if not isinstance(said, StepDone) or each.id == said.id or each.step != said.step:
                continue
            known = workshop.book.entry(each.id)
            candidates = (
                Candidate(entry=each.id, author=known.author, at=known.at, says=each),
                Candidate(entry=said.id, author=draft.author, at=draft.at, says=said),
            )
            conflict = Conflict(noun="step", subject=visit.id, candidates=candidates)
            if conflict.parts:
                yield conflict


def _is_kept(workshop: Workshop, entry_id: str) -> bool:
    try:
        workshop.book.entry(entry_id)
    except NotFound:
        return False
    return True


def _with_draft(visit: Visit, draft: Entry) -> Visit:
    """The visit as it would be with this entry kept."""
    kept = {each.id for each in visit.readings} | {each.id for each in visit.events}
    if draft.id in kept | {each.id for each in visit.photos}:
        return visit
    if draft.field != "visit" and draft.corrects is not None:
        visit = _without(visit, draft.corrects)
    if draft.value is None:
        return visit
    noun = noun_of(draft.field, visit.id if draft.field == "visit" else draft.id, draft.value)
    match noun:
        case Reading():
            read = replace(noun, entered_at=draft.at, corrects=draft.corrects)
            return replace(visit, readings=(*visit.readings, read))
        case Event():
            return replace(visit, events=(*visit.events, noun))
        case Photo():
            return replace(visit, photos=(*visit.photos, noun))
        case Close():
            # Of two ends the earlier counts, as in the book: what came after it is late.
            ends = [each for each in (visit.closed_at, noun.closed_at) if each is not None]
            return replace(visit, closed_at=min(ends))
        case Acceptance():
            return replace(visit, readings=tuple(_accepted(each, noun, draft) for each in visit.readings))
        case Visit():
            return replace(
                noun,
                closed_at=visit.closed_at,
                sealed_verdict=visit.sealed_verdict,
                sealed_stops=visit.sealed_stops,
                sealed_content=visit.sealed_content,
                readings=visit.readings,
                events=visit.events,
                photos=visit.photos,
            )
        case _:
            return visit


def _without(visit: Visit, corrected: str) -> Visit:
    return replace(
        visit,
        readings=tuple(each for each in visit.readings if each.id != corrected),
        events=tuple(each for each in visit.events if each.id != corrected),
        photos=tuple(each for each in visit.photos if each.id != corrected),
    )


def _accepted(reading: Reading, acceptance: Acceptance, draft: Entry) -> Reading:
    if reading.id != acceptance.reading or reading.accepted_by is not None:
        return reading
    return replace(reading, accepted_by=draft.author)
