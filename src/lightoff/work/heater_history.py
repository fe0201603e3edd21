"""A heater's past: each visit with what stays of its judgement, and the judgement of the last."""

from __future__ import annotations

from datetime import datetime

from lightoff.ground.values import dataclass
from lightoff.judging.assessment import Assessment
from lightoff.judging.outline import Outline
from lightoff.records import HeaterLine
from lightoff.terms.case import Case
from lightoff.work.workshop import Workshop


@dataclass(frozen=True, slots=True, kw_only=True)
class HeaterHistory:
    """One heater with its visits and the outlines of their judgements, oldest first; the last one judged."""

    line: HeaterLine
    cases: tuple[Case, ...]
    outlines: tuple[Outline, ...]
    last: Assessment | None


def heater_history(workshop: Workshop, heater_id: str, now: datetime, *, latest: int = 40) -> HeaterHistory:
    """A heater and its `latest` visits, each judged as the limits stand today. Raises NotFound."""
    line = workshop.book.line(heater_id)
    cases = workshop.book.cases_of(heater_id, latest=latest)
    judged, shelf = workshop.judged, workshop.shelf
    return HeaterHistory(
        line=line,
        cases=cases,
        outlines=judged.outlines(cases, shelf, now),
        last=judged.assessments(cases[-1:], shelf, now)[0] if cases else None,
    )
